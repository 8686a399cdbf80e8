/** Segments of one day, packed: seven bytes each, little endian. End in ms of the day (4), hundredths of a degree (2), flags (1). */
import { DAY_MS, type Segment } from './shapes.ts';

const BYTES = 7;
const MONITORED = 1;
const DOUBT = 2;

/** Unpacked, in columns: a part of a day is summed for every lot that came or went on it. */
export interface Track {
  readonly endMs: Int32Array;
  readonly centiC: Int16Array;
  readonly flags: Uint8Array;
}

export function pack(segments: readonly Segment[], dayStartMs: number): Uint8Array {
  const bytes = new Uint8Array(segments.length * BYTES);
  const view = new DataView(bytes.buffer);
  segments.forEach((one, index) => {
    view.setInt32(index * BYTES, one.toMs - dayStartMs, true);
    view.setInt16(index * BYTES + 4, one.centiC, true);
    view.setUint8(index * BYTES + 6, (one.monitored ? MONITORED : 0) | (one.doubt ? DOUBT : 0));
  });
  return bytes;
}

export function unpack(bytes: Uint8Array): Track {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const count = bytes.byteLength / BYTES;
  const track = { endMs: new Int32Array(count), centiC: new Int16Array(count), flags: new Uint8Array(count) };
  for (let index = 0; index < count; index += 1) {
    track.endMs[index] = view.getInt32(index * BYTES, true);
    track.centiC[index] = view.getInt16(index * BYTES + 4, true);
    track.flags[index] = view.getUint8(index * BYTES + 6);
  }
  return track;
}

/** The stretches of [fromMs, toMs) of the day (ms of the day), in order. */
export function eachIn(
  track: Track,
  fromMs: number,
  toMs: number,
  visit: (spanMs: number, centiC: number, monitored: boolean, doubt: boolean, startMs: number) => void,
): void {
  let low = 0;
  let high = track.endMs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((track.endMs[middle] as number) <= fromMs) low = middle + 1;
    else high = middle;
  }
  let startMs = fromMs;
  for (let index = low; index < track.endMs.length && startMs < toMs; index += 1) {
    const endMs = Math.min(track.endMs[index] as number, toMs);
    const flags = track.flags[index] as number;
    visit(endMs - startMs, track.centiC[index] as number, (flags & MONITORED) !== 0, (flags & DOUBT) !== 0, startMs);
    startMs = endMs;
  }
}

/** As a list again, absolute times. */
export function segmentsIn(track: Track, dayStartMs: number, fromMs = 0, toMs = DAY_MS): Segment[] {
  const out: Segment[] = [];
  eachIn(track, fromMs, toMs, (spanMs, centiC, monitored, doubt, startMs) => {
    out.push({ fromMs: dayStartMs + startMs, toMs: dayStartMs + startMs + spanMs, centiC, monitored, doubt });
  });
  return out;
}
