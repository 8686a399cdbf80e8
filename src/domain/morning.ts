/**
 * What a kitchen does first in the morning: what must be used today, what is past its date, what is set aside, what the books
 * say is here and nobody saw. Each part of the stock is on one list only, the gravest first. Refusals: none.
 */
import { DateTime } from 'luxon';
import { dateEndingAt } from './use-by.ts';

export interface MorningPart {
  /** null: no limit */
  readonly useByMs: number | null;
  readonly quarantine: boolean;
  /** a hold keeps it from being served */
  readonly held: boolean;
}

export type MorningList = 'past-date' | 'set-aside' | 'use-today' | 'later';

/** The first moment of tomorrow at the site. */
export function endOfTodayMs(nowMs: number, zone: string): number {
  return DateTime.fromMillis(nowMs, { zone }).plus({ days: 1 }).startOf('day').toMillis();
}

/** The first moment of today at the site. */
export function startOfTodayMs(nowMs: number, zone: string): number {
  return DateTime.fromMillis(nowMs, { zone }).startOf('day').toMillis();
}

export function listFor(part: MorningPart, nowMs: number, zone: string): MorningList {
  if (part.useByMs !== null && nowMs >= part.useByMs) return 'past-date';
  if (part.quarantine || part.held) return 'set-aside';
  return part.useByMs !== null && part.useByMs <= endOfTodayMs(nowMs, zone) ? 'use-today' : 'later';
}

/** By when, in words at the site: `by 15:00`, `by the end of today`, `until 29 Nov`, `after 24 Nov`. */
export function dueText(useByMs: number, nowMs: number, zone: string): string {
  const end = DateTime.fromMillis(useByMs, { zone });
  const last = DateTime.fromMillis(useByMs - 1, { zone }).setLocale('en-GB');
  if (useByMs > endOfTodayMs(nowMs, zone)) return `until ${last.toFormat('d LLL')}`;
  if (nowMs >= useByMs) {
    return dateEndingAt(useByMs, zone) === null
      ? `since ${end.toFormat('d LLL HH:mm')}`
      : `after ${last.toFormat('d LLL')}`;
  }
  if (dateEndingAt(useByMs, zone) !== null) return 'by the end of today';
  return end.getPossibleOffsets().length > 1 ? `by ${end.toFormat("HH:mm 'UTC'Z")}` : `by ${end.toFormat('HH:mm')}`;
}
