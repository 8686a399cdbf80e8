/**
 * Food thrown away: site by site, item, reason, destination and material; and by the standard's reasons, destinations and stages. Food and
 * parts that are not eaten are kept apart, and packaging is in no sum of food waste (Food Loss and Waste Standard 1.0, 2016).
 *
 * Rounding: the rows of an item sum to what is printed as its waste, in grams and in money, by largest remainder. Sums are sums of what is
 * printed.
 *
 * Refusals: none.
 */
import { roundTogether } from '../exact.ts';
import { lineOf, type Book } from './lines.ts';
import { FINE_PER_MINOR, together } from './printed.ts';
import type { Flow } from './tally.ts';

const MG_PER_G = 1000n;

export type Material = 'food' | 'inedible-parts';

interface WasteKey {
  /** the book that it left */
  readonly book: string;
  readonly itemId: string;
  readonly reason: string;
  readonly destination: string | null;
  readonly material: Material;
}

export interface WasteRow extends WasteKey {
  readonly quantity: number;
  readonly grams: number;
  readonly valueMinor: number;
}

interface Sum {
  readonly key: WasteKey;
  quantity: number;
  readonly masses: Map<bigint, bigint>;
  fine: bigint;
}

function sumsOf(flows: readonly Flow[], inScope: (book: string) => boolean): Sum[] {
  const sums = new Map<string, Sum>();
  const isIn = (book: Book): book is string => book !== null && inScope(book);
  for (const flow of flows) {
    if (flow.bucket !== 'in' || (flow.to.kind !== 'waste' && flow.from.kind !== 'waste')) continue;
    const comes = isIn(flow.to.book);
    const book = comes ? flow.to.book : flow.from.book;
    if (!isIn(book) || (comes && isIn(flow.from.book))) continue;
    const { line, sign } = lineOf(flow, comes);
    if (line !== 'wasted') continue;
    const key = {
      book,
      itemId: flow.itemId,
      reason: flow.reason ?? 'other',
      destination: flow.destination,
      material: flow.material ?? ('food' as const),
    };
    const name = [key.book, key.itemId, key.reason, key.destination ?? '', key.material].join('|');
    let sum = sums.get(name);
    if (!sum) sums.set(name, (sum = { key, quantity: 0, masses: new Map(), fine: 0n }));
    sum.quantity += sign * flow.quantity;
    sum.fine += BigInt(sign) * flow.fine;
    const mass = sum.masses.get(flow.massDenominator) ?? 0n;
    sum.masses.set(flow.massDenominator, mass + BigInt(sign) * flow.massNumerator);
  }
  return [...sums].sort(([a], [b]) => (a < b ? -1 : 1)).map(([, sum]) => sum);
}

/** @param printed the item's waste as it is printed, in grams and minor units; null: the item has no row */
export function wasteRows(
  flows: readonly Flow[],
  inScope: (book: string) => boolean,
  printed: (itemId: string) => { grams: number; valueMinor: number } | null,
): WasteRow[] {
  const byItem = new Map<string, Sum[]>();
  for (const sum of sumsOf(flows, inScope)) {
    const known = byItem.get(sum.key.itemId);
    if (known) known.push(sum);
    else byItem.set(sum.key.itemId, [sum]);
  }
  return [...byItem].flatMap(([itemId, sums]) => {
    const whole = printed(itemId);
    const columns = new Map<bigint, bigint[]>();
    for (const [at, sum] of sums.entries()) {
      for (const [denominator, value] of sum.masses) {
        const column = columns.get(denominator) ?? sums.map(() => 0n);
        column[at] = value;
        columns.set(denominator, column);
      }
    }
    const mass = together(columns, sums.length);
    const grams = roundTogether(mass.numerators, mass.denominator * MG_PER_G, whole ? BigInt(whole.grams) : undefined);
    const minor = roundTogether(
      sums.map((sum) => sum.fine),
      FINE_PER_MINOR,
      whole ? BigInt(whole.valueMinor) : undefined,
    );
    return sums.flatMap(({ key, quantity, fine }, at) =>
      quantity === 0 && fine === 0n && grams[at] === 0n
        ? []
        : [{ ...key, quantity, grams: Number(grams[at] ?? 0n), valueMinor: Number(minor[at] ?? 0n) }],
    );
  });
}

export interface WasteSum {
  readonly code: string;
  readonly label: string;
  readonly foodG: number;
  readonly inediblePartsG: number;
  readonly valueMinor: number;
}

interface Sorted {
  readonly material: Material;
  readonly grams: number;
  readonly valueMinor: number;
}

/** One sum for each word, also those that nothing stands under. Rows under other words are not in it. */
export function wasteBy<R extends Sorted>(
  words: readonly { readonly code: string; readonly label: string }[],
  rows: readonly R[],
  codeOf: (row: R) => string,
): WasteSum[] {
  return words.map(({ code, label }) => {
    const own = rows.filter((row) => codeOf(row) === code);
    const sum = (pick: (row: R) => number): number => own.reduce((total, row) => total + pick(row), 0);
    return {
      code,
      label,
      foodG: sum((row) => (row.material === 'food' ? row.grams : 0)),
      inediblePartsG: sum((row) => (row.material === 'food' ? 0 : row.grams)),
      valueMinor: sum((row) => row.valueMinor),
    };
  });
}
