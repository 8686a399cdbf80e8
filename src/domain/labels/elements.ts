/**
 * What the symbol of a pack says, as GS1 elements: what it is, how long it keeps, which one it is, and last of all its lot. The lot stands
 * last because its length is free: when a printer or a keyboard drops the separator behind it, nothing is swallowed.
 *
 * The date is AI (17), a day; food that ends within a day has AI (7003) with the minute instead, in the time of the site (local time: from
 * memory). The weight, AI (3103) in grams, stands only on goods of variable measure, whose GTIN begins with 9: the weight of a pack with a
 * fixed GTIN is part of what that number means. Refusals: none.
 */
import { DateTime } from 'luxon';
import { dateEndingAt } from '../use-by.ts';

export interface PackElement {
  readonly ai: string;
  readonly value: string;
}

export interface PackSymbol {
  /** 14 digits */
  readonly gtin: string;
  /** null: no date is to be read, as on a quarantine label */
  readonly useBy: { readonly endsAtMs: number; readonly zone: string } | null;
  /** whole grams of the one pack that was weighed */
  readonly netWeightG: number | null;
  readonly lotCode: string;
}

const MOST_GRAMS = 999_999;

function dateElement({ endsAtMs, zone }: NonNullable<PackSymbol['useBy']>): PackElement {
  const date = dateEndingAt(endsAtMs, zone);
  if (date !== null) return { ai: '17', value: date.slice(2).replaceAll('-', '') };
  return { ai: '7003', value: DateTime.fromMillis(endsAtMs, { zone }).toFormat('yyLLddHHmm') };
}

/** All but the serial, the lot last. */
export function packElements({ gtin, useBy, netWeightG, lotCode }: PackSymbol): PackElement[] {
  const weighed = gtin.startsWith('9') && netWeightG !== null && netWeightG <= MOST_GRAMS;
  return [
    { ai: '01', value: gtin },
    ...(weighed ? [{ ai: '3103', value: String(netWeightG).padStart(6, '0') }] : []),
    ...(useBy === null ? [] : [dateElement(useBy)]),
    { ai: '10', value: lotCode },
  ];
}

/** With the serial of one pack, before the lot. */
export function withSerial(elements: readonly PackElement[], serial: string | null): PackElement[] {
  if (serial === null) return [...elements];
  return [...elements.slice(0, -1), { ai: '21', value: serial }, ...elements.slice(-1)];
}
