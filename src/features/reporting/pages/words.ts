/** Numbers and words of the month report as people read them. Pure: no clock, no locale of the machine. */
import { contentHashOf } from '../../../platform/http/facts.ts';
import type { MonthReportAnswer } from '../month/shapes.ts';

type Money = MonthReportAnswer['totals']['inMoney'];
export type MoneyName = keyof Money;

/** Left side of the sum, then the right side. */
export const IN_LINES = [
  'opening',
  'received',
  'produced',
  'returnedIn',
  'transferIn',
  'adjusted',
  'revalued',
] as const satisfies readonly MoneyName[];
export const OUT_LINES = [
  'consumed',
  'served',
  'servedDerived',
  'staffMeals',
  'donated',
  'tasted',
  'sampled',
  'wasted',
  'transferOut',
  'returnedToSupplier',
  'closing',
] as const satisfies readonly MoneyName[];

export const LINE_WORDS: Readonly<Record<MoneyName, string>> = {
  opening: 'At the start',
  received: 'Received',
  produced: 'Produced',
  returnedIn: 'Back from service',
  transferIn: 'From other sites',
  adjusted: 'Found by counts',
  revalued: 'Later prices',
  consumed: 'Put to use in making',
  served: 'Served',
  servedDerived: 'Served, by counts',
  staffMeals: 'Staff meals',
  donated: 'Donated',
  tasted: 'Tasted',
  sampled: 'Laboratory',
  wasted: 'Wasted',
  transferOut: 'To other sites',
  returnedToSupplier: 'Back to supplier',
  closing: 'At the end',
};

/** Narrow, and never at the end of a line. */
const THIN_SPACE = '\u202F';
export const MINUS = '\u2212';

const grouped = (digits: string): string => digits.replace(/\B(?=(\d{3})+$)/g, THIN_SPACE);

/** Thousands apart by thin spaces; a true minus. Up to three decimals as they are. */
export function numberText(value: number): string {
  const [whole = '0', part] = Math.abs(value).toString().split('.');
  const sign = value < 0 ? MINUS : '';
  return `${sign}${grouped(whole)}${part === undefined ? '' : `.${part}`}`;
}

/** Minor units with the digits of the currency, without its code. */
export function moneyText(minor: number, minorDigits: number): string {
  const digits = String(Math.abs(minor)).padStart(minorDigits + 1, '0');
  const whole = digits.slice(0, digits.length - minorDigits);
  const part = minorDigits === 0 ? '' : `.${digits.slice(-minorDigits)}`;
  return `${minor < 0 ? MINUS : ''}${grouped(whole)}${part}`;
}

/** One decimal; what cannot be said is said so. */
export function percentText(value: number | null): string {
  if (value === null) return 'no figure';
  const [whole = '0', part = '0'] = Math.abs(value).toFixed(1).split('.');
  return `${value < 0 ? MINUS : ''}${grouped(whole)}.${part}${THIN_SPACE}%`;
}

const KG_G = 1_000;

/** Grams, and kilograms from a thousand on, never less exact. */
export function massText(grams: number): string {
  if (Math.abs(grams) < KG_G) return `${numberText(grams)}${THIN_SPACE}g`;
  return `${numberText(grams / KG_G)}${THIN_SPACE}kg`;
}

const ROUGH_FROM_KG = 100;

/** For pictures: whole grams below a kilogram, then tenths, then whole kilograms. */
export function roughMassText(grams: number): string {
  const kg = Math.abs(grams) / KG_G;
  if (kg < 1) return massText(grams);
  return massText(Number(kg.toFixed(kg < ROUGH_FROM_KG ? 1 : 0)) * KG_G * Math.sign(grams));
}

const MONTHS = [
  'January',
  'February',
  'March',
  'April',
  'May',
  'June',
  'July',
  'August',
  'September',
  'October',
  'November',
  'December',
];

export function monthText(month: string): string {
  return `${MONTHS[Number(month.slice(5)) - 1] ?? month.slice(5)} ${month.slice(0, 4)}`;
}

export function periodText({ month, throughMonth }: Pick<MonthReportAnswer, 'month' | 'throughMonth'>): string {
  return month === throughMonth ? monthText(month) : `${monthText(month)} to ${monthText(throughMonth)}`;
}

export function scopeText({ sites, allSites }: MonthReportAnswer): string {
  return allSites ? 'All sites, with what is on the road' : sites.map((site) => site.siteName).join(', ');
}

export function stateText({ state }: MonthReportAnswer): string {
  return state === 'closed'
    ? 'CLOSED: as it was closed, for ever'
    : 'PROVISIONAL: the month is open and may still change';
}

export function cutText({ cut }: MonthReportAnswer): string {
  const moment = cut.recordedAt === null ? 'before the first record' : `as recorded at ${cut.recordedAt}`;
  return `${moment}, entry ${numberText(cut.seq)}, money fact ${numberText(cut.moneyNo)}`;
}

/** SHA-256 of the report's canonical JSON (RFC 8785), in hexadecimal: the same that a close signs. */
export function hashOf(report: MonthReportAnswer): string {
  return contentHashOf(report).toString('hex');
}

/** Names of lines with anything in them, in the order of the sum; the start and the end always. */
export function usedLines(
  names: readonly MoneyName[],
  rows: readonly Readonly<Partial<Record<MoneyName, number>>>[],
): MoneyName[] {
  return names.filter((name) => name === 'opening' || name === 'closing' || rows.some((row) => (row[name] ?? 0) !== 0));
}

/** Ours are paths of this service; anything else is no link. */
export function safeHref(href: string | null, more: Readonly<Record<string, string>> = {}): string | null {
  if (href === null || !href.startsWith('/v1/')) return null;
  const asked = Object.entries(more).map(([name, value]) => `${name}=${encodeURIComponent(value)}`);
  if (asked.length === 0) return href;
  return `${href}${href.includes('?') ? '&' : '?'}${asked.join('&')}`;
}
