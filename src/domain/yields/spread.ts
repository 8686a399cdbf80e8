/**
 * Which batches stand out against the earlier ones of their recipe: a control chart of individuals. Why this one: a kitchen makes one batch at
 * a time, so there are no groups to take a spread from; the moving ranges of neighbours give it.
 *
 * Limits: mean ± 3 x mean moving range / 1.128 (NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2; often written 2.66). Yields are whole
 * millionths and the limits exact rationals of them, so no edge is decided by a float. On a limit is inside.
 *
 * At least 8 earlier batches, the latest 50 at most, among the latest 100; of the same version of the recipe where there are 8, of all versions
 * otherwise. A batch
 * within half a percentage point of the mean never stands out, however alike the others were: scales and ladles differ by that
 * (8, 50, 100 and the half point: common practice).
 */
import Fraction from 'fraction.js';
import { roundHalfAwayFromZero } from '../exact.ts';

const LEAST_HISTORY = 8;
const MOST_HISTORY = 50;
/** How many earlier batches are looked at, of whatever version. */
export const LOOK_BACK = 100;
/** 3 / 1.128, exactly: 1.128 is d2 for ranges of two. */
const FACTOR = new Fraction(3000n, 1128n);
/** Millionths: half a percentage point. */
const LEAST_STEP_PPM = 5_000n;

export interface Limits {
  readonly mean: Fraction;
  readonly meanRange: Fraction;
  readonly lower: Fraction;
  readonly upper: Fraction;
}

/**
 * Of values in the order in which they were made, in any one unit.
 * @throws RangeError for fewer than two: there is no range of one
 */
export function controlLimits(values: readonly bigint[]): Limits {
  if (values.length < 2) throw new RangeError('A moving range takes two values');
  const sum = values.reduce((total, value) => total + value, 0n);
  const ranges = values.slice(1).map((value, at) => absolute(value - (values[at] ?? 0n)));
  const mean = new Fraction(sum, BigInt(values.length));
  const meanRange = new Fraction(
    ranges.reduce((total, range) => total + range, 0n),
    BigInt(ranges.length),
  );
  const reach = meanRange.mul(FACTOR);
  return { mean, meanRange, lower: mean.sub(reach), upper: mean.add(reach) };
}

export interface MadeBatch {
  readonly batchId: string;
  readonly recipeVersion: number;
  /** null: nothing went in */
  readonly yieldPpm: bigint | null;
}

/** What earlier batches of the recipe say about the next one. */
export interface UsualRange extends Limits {
  /** how many earlier batches */
  readonly batches: number;
  readonly basis: 'same-version' | 'all-versions';
}

export interface Judged {
  readonly batchId: string;
  /** null: fewer than eight earlier batches */
  readonly usual: UsualRange | null;
  readonly side: 'above' | 'below' | null;
}

/** Millionths of a yield, halves away from zero. */
export function yieldPpm(ratio: Fraction | null): bigint | null {
  return ratio === null ? null : roundHalfAwayFromZero(ratio.mul(1_000_000n));
}

/** The usual range for a batch of this version after these, given in order; null where there are too few. */
export function usualRange(earlier: readonly MadeBatch[], recipeVersion: number): UsualRange | null {
  const known = earlier.slice(-LOOK_BACK).filter((batch) => batch.yieldPpm !== null);
  const same = known.filter((batch) => batch.recipeVersion === recipeVersion);
  const basis = same.length >= LEAST_HISTORY ? 'same-version' : 'all-versions';
  const history = (basis === 'same-version' ? same : known).slice(-MOST_HISTORY);
  if (history.length < LEAST_HISTORY) return null;
  return { ...controlLimits(history.map((batch) => batch.yieldPpm ?? 0n)), batches: history.length, basis };
}

/** Each batch against those before it; one recipe at one site, in the order in which they were completed. */
export function judgeBatches(batches: readonly MadeBatch[]): Judged[] {
  return batches.map((batch, at) => {
    const usual = usualRange(batches.slice(Math.max(0, at - LOOK_BACK), at), batch.recipeVersion);
    return { batchId: batch.batchId, usual, side: usual && sideOf(usual, batch.yieldPpm) };
  });
}

function sideOf({ mean, lower, upper }: Limits, value: bigint | null): 'above' | 'below' | null {
  if (value === null) return null;
  const exact = new Fraction(value);
  if (exact.sub(mean).abs().compare(LEAST_STEP_PPM) < 0) return null;
  if (exact.compare(upper) > 0) return 'above';
  return exact.compare(lower) < 0 ? 'below' : null;
}

/** Millionths as percent to one decimal, halves away from zero. */
export function percentOfPpm(ppm: Fraction | bigint): number {
  return Number(roundHalfAwayFromZero(new Fraction(ppm).div(1000n))) / 10;
}

/** The middle one, or the mean of the two in the middle; null of none. */
export function medianPpm(values: readonly bigint[]): Fraction | null {
  const sorted = [...values].sort((a, b) => (a < b ? -1 : a > b ? 1 : 0));
  const middle = sorted.length >> 1;
  const upper = sorted[middle];
  if (upper === undefined) return null;
  return sorted.length % 2 === 1 ? new Fraction(upper) : new Fraction(upper + (sorted[middle - 1] ?? upper), 2n);
}

const absolute = (value: bigint): bigint => (value < 0n ? -value : value);
