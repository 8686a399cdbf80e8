/** A table as text and links, before it is a page or a print; and the links behind its numbers. */
import type { MonthReportAnswer } from '../month/shapes.ts';
import { safeHref } from './words.ts';

export interface Cell {
  readonly text: string;
  readonly href?: string | null;
}

interface TableColumn {
  readonly title: string;
  /** of the page's width */
  readonly share: number;
  readonly align?: 'right';
}

export interface Table {
  readonly id: string;
  readonly heading: string;
  /** what its numbers are, and what they are of */
  readonly caption: string;
  readonly columns: readonly TableColumn[];
  /** the first cell names the row */
  readonly rows: readonly (readonly Cell[])[];
  readonly total?: readonly Cell[];
  readonly none: string;
  /** for each row, a place to link to */
  readonly anchors?: readonly (string | null)[];
}

export const words = (text: string): Cell => ({ text });
export const left = (title: string, share: number): TableColumn => ({ title, share });
export const right = (title: string, share: number): TableColumn => ({ title, share, align: 'right' });

const LEAST_LETTERS = 7;
/** The space beside it, in letters. */
const BESIDE = 1.5;

/** Columns of numbers that share a width by the longest word of their title and the longest of their numbers. */
export function spread(
  titles: readonly string[],
  numbers: readonly (readonly string[])[],
  share: number,
): TableColumn[] {
  const letters = titles.map((title, at) => {
    const texts = [...title.split(' '), ...numbers.map((row) => row[at] ?? '')];
    return BESIDE + texts.reduce((most, text) => Math.max(most, text.length), LEAST_LETTERS);
  });
  const whole = letters.reduce((sum, one) => sum + one, 0);
  return titles.map((title, at) => right(title, (share * (letters[at] ?? 0)) / whole));
}

/** Nothing has no lines behind it. */
export const linked = (value: number, text: string, href: string | null): Cell =>
  value === 0 ? { text } : { text, href };

/** All ledger lines of the report: a row's own link without its item. Null when the report has no rows. */
export function linesHref({ items }: MonthReportAnswer): string | null {
  const href = safeHref(items[0]?.linesHref ?? null);
  if (href === null) return null;
  const [path = '', query = ''] = href.split('?');
  const asked = new URLSearchParams(query);
  asked.delete('itemId');
  return `${path}?${asked.toString()}`;
}

/** The lines of one kitchen. */
export function siteHref(report: MonthReportAnswer, siteId: string | null): string | null {
  const href = linesHref(report);
  if (href === null || siteId === null) return null;
  const [path = '', query = ''] = href.split('?');
  const asked = new URLSearchParams(query);
  asked.delete('siteId');
  asked.set('site', siteId);
  return `${path}?${asked.toString()}`;
}
