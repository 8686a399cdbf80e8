/**
 * What food went through while it was at some subjects: whole days from their sums, the first and the last day of a stay from their
 * segments. Days that wait to be computed, and those beside them, are computed on the spot, so the answer never depends on whether the worker
 * has been there yet.
 */
import { append, DAY_MS, unseenLevel, type Monitoring, type Segment } from '../../../domain/exposure/shapes.ts';
import { createAdder, totalMs, type Adder, type Sums } from '../../../domain/exposure/sums.ts';
import { defaultMonitoring } from '../../../domain/exposure/defaults.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { dayText } from '../../../domain/readings.ts';
import { loadDays, type KnownDays, type SubjectDays } from './known-days.ts';

export interface SubjectInterval {
  /** of subjectOf in domain/readings.ts; null: nobody knows where, counted as an unmonitored vehicle */
  readonly subject: string | null;
  readonly fromMs: number;
  readonly toMs: number;
  /**
   * The food is still there and toMs is now: time since the last reading, up to the gap, is not missing but has yet to be heard of, and counts at
   * what was seen last.
   */
  readonly ongoing?: boolean;
}

export interface Exposure extends Sums {
  readonly unmonitoredMs: number;
}

/** A stretch with what the subject's own limit was then. */
type Visit = (segment: Segment, ownCentiC: number) => void;

/** Whole days may be added by their sums. */
interface Taker {
  segment: Visit;
  day?: (sums: Sums) => void;
}

/** Days between those with readings: what was seen last goes on. Null where a lag reaches into the day, and readings are needed. */
function silentDay(days: SubjectDays, day: number, monitoring: Monitoring): Segment | null {
  const before = days.lastBefore(day);
  if (monitoring.lagMs > 0 && before !== null && before.day === day - 1) return null;
  const centiC = unseenLevel(monitoring, before?.seenCentiC ?? null);
  return { fromMs: day * DAY_MS, toMs: (day + 1) * DAY_MS, centiC, monitored: false, doubt: false };
}

interface Tail {
  /** the last reading of all */
  readonly fromMs: number;
  /** the warmest of what each sensor said last, and when it was said: until now that sensor has yet to be heard of */
  readonly centiC: number;
  readonly seenAtMs: number;
}

/** Since a sensor was last heard it counts at what it said, also where another is heard meanwhile. */
function raised(tail: Tail, visit: (segment: Segment) => void): (segment: Segment) => void {
  return (segment) => {
    const fromMs = Math.max(segment.fromMs, Math.min(segment.toMs, tail.seenAtMs));
    if (fromMs > segment.fromMs) visit({ ...segment, toMs: fromMs });
    if (segment.toMs > fromMs) visit({ ...segment, fromMs, centiC: Math.max(segment.centiC, tail.centiC) });
  };
}

/** The stretch after the last reading of all, as far as it has yet to be heard of. */
function heardTail(one: SubjectInterval, days: SubjectDays, day: number): Tail | null {
  const monitoring = days.watch.on(dayText(day));
  const last = days.lastBefore(day + 1);
  if (!one.ongoing || last === null || days.isLaterThan(day) || monitoring.lagMs > 0 || monitoring.how === 'none') {
    return null;
  }
  const lastAtMs = last.day * DAY_MS + last.lastMs;
  if (one.toMs <= lastAtMs || one.toMs - lastAtMs > monitoring.gapMs) return null;
  return { fromMs: lastAtMs, seenAtMs: last.day * DAY_MS + last.seenMs, centiC: last.seenCentiC };
}

function walkDay(one: SubjectInterval, days: SubjectDays, day: number, taker: Taker): void {
  const [startMs, endMs] = [day * DAY_MS, (day + 1) * DAY_MS];
  const [fromMs, toMs] = [Math.max(one.fromMs, startMs), Math.min(one.toMs, endMs)];
  const monitoring = days.watch.on(dayText(day));
  const visit = (segment: Segment): void => taker.segment(segment, monitoring.upperCentiC);
  const tail = heardTail(one, days, day);
  const sums = days.sumsOf(day);
  if (sums && taker.day && !tail && fromMs === startMs && toMs === endMs) {
    taker.day(sums);
    return;
  }
  const untilMs = tail ? Math.max(fromMs, Math.min(toMs, tail.fromMs)) : toMs;
  const silent = days.segmentsIn(day, fromMs, untilMs, tail ? raised(tail, visit) : visit)
    ? null
    : silentDay(days, day, monitoring);
  if (silent && untilMs > fromMs) visit({ ...silent, fromMs, toMs: untilMs });
  if (tail && toMs > untilMs) {
    visit({ fromMs: untilMs, toMs, centiC: tail.centiC, monitored: true, doubt: false });
  }
}

function walk(one: SubjectInterval, known: KnownDays, taker: Taker): void {
  if (one.toMs <= one.fromMs) return;
  const days = one.subject === null ? undefined : known.get(one.subject);
  if (!days) {
    const monitoring = defaultMonitoring('vehicle');
    const segment = { fromMs: one.fromMs, toMs: one.toMs, centiC: unseenLevel(monitoring, null) };
    taker.segment({ ...segment, monitored: false, doubt: false }, monitoring.upperCentiC);
    return;
  }
  for (let day = Math.floor(one.fromMs / DAY_MS); day * DAY_MS < one.toMs; day += 1) walkDay(one, days, day, taker);
}

function exposureBy(adder: Adder, intervals: readonly SubjectInterval[], known: KnownDays): Exposure {
  const taker: Taker = {
    segment: (segment, ownCentiC) =>
      adder.segment(segment.toMs - segment.fromMs, segment.centiC, segment.monitored, ownCentiC),
    day: (sums) => adder.sums(sums),
  };
  for (const one of intervals) walk(one, known, taker);
  const sums = adder.take();
  return { ...sums, unmonitoredMs: totalMs(sums.unmonitored) };
}

/**
 * One exposure for each list of stays. The stays of a list follow each other in time; runs are joined across them.
 * Many lots that were at few places cost one load.
 */
export async function exposuresOf(tx: Tx, lists: readonly (readonly SubjectInterval[])[]): Promise<Exposure[]> {
  const known = await loadDays(tx, lists.flat());
  const adder = createAdder();
  return lists.map((intervals) => exposureBy(adder, intervals, known));
}

export async function exposureOf(tx: Tx, intervals: readonly SubjectInterval[]): Promise<Exposure> {
  const [exposure] = await exposuresOf(tx, [intervals]);
  return exposure as Exposure;
}

/** The same as stretches, for pictures and for rules and models that need the order. Many lists cost one load. */
export async function segmentsOfEach(tx: Tx, lists: readonly (readonly SubjectInterval[])[]): Promise<Segment[][]> {
  const known = await loadDays(tx, lists.flat(), 'every-track');
  return lists.map((intervals) => {
    const out: Segment[] = [];
    for (const one of intervals) walk(one, known, { segment: (segment) => append(out, segment) });
    return out;
  });
}

export async function exposureSegments(tx: Tx, intervals: readonly SubjectInterval[]): Promise<Segment[]> {
  const [segments] = await segmentsOfEach(tx, [intervals]);
  return segments as Segment[];
}
