/** One UTC day of one subject, from the readings of its sensors. */
import { foodOf, warmerOf } from './lag.ts';
import { seenAt, segmentsOf } from './segments.ts';
import { cut, DAY_MS, SEEN_BACK_MS, type Monitoring, type Reading, type Segment, type Source } from './shapes.ts';
import { sumsOf, type Sums } from './sums.ts';

/** Raised when the same readings come to something else than before: every day is computed anew. */
export const RULE_VERSION = 1;

export interface DayRecord {
  /** what food there was at */
  readonly segments: readonly Segment[];
  /** what the sensors said, without lag; null when that is the same */
  readonly air: readonly Segment[] | null;
  readonly sums: Sums;
  /** ms of the day of its last reading */
  readonly lastMs: number;
  /** what had been seen last at its end */
  readonly seenCentiC: number;
  /** ms of the day when that was; below zero: on the day before */
  readonly seenMs: number;
  /** what the day before takes from this one, and what the next one does: while these stay, the neighbours stay */
  readonly edgeFirst: string;
  readonly edgeLast: string;
}

/** The time from which a day needs segments of the air. */
function airFromMs(dayStartMs: number, monitoring: Monitoring): number {
  return dayStartMs - 2 * monitoring.lagMs;
}

/** How far before the first moment of air every reading is needed, as long as there is one; else from the newest one before, by SEEN_BACK_MS. */
function reachMs(monitoring: Monitoring): number {
  return monitoring.gapMs + SEEN_BACK_MS;
}

/** Air and food of [dayStartMs, toMs). */
export function foodAndAir(
  sources: readonly Source[],
  monitoring: Monitoring,
  dayStartMs: number,
  toMs = dayStartMs + DAY_MS,
): { food: Segment[]; air: Segment[] } {
  if (monitoring.lagMs === 0) {
    const air = segmentsOf(sources, monitoring, dayStartMs, toMs);
    return { food: air, air };
  }
  const fromMs = airFromMs(dayStartMs, monitoring);
  const inAir = segmentsOf(sources, monitoring, fromMs, toMs, (one) => one.kind === 'air');
  const food = foodOf(inAir, monitoring.lagMs);
  if (sources.every((one) => one.kind === 'air')) return { food, air: cut(inAir, dayStartMs, toMs) };
  const inSimulant = segmentsOf(sources, monitoring, dayStartMs, toMs, (one) => one.kind === 'simulant');
  return { food: warmerOf(food, inSimulant), air: segmentsOf(sources, monitoring, dayStartMs, toMs) };
}

/** Sources without readings there leave no trace: how many sensors were asked about changes nothing. */
const edgeOf = (sources: readonly Source[], fromMs: number, toMs: number): unknown =>
  sources
    .map((source) =>
      source.readings
        .filter((one) => one.atMs >= fromMs && one.atMs < toMs)
        .map((one) => [one.atMs - fromMs, one.centiC, Number(one.doubt)]),
    )
    .filter((readings) => readings.length > 0);

/** How much of a day can matter to the days beside it, by their monitoring as well as its own. */
export function edgeReachMs(monitorings: readonly Monitoring[]): number {
  return Math.max(...monitorings.map((one) => reachMs(one) + 2 * one.lagMs));
}

/**
 * The day that begins at dayStartMs. Null when no reading is on it: such a day follows from its neighbours and is not kept.
 * `sources` as segmentsOf wants them for the day and two lags before it. `beside`: how the days before and after are watched.
 */
export function dayRecord(
  sources: readonly Source[],
  monitoring: Monitoring,
  dayStartMs: number,
  beside: readonly Monitoring[] = [],
): DayRecord | null {
  const endMs = dayStartMs + DAY_MS;
  let lastAtMs = -1;
  for (const source of sources) {
    for (const one of source.readings) {
      if (one.atMs >= dayStartMs && one.atMs < endMs) lastAtMs = Math.max(lastAtMs, one.atMs);
    }
  }
  if (lastAtMs < 0) return null;
  const { food, air } = foodAndAir(sources, monitoring, dayStartMs);
  const edgeMs = Math.min(DAY_MS, edgeReachMs([monitoring, ...beside]));
  const { centiC: seenCentiC, atMs: seenAtMs } = seenAt(sources, monitoring, endMs - 1) as Reading;
  const lagMs = Math.max(...[monitoring, ...beside].map((one) => one.lagMs));
  const tail = lagMs === 0 ? [] : cut(air, endMs - 2 * lagMs, endMs);
  return {
    segments: food,
    air: monitoring.lagMs === 0 ? null : air,
    sums: sumsOf(food, monitoring.upperCentiC),
    lastMs: lastAtMs - dayStartMs,
    seenCentiC,
    seenMs: seenAtMs - dayStartMs,
    edgeFirst: JSON.stringify(edgeOf(sources, dayStartMs, dayStartMs + edgeMs)),
    edgeLast: JSON.stringify([edgeOf(sources, endMs - edgeMs, endMs), seenCentiC, tail]),
  };
}

/**
 * The readings that a day depends on, out of more: from what was seen last when its air begins, to what the days beside it take. So that many days
 * are computed from one load.
 */
export function readingsFor(
  sources: readonly Source[],
  monitoring: Monitoring,
  dayStartMs: number,
  beside: readonly Monitoring[],
): Source[] {
  const airMs = airFromMs(dayStartMs, monitoring);
  let seenMs = -Infinity;
  for (const source of sources) {
    for (const one of source.readings) if (one.atMs <= airMs && one.atMs > seenMs) seenMs = one.atMs;
  }
  const sinceMs = Math.min(seenMs, airMs - monitoring.gapMs) - SEEN_BACK_MS;
  const toMs = dayStartMs + DAY_MS + edgeReachMs([monitoring, ...beside]);
  return sources.map((source) => ({
    kind: source.kind,
    readings: source.readings.filter((one) => one.atMs >= sinceMs && one.atMs <= toMs),
  }));
}
