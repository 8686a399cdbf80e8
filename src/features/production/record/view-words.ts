/** Amounts, times and lists as the record shows them. */
import { DateTime } from 'luxon';
import { allergenLabel } from '../../../domain/allergens.ts';

const KG_FROM_G = 1000;

export function massText(massG: number): string {
  const size = Math.abs(massG);
  if (size >= KG_FROM_G) return `${Number((massG / KG_FROM_G).toFixed(2))} kg`;
  return `${Number(massG.toFixed(1))} g`;
}

export function amountText(quantity: number, unit: string): string {
  if (unit === 'piece') return quantity === 1 ? '1 pack' : `${quantity} packs`;
  if (unit === 'g') return massText(quantity);
  if (unit === 'mg') return massText(quantity / 1000);
  return quantity >= KG_FROM_G ? `${Number((quantity / KG_FROM_G).toFixed(2))} l` : `${quantity} ml`;
}

/** Times of one record: the date is said where it is another than the batch's first. */
export interface Times {
  readonly day: (instant: string) => string;
  readonly time: (instant: string) => string;
  readonly full: (instant: string) => string;
}

export function timesOf(timeZone: string, startedAt: string): Times {
  const at = (instant: string) => DateTime.fromISO(instant, { zone: timeZone }).setLocale('en-GB');
  const first = at(startedAt).toISODate();
  return {
    day: (instant) => at(instant).toFormat('d LLL yyyy'),
    time: (instant) => at(instant).toFormat(at(instant).toISODate() === first ? 'HH:mm' : 'd LLL, HH:mm'),
    full: (instant) => at(instant).toFormat('d LLL yyyy, HH:mm'),
  };
}

export const dateText = (date: string | null): string =>
  date === null ? 'no date' : DateTime.fromISO(date).setLocale('en-GB').toFormat('d LLL yyyy');

/** As they were bought or cooked: `none` for an empty list. */
export const allergensText = (codes: readonly string[]): string =>
  codes.length === 0 ? 'none' : codes.map(allergenLabel).join(', ');

const unknownName = 'name not known';
export const nameText = (name: string | null): string => name ?? unknownName;

/** `1 load`, `3 loads`. */
export const countText = (count: number, one: string, many = `${one}s`): string =>
  `${count} ${count === 1 ? one : many}`;

export const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);
export const spaced = (code: string): string => capital(code.replaceAll('-', ' '));
