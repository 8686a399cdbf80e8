/**
 * Adds up flows line by line, exactly: units as whole numbers, mass as sums over one denominator each, money in fine units (10^-18 of a
 * minor unit; a lot has a whole number of them per unit). Nothing is rounded here.
 *
 * The closing is the stock of today less what changed since; the opening is the closing less what came, plus what went. So
 * opening + in = out + closing holds by construction in every measure, and old history is not read.
 *
 * Refusals: none.
 */
import { LINES, lineOf, lowers, type Book, type Crossing, type Line } from './lines.ts';

/** A quantity of lots of one item whose units weigh massNumerator / massDenominator together, in milligrams. */
export interface Amount {
  readonly quantity: number;
  /** of the whole quantity */
  readonly massNumerator: bigint;
  readonly massDenominator: bigint;
  readonly fine: bigint;
  /** of the quantity, what is in lots without a full price */
  readonly uncosted: number;
}

/** `in`: in the months asked for. `after`: later, or not recorded yet. `now`: the stock of today, in the book of `to`. */
export interface Flow extends Crossing, Amount {
  readonly bucket: 'in' | 'after' | 'now';
  readonly itemId: string;
  readonly destination: string | null;
  readonly material: 'food' | 'inedible-parts' | null;
}

/** Of one row: by place in LINES. */
export interface Tally {
  readonly quantities: number[];
  /** numerators by denominator */
  readonly masses: Map<bigint, bigint[]>;
  readonly fines: bigint[];
  readonly uncosted: number[];
}

const AT = new Map<Line, number>(LINES.map((line, at) => [line, at]));
export const placeOf = (line: Line): number => AT.get(line) ?? 0;
const OPENING = placeOf('opening');
const SIGNS = LINES.map((line) => (lowers(line) ? -1 : 1));

const newTally = (): Tally => ({
  quantities: LINES.map(() => 0),
  masses: new Map(),
  fines: LINES.map(() => 0n),
  uncosted: LINES.map(() => 0),
});

function addTo(tally: Tally, line: Line, amount: Amount, sign: 1 | -1): void {
  const at = placeOf(line);
  const big = BigInt(sign);
  tally.quantities[at] = (tally.quantities[at] ?? 0) + sign * amount.quantity;
  tally.uncosted[at] = (tally.uncosted[at] ?? 0) + sign * amount.uncosted;
  tally.fines[at] = (tally.fines[at] ?? 0n) + big * amount.fine;
  let masses = tally.masses.get(amount.massDenominator);
  if (!masses) tally.masses.set(amount.massDenominator, (masses = LINES.map(() => 0n)));
  masses[at] = (masses[at] ?? 0n) + big * amount.massNumerator;
}

function open(tally: Tally): void {
  const rest = <T>(values: T[], zero: T, plus: (a: T, b: T, sign: number) => T): void => {
    let opening = zero;
    for (const [at, value] of values.entries()) if (at !== OPENING) opening = plus(opening, value, -(SIGNS[at] ?? 1));
    values[OPENING] = opening;
  };
  const plusBig = (a: bigint, b: bigint, sign: number): bigint => (sign > 0 ? a + b : a - b);
  const plus = (a: number, b: number, sign: number): number => a + sign * b;
  rest(tally.quantities, 0, plus);
  rest(tally.uncosted, 0, plus);
  rest(tally.fines, 0n, plusBig);
  for (const masses of tally.masses.values()) rest(masses, 0n, plusBig);
}

export interface Tallies {
  /** of the scope as one, by item */
  readonly items: Map<string, Tally>;
  /** of each book in scope by itself, by item */
  readonly books: Map<string, Map<string, Tally>>;
}

function tallyOf(tallies: Map<string, Tally>, itemId: string): Tally {
  const known = tallies.get(itemId);
  if (known) return known;
  const tally = newTally();
  tallies.set(itemId, tally);
  return tally;
}

/**
 * @param inScope whether a report is about this book
 * @returns rows in the order in which their items first appear; rows of nothing are left out
 */
export function tallyFlows(flows: readonly Flow[], inScope: (book: string) => boolean): Tallies {
  const items = new Map<string, Tally>();
  const books = new Map<string, Map<string, Tally>>();
  const ofBook = (book: string, itemId: string): Tally => {
    let own = books.get(book);
    if (!own) books.set(book, (own = new Map<string, Tally>()));
    return tallyOf(own, itemId);
  };
  const isIn = (book: Book): book is string => book !== null && inScope(book);
  const put = (tally: Tally, flow: Flow, comes: boolean): void => {
    if (flow.bucket === 'now') return addTo(tally, 'closing', flow, 1);
    if (flow.bucket === 'after') return addTo(tally, 'closing', flow, comes ? -1 : 1);
    const { line, sign } = lineOf(flow, comes);
    addTo(tally, line, flow, sign);
  };
  for (const flow of flows) {
    const { from, to, itemId } = flow;
    const [goes, comes] = [isIn(from.book), isIn(to.book)];
    if (comes !== goes) put(tallyOf(items, itemId), flow, comes);
    if (isIn(from.book)) put(ofBook(from.book, itemId), flow, false);
    if (isIn(to.book)) put(ofBook(to.book, itemId), flow, true);
  }
  for (const tallies of [items, ...books.values()]) {
    for (const [itemId, tally] of tallies) {
      open(tally);
      if (tally.quantities.every((quantity) => quantity === 0)) tallies.delete(itemId);
    }
  }
  return { items, books };
}

/** What stands or went, of lots without a full price. */
export const uncostedOf = (tally: Tally): number =>
  LINES.reduce((sum, line, at) => (lowers(line) ? sum + (tally.uncosted[at] ?? 0) : sum), 0);

/** Fine units on a line. */
export const fineOn = (tally: Tally, line: Line): bigint => tally.fines[placeOf(line)] ?? 0n;
