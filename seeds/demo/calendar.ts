/**
 * The demo's days: a fortnight, day 0 to day 13, at the group's own time. Why its own file: every fact of the demo is told as a day and a
 * time of day, and what the clocks do meanwhile must not matter.
 */
import { DateTime } from 'luxon';

export const ZONE = 'Europe/London';
export const LAST_DAY = 13;
/** The last day breaks off at noon. */
const LAST_HOUR = 12;

export interface Calendar {
  /** UTC text of a time such as '06:30' on a day */
  at(day: number, time: string): string;
  /** 'YYYY-MM-DD' */
  date(day: number): string;
  /** 'yymmdd', for document numbers */
  short(day: number): string;
}

/** The day on which the fortnight begins, so that it is over by `endMs`. */
export function firstDay(endMs: number): string {
  const end = DateTime.fromMillis(endMs, { zone: ZONE });
  const last = end.hour < LAST_HOUR ? end.minus({ days: 1 }) : end;
  return isoDate(last.minus({ days: LAST_DAY }));
}

/** The first day of a fortnight that is under way, from the time of something that happened on it. */
export function dayOf(instant: string): string {
  return isoDate(DateTime.fromISO(instant, { zone: ZONE }));
}

function isoDate(time: DateTime): string {
  const date = time.toISODate();
  if (date === null) throw new Error('There is no such day.');
  return date;
}

export function calendarFrom(dayZero: string): Calendar {
  const day = (n: number) => DateTime.fromISO(dayZero, { zone: ZONE }).plus({ days: n });
  return {
    at(n, time) {
      const [hour = 0, minute = 0] = time.split(':').map(Number);
      const instant = day(n).set({ hour, minute, second: 0, millisecond: 0 }).toUTC().toISO();
      if (instant === null) throw new Error(`There is no ${time} on day ${n}.`);
      return instant;
    },
    date: (n) => isoDate(day(n)),
    short: (n) => day(n).toFormat('yyMMdd'),
  };
}
