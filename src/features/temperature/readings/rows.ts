/** Collected readings as rows of PostgreSQL's binary COPY, each once and in key order. */
import { isTimeDoubted } from '../../../domain/readings.ts';
import type { Collected } from './collect.ts';

/** Some of the collected readings of one sensor: indexes into the columns. */
interface Bucket {
  readonly sensorNo: number;
  readonly at: number[];
}

export interface Rows {
  readonly count: number;
  /** the same sensor, time and temperature more than once in this upload */
  readonly repeated: number;
  /** another temperature at the same time in this upload, the first not counted */
  readonly contradicting: number;
  readonly doubted: number;
  readonly data: Buffer;
  /** by sensor, first and last time */
  readonly spans: readonly { readonly sensorNo: number; readonly fromMs: number; readonly toMs: number }[];
}

/** https://www.postgresql.org/docs/current/sql-copy.html, "Binary Format": signature, no flags, no extension. */
const HEAD = Buffer.from('5047434f50590aff0d0a00' + '00000000' + '00000000', 'hex');
/** 4 columns: their number, then each with its length: int4, timestamptz (int8), int2, bool */
const ROW_BYTES = 2 + (4 + 4) + (4 + 8) + (4 + 2) + (4 + 1);
const TAIL_BYTES = 2;
/** timestamptz counts microseconds from 1 January 2000, UTC */
const PG_EPOCH_MS = 946_684_800_000;
const TWO_32 = 2 ** 32;

/** Keys in one order for everybody, so that two uploads of the same readings wait for each other instead of deadlocking. */
function bucketsOf(collected: Collected, sensorNoOf: Int32Array): Bucket[] {
  const buckets = new Map<number, Bucket>();
  const byName = new Map<number, number[]>();
  for (let at = 0; at < collected.count; at += 1) {
    const name = collected.nameNo[at] ?? 0;
    let list = byName.get(name);
    if (list === undefined) {
      const sensorNo = sensorNoOf[name] ?? 0;
      if (sensorNo === 0) continue;
      // A sensor may be written by its code and by its id.
      const bucket = buckets.get(sensorNo) ?? { sensorNo, at: [] };
      buckets.set(sensorNo, bucket);
      list = bucket.at;
      byName.set(name, list);
    }
    list.push(at);
  }
  const sorted = [...buckets.values()].sort((a, b) => a.sensorNo - b.sensorNo);
  for (const { at } of sorted) sortByKey(at, collected);
  return sorted;
}

function sortByKey(list: number[], { atMs, centiC }: Collected): void {
  const compare = (a: number, b: number): number =>
    (atMs[a] ?? 0) - (atMs[b] ?? 0) || (centiC[a] ?? 0) - (centiC[b] ?? 0);
  for (let at = 1; at < list.length; at += 1) {
    // Loggers write in time order: mostly there is nothing to sort.
    if (compare(list[at - 1] ?? 0, list[at] ?? 0) > 0) {
      list.sort(compare);
      return;
    }
  }
}

/**
 * @param sensorNoOf by index into `names`; 0 for a sensor that is not known
 * @param clock when it was received, and the sender's clock against ours
 */
export function rowsOf(
  collected: Collected,
  sensorNoOf: Int32Array,
  clock: { readonly receivedAtMs: number; readonly clockOffsetMs: number | null },
): Rows {
  const data = Buffer.allocUnsafe(HEAD.length + collected.count * ROW_BYTES + TAIL_BYTES);
  let end = HEAD.copy(data);
  let [count, repeated, contradicting, doubted] = [0, 0, 0, 0];
  const spans: { sensorNo: number; fromMs: number; toMs: number }[] = [];
  for (const { sensorNo, at: list } of bucketsOf(collected, sensorNoOf)) {
    let [lastMs, lastCenti, fromMs] = [Number.NaN, Number.NaN, Number.NaN];
    for (const at of list) {
      const [atMs, centiC] = [collected.atMs[at] ?? 0, collected.centiC[at] ?? 0];
      if (atMs === lastMs) {
        if (centiC === lastCenti) {
          repeated += 1;
          continue;
        }
        contradicting += 1;
      }
      if (Number.isNaN(fromMs)) fromMs = atMs;
      [lastMs, lastCenti] = [atMs, centiC];
      const isDoubted = isTimeDoubted(atMs, clock.receivedAtMs, clock.clockOffsetMs);
      if (isDoubted) doubted += 1;
      end = writeRow(data, end, sensorNo, atMs, centiC, isDoubted);
      count += 1;
    }
    spans.push({ sensorNo, fromMs, toMs: lastMs });
  }
  end = data.writeInt16BE(-1, end);
  return { count, repeated, contradicting, doubted, data: data.subarray(0, end), spans };
}

function writeRow(
  data: Buffer,
  start: number,
  sensorNo: number,
  atMs: number,
  centiC: number,
  isDoubted: boolean,
): number {
  const micros = (atMs - PG_EPOCH_MS) * 1000;
  let end = data.writeInt16BE(4, start);
  end = data.writeInt32BE(4, end);
  end = data.writeInt32BE(sensorNo, end);
  end = data.writeInt32BE(8, end);
  // In two halves: a BigInt for each row would cost more than the rest.
  end = data.writeInt32BE(Math.floor(micros / TWO_32), end);
  end = data.writeUInt32BE(micros - Math.floor(micros / TWO_32) * TWO_32, end);
  end = data.writeInt32BE(2, end);
  end = data.writeInt16BE(centiC, end);
  end = data.writeInt32BE(1, end);
  return data.writeUInt8(isDoubted ? 1 : 0, end);
}
