/**
 * Waste of bought food in a period against a period of the group's own past. Why its own past: kitchens differ more from each other than a
 * kitchen differs from itself.
 *
 *   used up      = bought mass that came to its end in the period: served, eaten otherwise, discarded, lost in making. What was bought for
 *                  stock, or served from it, changes no share.
 *   served share = bought mass in what was served / used up;   waste share = bought mass in what was discarded / used up
 *   saved mass   = (waste share then - waste share now) x used up now;   saved money = saved mass x average price of what was bought now
 *
 * Exact rationals throughout; grams, minor units and tenths of a percent are rounded once, halves away from zero. Refusals: none.
 */
import type Fraction from 'fraction.js';
import { roundHalfAwayFromZero } from '../exact.ts';

export interface PeriodMasses {
  readonly boughtMg: Fraction;
  readonly usedUpMg: Fraction;
  /** of what was served in the period, what was bought, whenever */
  readonly servedBoughtMg: Fraction;
  readonly wastedBoughtMg: Fraction;
  /** what the bought food with a price weighs and costs, in minor units */
  readonly pricedMg: Fraction;
  readonly pricedMinor: Fraction;
}

export interface PeriodFigures {
  readonly boughtG: number;
  readonly servedBoughtG: number;
  readonly wastedBoughtG: number;
  readonly usedUpG: number;
  readonly servedPercentOfUsedUp: number | null;
  readonly wastedPercentOfUsedUp: number | null;
  readonly pricedG: number;
  readonly boughtMinor: number;
  /** null: nothing that was bought has a price */
  readonly averageMinorPerKg: number | null;
}

const MG_PER_KG = 1_000_000n;
const whole = (value: Fraction): number => Number(roundHalfAwayFromZero(value));
const grams = (massMg: Fraction): number => whole(massMg.div(1000n));
const share = (part: Fraction, of: Fraction): Fraction | null => (of.s > 0n && of.n !== 0n ? part.div(of) : null);
const percent = (ratio: Fraction | null): number | null => ratio && whole(ratio.mul(1000n)) / 10;

const averagePerMg = ({ pricedMg, pricedMinor }: PeriodMasses): Fraction | null => share(pricedMinor, pricedMg);

export function periodFigures(masses: PeriodMasses): PeriodFigures {
  const average = averagePerMg(masses);
  return {
    boughtG: grams(masses.boughtMg),
    servedBoughtG: grams(masses.servedBoughtMg),
    wastedBoughtG: grams(masses.wastedBoughtMg),
    usedUpG: grams(masses.usedUpMg),
    servedPercentOfUsedUp: percent(share(masses.servedBoughtMg, masses.usedUpMg)),
    wastedPercentOfUsedUp: percent(share(masses.wastedBoughtMg, masses.usedUpMg)),
    pricedG: grams(masses.pricedMg),
    boughtMinor: whole(masses.pricedMinor),
    averageMinorPerKg: average && whole(average.mul(MG_PER_KG)),
  };
}

export interface Saved {
  /** Percentage points less of what was used up wasted; below zero: more. */
  readonly wastePoints: number;
  readonly servedPoints: number;
  /** Below zero: lost. */
  readonly savedG: number;
  /** null: nothing that was bought has a price */
  readonly savedMinor: number | null;
}

/** Null when nothing was used up in one of the two: there is no share of nothing. */
export function savedAgainst(baseline: PeriodMasses, now: PeriodMasses): Saved | null {
  const [before, after] = [baseline, now].map((one) => ({
    waste: share(one.wastedBoughtMg, one.usedUpMg),
    served: share(one.servedBoughtMg, one.usedUpMg),
  }));
  if (!before?.waste || !before.served || !after?.waste || !after.served) return null;
  const less = before.waste.sub(after.waste);
  const savedMg = less.mul(now.usedUpMg);
  const average = averagePerMg(now);
  return {
    wastePoints: whole(less.mul(1000n)) / 10,
    servedPoints: whole(after.served.sub(before.served).mul(1000n)) / 10,
    savedG: grams(savedMg),
    savedMinor: average && whole(savedMg.mul(average)),
  };
}
