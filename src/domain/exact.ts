/**
 * Exact arithmetic for quantities and masses. Why: a lot fixes its quantity and its total mass at birth, so q units of it
 * weigh exactly q x mass / quantity, which is seldom a whole number of milligrams. Nothing is rounded on the way; rounding
 * happens once, in the report, by largest remainder, so that printed lines add up to the printed total.
 *
 * Refusals: none. A quantity or weight that could never have been recorded (a lot of nothing, a negative weight) is a
 * programming fault and throws RangeError.
 */
import Fraction from 'fraction.js';

/** An exact rational as JSON can carry it: decimal strings, denominator above zero, lowest terms, sign on the numerator. */
export interface ExactJson {
  numerator: string;
  denominator: string;
}

const ZERO = new Fraction(0n);
const HALF = new Fraction(1n, 2n);

/** `value` as decimal strings in lowest terms. */
export function exactJson(value: Fraction): ExactJson {
  return { numerator: (value.s * value.n).toString(), denominator: value.d.toString() };
}

/**
 * Mass of `quantity` units of a lot, in milligrams, exactly.
 * @param quantity units of the lot (its item's unit); may be negative in a signed view
 * @param lotQuantity what the lot was born with, above zero
 * @param lotMassMg the lot's total mass at birth, in milligrams, not below zero
 * @throws RangeError when the lot has no quantity or a negative mass
 */
export function massOfMg(quantity: bigint, lotQuantity: bigint, lotMassMg: bigint): Fraction {
  if (lotQuantity <= 0n) throw new RangeError(`A lot's quantity is above zero, not ${lotQuantity}`);
  if (lotMassMg < 0n) throw new RangeError(`A lot's mass is not below zero: ${lotMassMg} mg`);
  return new Fraction(quantity * lotMassMg, lotQuantity);
}

/** The exact sum; zero for an empty list. */
export function sumFractions(values: readonly Fraction[]): Fraction {
  return values.reduce((sum, value) => sum.add(value), ZERO);
}

/** The nearest whole number; halves go away from zero, so that a loss and an equal gain round alike. */
export function roundHalfAwayFromZero(value: Fraction): bigint {
  const nearest = value.abs().add(HALF).floor();
  return value.s * nearest.n;
}

/**
 * Rounds a list to multiples of `unit` so that the rounded lines sum to the rounded total (largest remainder method).
 * Each line moves by less than one unit; a line that is a multiple already is left alone. Equal remainders: the earlier
 * line is rounded up first, so the answer depends on nothing but the list. Negative values are welcome.
 * @param values in any unit
 * @param unit the step to round to, in the same unit, above zero; 1 when left out
 * @returns the rounded values, in the same unit and order
 * @throws RangeError when `unit` is not above zero
 */
export function largestRemainder(values: readonly Fraction[], unit = 1n): bigint[] {
  if (unit <= 0n) throw new RangeError(`The unit to round to is above zero, not ${unit}`);
  const steps = values.map((value) => value.div(new Fraction(unit)));
  const lines = steps.map((step, index) => {
    const floor = step.floor();
    return { index, floor: floor.s * floor.n, remainder: step.sub(floor) };
  });
  const floorSum = lines.reduce((sum, line) => sum + line.floor, 0n);
  const raised = Number(roundHalfAwayFromZero(sumFractions(steps)) - floorSum);
  const rounded = lines.map((line) => line.floor);
  const byRemainder = [...lines].sort((a, b) => b.remainder.compare(a.remainder) || a.index - b.index);
  for (const line of byRemainder.slice(0, raised)) rounded[line.index] = line.floor + 1n;
  return rounded.map((step) => step * unit);
}

/**
 * The same for numbers that share a denominator, in whole arithmetic: a month rounds tens of thousands of rows.
 * @param numerators each stands for numerator / denominator
 * @param denominator above zero
 * @param total what the rounded values are to sum to, within their number of the exact sum; the rounded sum when left out
 * @throws RangeError when the denominator is not above zero, or `total` is out of reach
 */
export function roundTogether(numerators: readonly bigint[], denominator: bigint, total?: bigint): bigint[] {
  if (denominator <= 0n) throw new RangeError(`A denominator is above zero, not ${denominator}`);
  const lines = numerators.map((numerator, index) => {
    const rest = ((numerator % denominator) + denominator) % denominator;
    return { index, floor: (numerator - rest) / denominator, rest };
  });
  const floorSum = lines.reduce((sum, line) => sum + line.floor, 0n);
  const restSum = lines.reduce((sum, line) => sum + line.rest, 0n);
  const wanted = total ?? floorSum + roundedQuotient(restSum, denominator);
  const raised = Number(wanted - floorSum);
  if (raised < 0 || raised > lines.length) throw new RangeError(`${numerators.length} lines cannot sum to ${wanted}`);
  const rounded = lines.map((line) => line.floor);
  const byRest = [...lines].sort((a, b) => (a.rest === b.rest ? a.index - b.index : a.rest > b.rest ? -1 : 1));
  for (const line of byRest.slice(0, raised)) rounded[line.index] = line.floor + 1n;
  return rounded;
}

/** numerator / denominator as the nearest whole number, halves away from zero. `denominator` is above zero. */
export function roundedQuotient(numerator: bigint, denominator: bigint): bigint {
  const half = (2n * (numerator < 0n ? -numerator : numerator) + denominator) / (2n * denominator);
  return numerator < 0n ? -half : half;
}

/**
 * Splits `total` by weight: the exact share of each line, and whole shares that sum to `total`.
 * Used on reading only (an input's share in each output, by output mass); the ledger itself stores no shares.
 * @param total any whole number
 * @param weights not below zero, not all zero
 * @throws RangeError when a weight is negative or there is nothing to split by
 */
export function apportion(total: bigint, weights: readonly bigint[]): { exact: ExactJson; rounded: bigint }[] {
  if (weights.some((weight) => weight < 0n)) throw new RangeError('A weight to apportion by is not below zero');
  const sum = weights.reduce((a, b) => a + b, 0n);
  if (sum === 0n) throw new RangeError('There is nothing to apportion by: the weights sum to zero');
  const shares = weights.map((weight) => new Fraction(total * weight, sum));
  const rounded = largestRemainder(shares);
  return shares.map((share, index) => ({ exact: exactJson(share), rounded: rounded[index] ?? 0n }));
}
