/**
 * The lines of a month, and on which of them a posting stands. The books are those of each site (its places) and of the road. Inside are
 * the books that a report is about; a posting that stays inside, or outside, is no line.
 *
 * Refusals: none. Sides that no posting can have are a fault and throw RangeError.
 */

/** What raises the stock, in printing order, after the opening. `adjusted` is signed: below zero when counts found less. */
const IN_LINES = ['received', 'produced', 'returnedIn', 'transferIn', 'adjusted'] as const;
/** What lowers it, in printing order, before the closing. */
const OUT_LINES = [
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
] as const;

/** Every line in printing order. */
export const LINES = ['opening', ...IN_LINES, ...OUT_LINES, 'closing'] as const;
/** Those that postings of the month stand on. */
type FlowLines = readonly [...typeof IN_LINES, ...typeof OUT_LINES];
/** Lines of money have one more, on the left side of the sum. */
export const MONEY_LINES = ['opening', ...IN_LINES, 'revalued', ...OUT_LINES, 'closing'] as const;

export type FlowLine = FlowLines[number];
export type Line = (typeof LINES)[number];
export type MoneyLine = (typeof MONEY_LINES)[number];

const LOWERS: ReadonlySet<string> = new Set([...OUT_LINES, 'closing']);

/** True for lines on the right side of opening + in = out + closing. */
export const lowers = (line: MoneyLine): boolean => LOWERS.has(line);

/** What goes on the road belongs to no site. */
export const ROAD = 'road';
/** A site's id, or ROAD; null: outside. */
export type Book = string | null;

interface Side {
  /** of the account, a shortfall counted as its place or road */
  readonly kind: string;
  readonly book: Book;
}

export interface Crossing {
  readonly entryKind: string;
  readonly from: Side;
  readonly to: Side;
  /** why food was used or thrown away */
  readonly reason: string | null;
}

const USES: Readonly<Record<string, FlowLine>> = {
  'staff-meal': 'staffMeals',
  donation: 'donated',
  tasting: 'tasted',
  laboratory: 'sampled',
};

/**
 * The line on which a posting stands for a book that it comes into or goes out of, and with which sign: 1 where the quantity adds to what
 * is printed on the line. Opening stock counts as received whatever account it came from. Use derived from counts that a later fact takes
 * back is less of it, not a return.
 * @throws RangeError for an account that is none
 */
export function lineOf({ entryKind, from, to, reason }: Crossing, comes: boolean): { line: FlowLine; sign: 1 | -1 } {
  const other = comes ? from.kind : to.kind;
  const ins = comes ? 1 : -1;
  if (entryKind === 'opening-stock') return { line: 'received', sign: ins };
  switch (other) {
    case 'place':
    case 'transit':
      return { line: comes ? 'transferIn' : 'transferOut', sign: 1 };
    case 'supplier':
      return { line: comes ? 'received' : 'returnedToSupplier', sign: 1 };
    case 'produced':
      return { line: 'produced', sign: ins };
    case 'variance':
      return { line: 'adjusted', sign: ins };
    case 'consumed':
      return { line: 'consumed', sign: comes ? -1 : 1 };
    case 'waste':
      return { line: 'wasted', sign: comes ? -1 : 1 };
    case 'served':
      if (entryKind === 'stock-count') return { line: 'servedDerived', sign: comes ? -1 : 1 };
      if (comes) return { line: 'returnedIn', sign: 1 };
      return { line: USES[reason ?? ''] ?? 'served', sign: 1 };
    default:
      throw new RangeError(`No line of the month for an account of kind ${other}`);
  }
}
