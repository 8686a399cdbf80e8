/**
 * Rows as they are printed: whole grams and whole minor units. A row is put into one list in which openings and what came in are
 * positive, what went out and the closing negative. That list sums to exactly zero, and it is rounded by largest remainder, which keeps
 * the sum. So a row adds up in print too, and each figure is less than one gram, or one minor unit, from its exact value. Totals are sums
 * of what is printed.
 *
 * Refusals: none.
 */
import { roundTogether } from '../exact.ts';
import { LINES, MONEY_LINES, lowers, type Line, type MoneyLine } from './lines.ts';
import { placeOf, type Tally } from './tally.ts';

/** Fine units of money in one minor unit. */
export const FINE_PER_MINOR = 10n ** 18n;
const MG_PER_G = 1000n;

export type QuantityRow = Record<Line, number>;
export type MoneyRow = Record<MoneyLine, number>;

const gcd = (a: bigint, b: bigint): bigint => (b === 0n ? a : gcd(b, a % b));

/** One denominator for all, and each place's numerator over it. */
export function together(masses: ReadonlyMap<bigint, readonly bigint[]>, places: number) {
  let denominator = 1n;
  for (const one of masses.keys()) denominator = (denominator / gcd(denominator, one)) * one;
  const numerators = Array.from({ length: places }, () => 0n);
  for (const [one, values] of masses) {
    const factor = denominator / one;
    for (const [at, value] of values.entries()) numerators[at] = (numerators[at] ?? 0n) + value * factor;
  }
  return { numerators, denominator };
}

/** 0 - x, so that nothing is printed as -0. */
const signed = (line: MoneyLine, value: bigint): number => (lowers(line) ? 0 - Number(value) : Number(value));
const turned = (line: MoneyLine, value: bigint): bigint => (lowers(line) ? -value : value);

function rowOf<L extends MoneyLine>(names: readonly L[], exact: readonly bigint[], denominator: bigint) {
  const rounded = roundTogether(
    names.map((line, at) => turned(line, exact[at] ?? 0n)),
    denominator,
  );
  return Object.fromEntries(names.map((line, at) => [line, signed(line, rounded[at] ?? 0n)])) as Record<L, number>;
}

export const inUnits = (tally: Tally): QuantityRow =>
  Object.fromEntries(LINES.map((line, at) => [line, tally.quantities[at] ?? 0])) as QuantityRow;

export function inGrams(tally: Tally): QuantityRow {
  const { numerators, denominator } = together(tally.masses, LINES.length);
  return rowOf(LINES, numerators, denominator * MG_PER_G);
}

/** @param revaluedFine of the opening, what it became worth more since it was last printed as a closing */
export function inMoney(tally: Tally, revaluedFine: bigint): MoneyRow {
  const exact = MONEY_LINES.map((line) => {
    if (line === 'revalued') return revaluedFine;
    const fine = tally.fines[placeOf(line)] ?? 0n;
    return line === 'opening' ? fine - revaluedFine : fine;
  });
  return rowOf(MONEY_LINES, exact, FINE_PER_MINOR);
}

/** Line by line, of what is printed. */
export function sumRows<L extends MoneyLine>(
  names: readonly L[],
  rows: readonly Record<L, number>[],
): Record<L, number> {
  return Object.fromEntries(names.map((line) => [line, rows.reduce((sum, row) => sum + row[line], 0)])) as Record<
    L,
    number
  >;
}
