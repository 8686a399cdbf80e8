/** Fine units as people read them. Refusals: none. */
import Fraction from 'fraction.js';
import { FINE_PER_MINOR } from '../../../domain/costing/shapes.ts';
import { largestRemainder, roundHalfAwayFromZero } from '../../../domain/exact.ts';

const DIGITS = 18;

/** Minor units as an exact decimal without trailing zeros; for what is not below zero. */
export function decimalMinor(fine: bigint): string {
  const text = fine.toString().padStart(DIGITS + 1, '0');
  const part = text.slice(-DIGITS).replace(/0+$/, '');
  return text.slice(0, -DIGITS) + (part === '' ? '' : `.${part}`);
}

const minor = (fine: bigint) => new Fraction(fine, FINE_PER_MINOR);

/** Whole minor units, halves away from zero. */
export function roundedMinor(fine: bigint): number {
  return Number(roundHalfAwayFromZero(minor(fine)));
}

/** Whole minor units that add up to the rounded sum. */
export function addingUp(fines: readonly bigint[]): number[] {
  return largestRemainder(fines.map(minor)).map(Number);
}
