/**
 * The temperature that counts for food at a place, a vehicle or a crate. Temperatures are whole hundredths of a degree Celsius (centiC), times
 * whole milliseconds since the Unix epoch, so every sum is exact and the same in any order.
 */

export const DAY_MS = 86_400_000;
const MINUTE_MS = 60_000;

/** What sensors last said counts together when they said it within an hour of each other (or within the gap, if that is less). */
export const SEEN_BACK_MS = 60 * MINUTE_MS;

/** One value that one sensor gave. */
export interface Reading {
  readonly atMs: number;
  readonly centiC: number;
  /** the sensor's own time is in doubt */
  readonly doubt: boolean;
}

/** One sensor while it was at the subject. Sensors between packs are no sources: they are evidence for a person and count for nothing. */
export interface Source {
  readonly kind: 'air' | 'simulant';
  /** by time; several values of one time are a conflict, of which the warmest counts */
  readonly readings: readonly Reading[];
}

export type Between = 'step' | 'line' | 'warmer-end';

/** How a subject is watched on a day, and what is assumed where nobody looked. */
export interface Monitoring {
  readonly how: 'sensor' | 'by-hand' | 'none';
  readonly upperCentiC: number;
  readonly lowerCentiC: number | null;
  /** what counts where nothing was seen; the upper limit when null */
  readonly assumedCentiC: number | null;
  readonly between: Between;
  /** more time than this without a reading is unmonitored */
  readonly gapMs: number;
  /** warmer than the limit for no longer than this is no excursion */
  readonly delayMs: number;
  /** how long air must be warm before food is; 0 unless somebody validated it */
  readonly lagMs: number;
  /** 0: the default of the place's kind */
  readonly version: number;
}

/** A stretch at one temperature. Lists of them are by time, without holes, and neighbours differ. */
export interface Segment {
  readonly fromMs: number;
  readonly toMs: number;
  readonly centiC: number;
  readonly monitored: boolean;
  /** rests on a reading whose time is in doubt */
  readonly doubt: boolean;
}

/** What counts where nothing was seen: at least the upper limit, and more where more is assumed or was seen last. */
export function unseenLevel(monitoring: Monitoring, seenCentiC: number | null): number {
  const assumed = monitoring.assumedCentiC ?? monitoring.upperCentiC;
  const floor = monitoring.how === 'none' ? assumed : Math.max(assumed, monitoring.upperCentiC);
  return Math.max(floor, seenCentiC ?? floor);
}

/** Adds a stretch to a list; one that goes on as the last one was makes that longer. Without length it adds nothing. */
export function append(segments: Segment[], next: Segment): void {
  if (next.toMs <= next.fromMs) return;
  const last = segments.at(-1);
  const same =
    last?.toMs === next.fromMs &&
    last.centiC === next.centiC &&
    last.monitored === next.monitored &&
    last.doubt === next.doubt;
  if (same) segments[segments.length - 1] = { ...last, toMs: next.toMs };
  else segments.push(next);
}

/** The part of a list that lies in [fromMs, toMs). */
export function cut(segments: readonly Segment[], fromMs: number, toMs: number): Segment[] {
  const out: Segment[] = [];
  for (const one of segments) {
    if (one.toMs <= fromMs || one.fromMs >= toMs) continue;
    out.push({ ...one, fromMs: Math.max(one.fromMs, fromMs), toMs: Math.min(one.toMs, toMs) });
  }
  return out;
}
