/**
 * Excursions: stretches outside a subject's limits that last longer than its delay (a door that opens is none). They follow from the days' segments
 * of the air alone, so the order in which readings came changes none of them.
 */
import type { Segment } from './shapes.ts';

/** One day, or a part of it, with the limits of that day. */
export interface WatchedStretch {
  readonly segments: readonly Segment[];
  readonly upperCentiC: number;
  readonly lowerCentiC: number | null;
  /** what is assumed where nobody looked is no excursion; null: nothing is */
  readonly assumedCentiC: number | null;
  readonly delayMs: number;
}

type Side = 'above' | 'below';

export interface Excursion {
  readonly side: Side;
  /** the limit and the delay that held when it began */
  readonly limitCentiC: number;
  readonly delayMs: number;
  readonly startMs: number;
  /** null: it goes on in the last reading that is known */
  readonly endMs: number | null;
  /** up to where it is known */
  readonly seenToMs: number;
  /** the warmest, or with `below` the coldest */
  readonly peakCentiC: number;
  readonly peakAtMs: number;
  readonly outsideMs: number;
  /** hundredths of a degree beyond the limit, times milliseconds */
  readonly areaCentiMs: number;
  /** part of outsideMs in which nothing was seen */
  readonly unmonitoredMs: number;
  /** without readings whose time is in doubt it would be no excursion */
  readonly suspected: boolean;
}

/** Degrees beyond the limit times minutes, two decimals. */
export function areaCMin(areaCentiMs: number): number {
  return Math.round(areaCentiMs / 60_000) / 100;
}

interface Going {
  readonly side: Side;
  readonly limitCentiC: number;
  readonly delayMs: number;
  readonly startMs: number;
  toMs: number;
  peakCentiC: number;
  peakAtMs: number;
  areaCentiMs: number;
  unmonitoredMs: number;
  sureMs: number;
  longestSureMs: number;
}

/** How far beyond the limit; null when it is within. */
function beyond(side: Side, one: Pick<Segment, 'centiC' | 'monitored'>, stretch: WatchedStretch): number | null {
  const { centiC } = one;
  if (!one.monitored && stretch.assumedCentiC !== null && centiC <= stretch.assumedCentiC) return null;
  if (side === 'above') return centiC > stretch.upperCentiC ? centiC - stretch.upperCentiC : null;
  if (stretch.lowerCentiC === null || centiC >= stretch.lowerCentiC) return null;
  return stretch.lowerCentiC - centiC;
}

function begin(side: Side, one: Segment, stretch: WatchedStretch): Going {
  return {
    side,
    limitCentiC: side === 'above' ? stretch.upperCentiC : (stretch.lowerCentiC as number),
    delayMs: stretch.delayMs,
    startMs: one.fromMs,
    toMs: one.fromMs,
    peakCentiC: one.centiC,
    peakAtMs: one.fromMs,
    areaCentiMs: 0,
    unmonitoredMs: 0,
    sureMs: 0,
    longestSureMs: 0,
  };
}

function goOn(going: Going, one: Segment, byCentiC: number): void {
  const spanMs = one.toMs - one.fromMs;
  const more = going.side === 'above' ? one.centiC > going.peakCentiC : one.centiC < going.peakCentiC;
  if (more) {
    going.peakCentiC = one.centiC;
    going.peakAtMs = one.fromMs;
  }
  going.toMs = one.toMs;
  going.areaCentiMs += byCentiC * spanMs;
  if (!one.monitored) going.unmonitoredMs += spanMs;
  going.sureMs = one.doubt ? 0 : going.sureMs + spanMs;
  going.longestSureMs = Math.max(going.longestSureMs, going.sureMs);
}

function finish(going: Going, open: boolean): Excursion | null {
  const outsideMs = going.toMs - going.startMs;
  if (outsideMs <= going.delayMs) return null;
  return {
    side: going.side,
    limitCentiC: going.limitCentiC,
    delayMs: going.delayMs,
    startMs: going.startMs,
    endMs: open ? null : going.toMs,
    seenToMs: going.toMs,
    peakCentiC: going.peakCentiC,
    peakAtMs: going.peakAtMs,
    outsideMs,
    areaCentiMs: going.areaCentiMs,
    unmonitoredMs: going.unmonitoredMs,
    suspected: going.longestSureMs <= going.delayMs,
  };
}

interface Heard {
  readonly atMs: number;
  readonly centiC: number;
}

function walk(side: Side, stretches: readonly WatchedStretch[], last: Heard | null): Excursion[] {
  const out: Excursion[] = [];
  const walker: { going: Going | null } = { going: null };
  const close = (open: boolean): void => {
    const found = walker.going && finish(walker.going, open);
    if (found) out.push(found);
    walker.going = null;
  };
  for (const stretch of stretches) {
    for (const one of stretch.segments) {
      if (walker.going && walker.going.toMs !== one.fromMs) close(false);
      const byCentiC = beyond(side, one, stretch);
      if (byCentiC === null) close(false);
      else {
        walker.going ??= begin(side, one, stretch);
        goOn(walker.going, one, byCentiC);
      }
    }
  }
  const end = stretches.at(-1);
  // The stretch before the last reading may count at the warmer value before it: whether it goes on is for that reading to say.
  const isOut = end !== undefined && last !== null && beyond(side, { ...last, monitored: true }, end) !== null;
  close(isOut && walker.going?.toMs === last.atMs);
  return out;
}

/** Whether it is beyond either limit. */
export function isOutside(one: Segment, stretch: WatchedStretch): boolean {
  return beyond('above', one, stretch) !== null || beyond('below', one, stretch) !== null;
}

/**
 * All excursions of stretches that follow each other, by start.
 * @param last the last reading that is known, where the stretches end with it
 */
export function excursionsOf(stretches: readonly WatchedStretch[], last: Heard | null): Excursion[] {
  return [...walk('above', stretches, last), ...walk('below', stretches, last)].sort((a, b) => a.startMs - b.startMs);
}
