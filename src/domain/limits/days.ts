/** Days at a site. */
import { DateTime } from 'luxon';
import { localDate } from '../time.ts';

/** The latest end of a day at the site that is not after a moment: an end within a day is rounded down to the day before. */
export function endOfDayBefore(atMs: number, zone: string): number {
  return DateTime.fromISO(localDate(atMs, zone), { zone }).startOf('day').toMillis();
}

/** The end of the day that is so many days after the day of a moment. */
export function endOfDayAfter(atMs: number, days: number, zone: string): number {
  return DateTime.fromISO(localDate(atMs, zone), { zone })
    .plus({ days: days + 1 })
    .startOf('day')
    .toMillis();
}

/** The first moment of a date, 'YYYY-MM-DD', at the site. */
export function startOfDateMs(date: string, zone: string): number {
  return DateTime.fromISO(date, { zone }).startOf('day').toMillis();
}
