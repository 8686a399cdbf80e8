/** What a statement about how a place is watched must satisfy. Refusal: `rule-broken`. */
import { Refused } from '../errors.ts';

/** A day may depend on the day before it and on none earlier; an hour of that is SEEN_BACK_MS. */
const MOST_REACH_MIN = 23 * 60;

export interface Stated {
  readonly how: 'sensor' | 'by-hand' | 'none';
  readonly upperCentiC: number;
  readonly lowerCentiC: number | null;
  readonly assumedCentiC: number | null;
  readonly gapMin: number;
  readonly lagMin: number;
  readonly lagValidatedBy: string | null;
}

/** @throws Refused `rule-broken` */
export function checkStatement(stated: Stated): void {
  const broken = (pointer: string, detail: string): Refused =>
    new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });
  if (stated.lowerCentiC !== null && stated.lowerCentiC >= stated.upperCentiC) {
    throw broken('#/lowerC', 'The lower limit has to be below the upper one.');
  }
  if (stated.how === 'none' && stated.assumedCentiC === null) {
    throw broken('#/assumedC', 'Where nobody looks, say what temperature is assumed.');
  }
  if (stated.lagMin > 0 && stated.lagValidatedBy === null) {
    throw broken('#/lagValidatedBy', 'A lag makes food count as colder than the air: say who validated it.');
  }
  if (stated.gapMin + 2 * stated.lagMin > MOST_REACH_MIN) {
    throw broken('#/gapMin', 'The gap and twice the lag may not be more than 23 hours together.');
  }
}
