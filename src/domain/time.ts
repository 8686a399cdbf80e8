/**
 * Times are milliseconds since the Unix epoch; dates are the site's own calendar, 'YYYY-MM-DD'. Refusal: `invalid-request` for a time
 * that is not on the calendar: the runtime would read 30 February as 2 March.
 */
import { DateTime } from 'luxon';
import { Refused } from './errors.ts';

/** Food is recorded in this century: with a life of ten years on top, every time that follows still has a year of four digits. */
const FIRST_MS = Date.UTC(2000, 0, 1);
const END_MS = Date.UTC(2100, 0, 1);

/** The calendar date at a site at that moment. */
export function localDate(atMs: number, timeZone: string): string {
  return DateTime.fromMillis(atMs, { zone: timeZone }).toFormat('yyyy-MM-dd');
}

/** As a clock on the site's wall and a calendar beside it say: 25 November 2026, 12:00. An hour that comes twice says which it is. */
export function siteClock(atMs: number, timeZone: string): string {
  const at = DateTime.fromMillis(atMs, { zone: timeZone, locale: 'en-GB' });
  const text = at.toFormat('d LLLL yyyy, HH:mm');
  return at.getPossibleOffsets().length > 1 ? `${text} ${at.toFormat("'UTC'Z")}` : text;
}

/** UTC, RFC 3339 with milliseconds. */
export function utc(atMs: number): string {
  return DateTime.fromMillis(atMs, { zone: 'utc' }).toFormat("yyyy-MM-dd'T'HH:mm:ss.SSS'Z'");
}

/**
 * A time as given in a contract (RFC 3339 with offset) in milliseconds.
 * @throws Refused `invalid-request` when its day is not on the calendar or outside this century
 */
export function fromInstant(text: string): number {
  const atMs = Date.parse(text);
  if (!isCalendarDate(text.slice(0, 10)) || !(atMs >= FIRST_MS && atMs < END_MS)) {
    throw new Refused('invalid-request', `${text} is not a time of this century.`);
  }
  return atMs;
}

/** True for a date of this century that is on the calendar (2026-02-30 is not). */
export function isCalendarDate(text: string): boolean {
  const atMs = Date.parse(`${text}T00:00:00Z`);
  return atMs >= FIRST_MS && atMs < END_MS && new Date(atMs).toISOString().startsWith(text);
}

/** The first and the first-after day of a month written 'YYYY-MM'. */
export function monthBounds(month: string): { from: string; to: string } {
  const start = DateTime.fromISO(`${month}-01`, { zone: 'utc' });
  return { from: start.toISODate() ?? '', to: start.plus({ months: 1 }).toISODate() ?? '' };
}

/** The moment whose UTC clock reads as the site's clock does then: for axes in local time. */
export function wallClockMs(atMs: number, timeZone: string): number {
  return atMs + DateTime.fromMillis(atMs, { zone: timeZone }).offset * 60_000;
}
