/**
 * Exact sums of masses on the way to a cost. Bigint quotients, reduced only where a denominator grows: a month has hundreds of thousands
 * of them, and nearly all are whole milligrams.
 */
export interface Ratio {
  readonly over: bigint;
  /** above zero */
  readonly under: bigint;
}

export const NOTHING: Ratio = { over: 0n, under: 1n };

function commonDivisor(a: bigint, b: bigint): bigint {
  let [high, low] = [a < 0n ? -a : a, b];
  while (low !== 0n) [high, low] = [low, high % low];
  return high;
}

/** @param under above zero */
export function ratio(over: bigint, under: bigint): Ratio {
  if (under === 1n) return { over, under };
  const divisor = commonDivisor(over, under);
  return divisor === 1n ? { over, under } : { over: over / divisor, under: under / divisor };
}

export function plus(a: Ratio, b: Ratio): Ratio {
  if (a.under === b.under) return ratio(a.over + b.over, a.under);
  return ratio(a.over * b.under + b.over * a.under, a.under * b.under);
}

export function times(a: Ratio, over: bigint, under: bigint): Ratio {
  return ratio(a.over * over, a.under * under);
}

export function isLess(a: Ratio, b: Ratio): boolean {
  return a.over * b.under < b.over * a.under;
}

/** The whole number at or below; for what is not below zero. */
export function floorOf(a: Ratio): bigint {
  return a.over / a.under;
}

/** The whole number at or above; for what is not below zero. */
export function ceilingOf(a: Ratio): bigint {
  return (a.over + a.under - 1n) / a.under;
}
