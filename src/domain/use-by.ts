/**
 * Use-by from a life rule. Why its own file: the anchor (what the days are counted from) and the day-one rule (whether that
 * day counts) differ by country and by limit, so both are data; and a use-by date's last moment is the end of that day at
 * the site, which is not 24 hours after the day before when the clocks change.
 *
 * An end is an exclusive instant: the food is in date while now < endsAtMs.
 *
 * Refusals: `anchor-missing` (the event that the life is counted from is not recorded), `life-missing` (the rule gives
 * neither days nor hours), `use-by-later-than-computed` (a hand-set use-by may only be earlier).
 */
import { DateTime } from 'luxon';

/** What a life is counted from. Anchors survive opening, re-bagging and repacking. */
export type LifeAnchor = 'end-of-cooking' | 'first-seal' | 'thaw-start' | 'opening' | 'production';

/** Whether the anchor's own day is the first of the days. */
export type DayOneRule = 'anchor-day-is-day-one' | 'day-after-is-day-one';

/** A life in whole days, in hours, or both (the earlier end rules). */
export interface LifeRule {
  lifeDays?: number | undefined;
  lifeH?: number | undefined;
  anchor: LifeAnchor;
  dayOne: DayOneRule;
}

/** When the anchors happened, in epoch milliseconds. */
export interface LifeAnchorsMs {
  endOfCooking?: number | undefined;
  firstSeal?: number | undefined;
  thawStart?: number | undefined;
  opening?: number | undefined;
  production?: number | undefined;
}

/** `date` is the site's calendar date when the end is the end of a day; null when hours rule and the time must be shown. */
export interface UseBy {
  date: string | null;
  endsAtMs: number;
  anchor: LifeAnchor;
}

const ANCHOR_FIELD = {
  'end-of-cooking': 'endOfCooking',
  'first-seal': 'firstSeal',
  'thaw-start': 'thawStart',
  opening: 'opening',
  production: 'production',
} as const satisfies Record<LifeAnchor, keyof LifeAnchorsMs>;

const HOUR_MS = 3_600_000;

function atSite(ms: number, zone: string): DateTime<true> {
  const local = DateTime.fromMillis(ms, { zone });
  if (!local.isValid) throw new RangeError(`No such time at no such place: ${ms} ms in zone ${zone}`);
  return local;
}

/** First moment of a day. Where the clocks go back at midnight that moment comes twice: the first one counts. */
function startOfDayMs(day: DateTime<true>): number {
  const start = day.startOf('day');
  const anHourBefore = start.minus({ hours: 1 });
  return (anHourBefore.toISODate() === start.toISODate() ? anHourBefore : start).toMillis();
}

/**
 * The use-by that a rule gives.
 * Days: with `anchor-day-is-day-one`, N days end with the anchor's local date + N - 1; else with + N.
 * Hours: an instant, whatever the wall clock does meanwhile.
 * @param zone IANA time zone of the site
 * @throws RangeError on an unknown zone, on days that are not whole or below one, on hours not above zero
 */
