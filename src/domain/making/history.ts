/**
 * Which days speak for a day to come, and what each of them says. A day speaks when something was served or opened on it, or was required.
 * It ran out when, at the site, the booked stock of the item stood at zero or below directly after a posting that took it to service or
 * opened it, or when a pick for a requirement of the day came up short. Then at least what was taken was asked for. Zero after something
 * was thrown away is not running out. Refusal: `history-too-short`.
 */
import { DateTime } from 'luxon';
import { Refused } from '../errors.ts';
import type { SeenDay } from './demand.ts';

export type RanOutWhy = 'stock-at-zero' | 'used-more-than-booked' | 'short-pick';

/** One day of an item at one site, as the books tell it; quantities in the item's unit. */
export interface SiteDay {
  readonly siteName: string;
  /** 'YYYY-MM-DD', the site's */
  readonly date: string;
  /** seen served, not to staff and not given away */
  readonly served: number;
  /** served as counts show it, signed */
  readonly servedDerived: number;
  /** opened, decanted, portioned or regenerated for service */
  readonly opened: number;
  /** came back from service */
  readonly returned: number;
  /** thrown away as over-production or past its date */
  readonly wasted: number;
  /** what stands required, in portions; null: nothing was said */
  readonly requiredPortions: number | null;
  readonly ranOut: readonly RanOutWhy[];
  /** use by count of so many days lies on this one; 1 or less: of this day alone */
  readonly countedDays: number;
}

export interface Day {
  readonly date: string;
  readonly weekday: string;
  readonly served: number;
  readonly servedDerived: number;
  readonly opened: number;
  readonly returned: number;
  readonly wasted: number;
  readonly requiredPortions: number | null;
  /** what it says was asked for, or at least that when it ran out */
  readonly demand: number;
  readonly ranOut: readonly { readonly siteName: string; readonly why: RanOutWhy }[];
  /** null: it counts */
  readonly leftOut: 'counted-over-several-days' | null;
}

export interface ChosenDays {
  readonly kind: 'same-weekday' | 'all-weekdays';
  /** oldest first; days left out are among them */
  readonly days: readonly Day[];
  readonly used: readonly SeenDay[];
}

const FEWEST_DAYS = 5;

export const weekdayOf = (date: string): string =>
  DateTime.fromISO(date, { zone: 'utc' }).setLocale('en-GB').toFormat('cccc');

const sum = (rows: readonly SiteDay[], of: (row: SiteDay) => number): number =>
  rows.reduce((all, row) => all + of(row), 0);

/** Sites of one day together. It ran out when it did at one of them: then more might have been asked for there. */
function dayOf(date: string, rows: readonly SiteDay[]): Day {
  const taken = sum(rows, (row) => row.served + row.servedDerived + row.opened - row.returned);
  const required = rows.filter((row) => row.requiredPortions !== null);
  return {
    date,
    weekday: weekdayOf(date),
    served: sum(rows, (row) => row.served),
    servedDerived: sum(rows, (row) => row.servedDerived),
    opened: sum(rows, (row) => row.opened),
    returned: sum(rows, (row) => row.returned),
    wasted: sum(rows, (row) => row.wasted),
    requiredPortions: required.length === 0 ? null : sum(required, (row) => row.requiredPortions ?? 0),
    demand: Math.max(0, taken),
    ranOut: rows.flatMap(({ siteName, ranOut }) => ranOut.map((why) => ({ siteName, why }))),
    leftOut: null,
  };
}

const speaks = (day: Day): boolean =>
  day.served !== 0 ||
  day.servedDerived !== 0 ||
  day.opened !== 0 ||
  (day.requiredPortions ?? 0) > 0 ||
  day.ranOut.length > 0;

function daysOf(rows: readonly SiteDay[]): Day[] {
  const byDate = new Map<string, SiteDay[]>();
  for (const row of rows) byDate.set(row.date, [...(byDate.get(row.date) ?? []), row]);
  const unclear = new Set(
    rows.flatMap(({ date, countedDays }) =>
      countedDays <= 1
        ? []
        : Array.from({ length: countedDays }, (_, back) =>
            DateTime.fromISO(date, { zone: 'utc' }).minus({ days: back }).toFormat('yyyy-MM-dd'),
          ),
    ),
  );
  return [...byDate.keys()]
    .sort()
    .map((date) => dayOf(date, byDate.get(date) ?? []))
    .map((day): Day => (unclear.has(day.date) ? { ...day, leftOut: 'counted-over-several-days' } : day))
    .filter(speaks);
}

/**
 * The days of the same weekday, or of all weekdays where those are fewer than five.
 * @param rows of the weeks that are looked at, in any order
 * @param date for which it is asked, 'YYYY-MM-DD'
 * @throws Refused `history-too-short` with members `days` and `needed`
 */
export function chooseDays(rows: readonly SiteDay[], date: string): ChosenDays {
  const days = daysOf(rows);
  const weekday = weekdayOf(date);
  const counting = (some: readonly Day[]) => some.filter((day) => day.leftOut === null);
  const same = days.filter((day) => day.weekday === weekday);
  const kind = counting(same).length >= FEWEST_DAYS ? 'same-weekday' : 'all-weekdays';
  const chosen = kind === 'same-weekday' ? same : days;
  const used = counting(chosen);
  if (used.length < FEWEST_DAYS) {
    const there = used.length === 1 ? 'is 1 day' : `are ${used.length} days`;
    throw new Refused('history-too-short', `There ${there} to go by; ${FEWEST_DAYS} are needed.`, {
      members: { days: used.length, needed: FEWEST_DAYS },
    });
  }
  return {
    kind,
    days: chosen,
    used: used.map(({ demand, ranOut }) => ({ quantity: demand, ranOut: ranOut.length > 0 })),
  };
}
