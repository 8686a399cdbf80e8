/**
 * What one reading is, and what is none. Temperatures are whole hundredths of a degree Celsius, times whole milliseconds.
 *
 * A reading is refused for its shape, its time or its range; never for being inconvenient. The codes and what to do about them are in
 * shared/reading-problems.json.
 */
import problems from '../../shared/reading-problems.json' with { type: 'json' };
import { isCalendarDate } from './time.ts';

export type ReadingProblemCode = keyof typeof problems;

export const readingProblems: Readonly<Record<ReadingProblemCode, string>> = problems;

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;

/** Clocks differ; further ahead a time is wrong (issue: "beyond a small skew"). Also from where on a sender's clock is in doubt. */
export const SKEW_MS = 10 * MINUTE_MS;
/** How far back readings are taken. */
export const WINDOW_DAYS = 400;
const MIN_CENTI_C = -6000;
const MAX_CENTI_C = 15000;

/**
 * Hundredths of a degree Celsius, rounded to the nearest and from the middle to the warmer one; NaN for what is no number.
 * F to C: (F - 32) x 5/9, exact by definition of the scales.
 */
export function centiCOf(value: number, unit: 'C' | 'F'): number {
  const centi = unit === 'C' ? value * 100 : ((value * 100 - 3200) * 5) / 9;
  // Math.round(-0.4) is -0
  return Math.round(centi) + 0;
}

/** A number as loggers write it: no exponent, no thousands. NaN otherwise. */
export function numberOf(text: string): number {
  return /^[+-]?\d{1,5}(\.\d{1,9})?$/.test(text) ? Number(text) : Number.NaN;
}

const two = (text: string, at: number): number => {
  const [tens, ones] = [text.charCodeAt(at) - 48, text.charCodeAt(at + 1) - 48];
  return tens >= 0 && tens <= 9 && ones >= 0 && ones <= 9 ? tens * 10 + ones : Number.NaN;
};

const WITHOUT_OFFSET = /^\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d([.,]\d+)?)?$/;
const FRACTION = /^\.\d{1,3}$/;

/**
 * Reads times like the contracts' `instant` (RFC 3339 with offset, at most milliseconds), quickly: readings of one day share its date.
 * Answers milliseconds, or why not. One reader for each upload; it remembers the last date.
 */
export function instantReader(): (text: string) => number | 'time-unreadable' | 'time-without-offset' {
  let date = '';
  let dateMs = Number.NaN;
  return (text) => {
    const day = text.slice(0, 10);
    if (day !== date) {
      date = day;
      dateMs = /^\d{4}-\d\d-\d\d$/.test(day) && isCalendarDate(day) ? Date.parse(`${day}T00:00:00Z`) : Number.NaN;
    }
    const [hour, minute, second] = [two(text, 11), two(text, 14), two(text, 17)];
    const rest = text.slice(19);
    const offsetAt = rest.endsWith('Z') ? rest.length - 1 : rest.length - 6;
    const shaped = text[10] === 'T' && text[13] === ':' && text[16] === ':' && hour < 24 && minute < 60 && second < 60;
    const offset = offsetMs(rest.slice(Math.max(offsetAt, 0)));
    const fraction = rest.slice(0, Math.max(offsetAt, 0));
    if (!shaped || Number.isNaN(dateMs + offset) || (fraction !== '' && !FRACTION.test(fraction))) {
      return WITHOUT_OFFSET.test(text) ? 'time-without-offset' : 'time-unreadable';
    }
    const ms = fraction === '' ? 0 : Math.round(Number(fraction) * 1000);
    return dateMs + hour * 3_600_000 + minute * MINUTE_MS + second * 1000 + ms - offset;
  };
}

/** 'Z' or '+01:00' in milliseconds; NaN otherwise. */
function offsetMs(text: string): number {
  if (text === 'Z') return 0;
  if (text.length !== 6 || text[3] !== ':' || (text[0] !== '+' && text[0] !== '-')) return Number.NaN;
  const [hours, minutes] = [two(text, 1), two(text, 4)];
  if (!(hours < 24 && minutes < 60)) return Number.NaN;
  return (text[0] === '-' ? -1 : 1) * (hours * 60 + minutes) * MINUTE_MS;
}

/** Null when the reading is one. */
export function faultOf(atMs: number, centiC: number, nowMs: number): ReadingProblemCode | null {
  if (atMs > nowMs + SKEW_MS) return 'time-in-future';
  if (atMs < nowMs - WINDOW_DAYS * DAY_MS) return 'time-too-old';
  if (Number.isNaN(centiC)) return 'temperature-unreadable';
  return centiC < MIN_CENTI_C || centiC > MAX_CENTI_C ? 'temperature-out-of-range' : null;
}

/**
 * Whether a reading's own time is in doubt: the sender's clock was more than 10 minutes off, or it did not say its clock and the
 * reading is older than that, so nothing shows that the clock was right.
 * @param clockOffsetMs the sender's clock minus ours when it sent; null when it did not say
 */
export function isTimeDoubted(atMs: number, receivedAtMs: number, clockOffsetMs: number | null): boolean {
  if (clockOffsetMs !== null) return Math.abs(clockOffsetMs) > SKEW_MS;
  return atMs < receivedAtMs - SKEW_MS;
}

/** Whole days since the Unix epoch, UTC. */
export function dayOf(atMs: number): number {
  return Math.floor(atMs / DAY_MS);
}

/** 'YYYY-MM-DD' of a day number. */
export function dayText(day: number): string {
  return new Date(day * DAY_MS).toISOString().slice(0, 10);
}

/** Where a sensor or food can be, as text: `place:<uuid>`, `vehicle:<name>` or `crate:<code>`. Null: nowhere. */
export function subjectOf(where: {
  readonly placeId: string | null;
  readonly vehicle: string | null;
  readonly crateCode: string | null;
}): string | null {
  if (where.placeId !== null) return `place:${where.placeId}`;
  if (where.vehicle !== null) return `vehicle:${where.vehicle}`;
  return where.crateCode === null ? null : `crate:${where.crateCode}`;
}
