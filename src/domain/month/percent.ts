import type Fraction from 'fraction.js';
import { roundHalfAwayFromZero } from '../exact.ts';

/** Percent to one decimal, halves away from zero; null when there is nothing to take it of. */
export function percentOf(part: Fraction, whole: Fraction): number | null {
  return whole.n === 0n ? null : Number(roundHalfAwayFromZero(part.div(whole).mul(1000n))) / 10;
}