export function useByFrom(
  rule: LifeRule,
  anchors: LifeAnchorsMs,
  zone: string,
): UseBy | { refusal: 'anchor-missing' | 'life-missing' } {
  const { lifeDays, lifeH, anchor, dayOne } = rule;
  if (lifeDays !== undefined && !(Number.isInteger(lifeDays) && lifeDays >= 1)) {
    throw new RangeError(`A life in days is a whole number of at least one, not ${lifeDays}`);
  }
  if (lifeH !== undefined && !(Number.isFinite(lifeH) && lifeH > 0)) {
    throw new RangeError(`A life in hours is above zero, not ${lifeH}`);
  }
  const anchorMs = anchors[ANCHOR_FIELD[anchor]];
  if (anchorMs === undefined) return { refusal: 'anchor-missing' };

  const ends: UseBy[] = [];
  if (lifeDays !== undefined) {
    // Noon exists on every day everywhere; adding days to it never lands in a gap.
    const anchorNoon = atSite(anchorMs, zone).set({ hour: 12, minute: 0, second: 0, millisecond: 0 });
    const lastDay = anchorNoon.plus({ days: dayOne === 'anchor-day-is-day-one' ? lifeDays - 1 : lifeDays });
    ends.push({ date: lastDay.toISODate(), endsAtMs: startOfDayMs(lastDay.plus({ days: 1 })), anchor });
  }
  if (lifeH !== undefined) {
    const endsAtMs = Math.floor(anchorMs + lifeH * HOUR_MS);
    ends.push({ date: dateEndingAt(endsAtMs, zone), endsAtMs, anchor });
  }
  const [first, second] = ends;
  if (!first) return { refusal: 'life-missing' };
  return second && second.endsAtMs < first.endsAtMs ? second : first;
}

/** The date whose last moment at the site is this end, as YYYY-MM-DD; null when the end falls within a day. */
export function dateEndingAt(endsAtMs: number, zone: string): string | null {
  const lastDate = atSite(endsAtMs - 1, zone).toISODate();
  return atSite(endsAtMs, zone).toISODate() > lastDate ? lastDate : null;
}

/** What caps a life, with the words to show beside it. */
export interface CappedUseBy {
  endsAtMs: number;
  /** `own` when the lot's own rule gave the end, else the input whose end it is. */
  ruledBy: { kind: 'own' } | { kind: 'input'; lotCode: string };
  why: 'own-life' | 'kill-step-since-inputs' | 'shortest-dated-input';
}

/**
 * No output outlives its shortest-dated input, unless a passing kill step lies between (the inputs' ends then do not
 * count). At a tie the lot's own life rules; among inputs the lot code that sorts first is named.
 * @param own the end by the lot's own rule
 * @param inputs the ends of what went in
 */
export function capByInputs(
  own: { endsAtMs: number },
  inputs: readonly { lotCode: string; endsAtMs: number }[],
  killStepBetween: boolean,
): CappedUseBy {
  const [shortest] = [...inputs].sort((a, b) => a.endsAtMs - b.endsAtMs || (a.lotCode < b.lotCode ? -1 : 1));
  if (!shortest || shortest.endsAtMs >= own.endsAtMs) {
    return { endsAtMs: own.endsAtMs, ruledBy: { kind: 'own' }, why: 'own-life' };
  }
  if (killStepBetween) return { endsAtMs: own.endsAtMs, ruledBy: { kind: 'own' }, why: 'kill-step-since-inputs' };
  return {
    endsAtMs: shortest.endsAtMs,
    ruledBy: { kind: 'input', lotCode: shortest.lotCode },
    why: 'shortest-dated-input',
  };
}

/** A person may set an earlier end than the computed one, or the same; never a later one. Ends in epoch milliseconds. */
export function overrideEarlier(
  currentEndsAtMs: number,
  wantedEndsAtMs: number,
): { endsAtMs: number } | { refusal: 'use-by-later-than-computed' } {
  return wantedEndsAtMs <= currentEndsAtMs ? { endsAtMs: wantedEndsAtMs } : { refusal: 'use-by-later-than-computed' };
}

/**
 * An end as people read it at the site: `2026-11-29` when it is the end of that day, else `2026-11-29 14:30`, rounded down
 * to the minute. In the hour that comes twice when clocks go back, the offset is added, as in `2026-10-25 01:30 UTC+1`.
 */
export function formatUseBy(endsAtMs: number, zone: string): string {
  const date = dateEndingAt(endsAtMs, zone);
  if (date !== null) return date;
  const end = atSite(endsAtMs, zone);
  const text = end.toFormat('yyyy-MM-dd HH:mm');
  return end.getPossibleOffsets().length > 1 ? `${text} ${end.toFormat("'UTC'Z")}` : text;
}
