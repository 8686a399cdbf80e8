/**
 * Dates of two-digit years. General Specifications 7.12: the century is the one that puts the year between 49 back and 50 ahead of
 * the year of reading. Day 00 means the last day of the month; which identifiers allow it is checked in values.ts.
 */
import { DateTime } from 'luxon';

const CENTURY = 100;
const NEXT_CENTURY_AT = -50;
const PREVIOUS_CENTURY_AT = 51;

function yearOf(twoDigits: number, readOn: string): number {
  const readYear = Number(readOn.slice(0, 4));
  const difference = twoDigits - (readYear % CENTURY);
  const century = readYear - (readYear % CENTURY);
  if (difference >= PREVIOUS_CENTURY_AT) return century - CENTURY + twoDigits;
  return difference <= NEXT_CENTURY_AT ? century + CENTURY + twoDigits : century + twoDigits;
}

function lastDayOf(year: number, month: number): number {
  return DateTime.utc(year, month).daysInMonth ?? 0;
}

/**
 * The whole date that a symbol means.
 * @param yymmdd six digits or more; what follows the sixth is ignored
 * @param readOn the day of reading, `YYYY-MM-DD`
 * @returns `YYYY-MM-DD`
 * @throws RangeError when there is no such day in the century that the day of reading gives
 */
export function resolveDate(yymmdd: string, readOn: string): string {
  const year = yearOf(Number(yymmdd.slice(0, 2)), readOn);
  const month = Number(yymmdd.slice(2, 4));
  const day = Number(yymmdd.slice(4, 6));
  const last = month >= 1 && month <= 12 ? lastDayOf(year, month) : 0;
  if (!(day <= last)) throw new RangeError(`No such day: ${yymmdd}`);
  return `${String(year).padStart(4, '0')}-${yymmdd.slice(2, 4)}-${String(day === 0 ? last : day).padStart(2, '0')}`;
}
