/** Times are milliseconds since the Unix epoch; dates are the site's own calendar, 'YYYY-MM-DD'. */
import { DateTime } from 'luxon';

/** The calendar date at a site at that moment. */
export function localDate(atMs: number, timeZone: string): string {
  return DateTime.fromMillis(atMs, { zone: timeZone }).toFormat('yyyy-MM-dd');
}

/** UTC, RFC 3339 with milliseconds. */
export function utc(atMs: number): string {
  return DateTime.fromMillis(atMs, { zone: 'utc' }).toFormat("yyyy-MM-dd'T'HH:mm:ss.SSS'Z'");
}

/** A time as given in a contract (RFC 3339 with offset) in milliseconds. */
export function fromInstant(text: string): number {
  return Date.parse(text);
}

/** True for a date that is on the calendar (2026-02-30 is not). */
export function isCalendarDate(text: string): boolean {
  return DateTime.fromISO(text, { zone: 'utc' }).isValid;
}

/** The first and the first-after day of a month written 'YYYY-MM'. */
export function monthBounds(month: string): { from: string; to: string } {
  const start = DateTime.fromISO(`${month}-01`, { zone: 'utc' });
  return { from: start.toISODate() ?? '', to: start.plus({ months: 1 }).toISODate() ?? '' };
}
