/**
 * From readings to the temperature that counts at each moment.
 *
 * The warmest of conflicting values counts, and of several sensors the warmest that is being heard. Between two readings holds what the place's
 * monitoring says: the first of them (step), the line between them (in steps of a minute, each at its warmer end), or the warmer of the
 * two. More time without readings than the gap is unmonitored, from the last reading to the next one, and counts at the upper limit or at what was seen last,
 * whichever is warmer; so does the time before the first reading and after the last one.
 */
import {
  append,
  SEEN_BACK_MS,
  unseenLevel,
  type Monitoring,
  type Reading,
  type Segment,
  type Source,
} from './shapes.ts';

const STEP_MS = 60_000;

/** A stretch that one sensor covers. */
interface Piece {
  readonly fromMs: number;
  readonly toMs: number;
  readonly centiC: number;
  readonly doubt: boolean;
}

/** One reading a time: the warmest; of the same value that with the surer time. Sorts what is not in order. */
function oneEach(readings: readonly Reading[]): readonly Reading[] {
  // Mostly they are in order and agree.
  if (readings.every((one, at) => at === 0 || (readings[at - 1] as Reading).atMs < one.atMs)) return readings;
  const sorted = [...readings].sort(
    (a, b) => a.atMs - b.atMs || b.centiC - a.centiC || Number(a.doubt) - Number(b.doubt),
  );
  return sorted.filter((one, index) => index === 0 || sorted[index - 1]?.atMs !== one.atMs);
}

/** Rounded up: the warmer side. */
function lineAt(a: Reading, b: Reading, atMs: number): number {
  return Math.ceil(a.centiC + ((b.centiC - a.centiC) * (atMs - a.atMs)) / (b.atMs - a.atMs));
}

function piecesBetween(a: Reading, b: Reading, monitoring: Monitoring, into: Piece[]): void {
  const doubt = a.doubt || b.doubt;
  if (monitoring.between === 'step') {
    into.push({ fromMs: a.atMs, toMs: b.atMs, centiC: a.centiC, doubt });
    return;
  }
  if (monitoring.between === 'warmer-end' || a.centiC === b.centiC) {
    into.push({ fromMs: a.atMs, toMs: b.atMs, centiC: Math.max(a.centiC, b.centiC), doubt });
    return;
  }
  let fromMs = a.atMs;
  while (fromMs < b.atMs) {
    const toMs = Math.min(b.atMs, (Math.floor(fromMs / STEP_MS) + 1) * STEP_MS);
    into.push({ fromMs, toMs, centiC: lineAt(a, b, b.centiC > a.centiC ? toMs : fromMs), doubt });
    fromMs = toMs;
  }
}

interface Covered {
  readonly readings: readonly Reading[];
  readonly pieces: readonly Piece[];
}

function cover(source: Source, monitoring: Monitoring): Covered {
  const readings = oneEach(source.readings);
  const pieces: Piece[] = [];
  for (let index = 1; index < readings.length; index += 1) {
    const [a, b] = [readings[index - 1] as Reading, readings[index] as Reading];
    if (b.atMs - a.atMs <= monitoring.gapMs) piecesBetween(a, b, monitoring, pieces);
  }
  return { readings, pieces };
}

/** Walks one sensor forward in time. */
interface Walker extends Covered {
  piece: number;
  /** how many of its readings are not after the moment */
  heard: number;
}

/** What was seen last: the warmest of what each sensor said last, if that was within SEEN_BACK_MS of the newest of all. */
function lastSeen(walkers: readonly Walker[], gapMs: number): Reading | null {
  const lasts = walkers.flatMap((one) => (one.heard > 0 ? [one.readings[one.heard - 1] as Reading] : []));
  if (lasts.length === 0) return null;
  const newestMs = Math.max(...lasts.map((one) => one.atMs));
  const together = lasts.filter((one) => newestMs - one.atMs <= Math.min(gapMs, SEEN_BACK_MS));
  return together.reduce((warmest, one) => (one.centiC > warmest.centiC ? one : warmest));
}

function advance(walker: Walker, atMs: number): void {
  while (walker.heard < walker.readings.length && (walker.readings[walker.heard] as Reading).atMs <= atMs) {
    walker.heard += 1;
  }
  while (walker.piece < walker.pieces.length && (walker.pieces[walker.piece] as Piece).toMs <= atMs) walker.piece += 1;
}

/** The warmest of the sensors that are heard from at a moment; of equals one whose time is sure. */
function warmestPiece(walkers: readonly Walker[], atMs: number): Piece | null {
  let best: Piece | null = null;
  for (const walker of walkers) {
    const piece = walker.pieces[walker.piece];
    if (piece === undefined || piece.fromMs > atMs) continue;
    if (!best || piece.centiC > best.centiC || (piece.centiC === best.centiC && best.doubt)) best = piece;
  }
  return best;
}

/**
 * The segments of [fromMs, toMs). `sources` must hold every reading from the newest one at or before fromMs less the gap and an hour, to toMs plus
 * the gap; what is older changes nothing.
 * @param counts sources that cover time; the others only tell what was seen last
 */
export function segmentsOf(
  sources: readonly Source[],
  monitoring: Monitoring,
  fromMs: number,
  toMs: number,
  counts: (source: Source) => boolean = () => true,
): Segment[] {
  const walkers: Walker[] = sources.map((one) => {
    const covered = cover(one, monitoring);
    return { ...covered, ...(!counts(one) && { pieces: [] }), piece: 0, heard: 0 };
  });
  const times = new Set([fromMs, toMs]);
  for (const walker of walkers) {
    for (const one of walker.readings) times.add(one.atMs);
    if (monitoring.between === 'line') for (const one of walker.pieces) times.add(one.fromMs);
  }
  const moments = Float64Array.from(times)
    .sort()
    .filter((one) => one >= fromMs && one <= toMs);
  const out: Segment[] = [];
  for (let index = 0; index + 1 < moments.length; index += 1) {
    const [startMs, endMs] = [moments[index] as number, moments[index + 1] as number];
    for (const walker of walkers) advance(walker, startMs);
    const piece = warmestPiece(walkers, startMs);
    if (piece) append(out, { fromMs: startMs, toMs: endMs, centiC: piece.centiC, monitored: true, doubt: piece.doubt });
    else {
      const seen = lastSeen(walkers, monitoring.gapMs);
      const centiC = unseenLevel(monitoring, seen?.centiC ?? null);
      // What the limit alone says rests on no reading.
      const doubt = seen !== null && seen.doubt && centiC === seen.centiC;
      append(out, { fromMs: startMs, toMs: endMs, centiC, monitored: false, doubt });
    }
  }
  return out;
}

/** What was seen last at a moment, and when; null when nothing was. */
export function seenAt(sources: readonly Source[], monitoring: Monitoring, atMs: number): Reading | null {
  const walkers: Walker[] = sources.map((one) => ({ readings: oneEach(one.readings), pieces: [], piece: 0, heard: 0 }));
  for (const walker of walkers) advance(walker, atMs);
  return lastSeen(walkers, monitoring.gapMs);
}
