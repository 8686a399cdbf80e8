/**
 * A month in a few figures, with what each percentage is taken of. Sums of what is printed. Grams are of food: packaging is in none of them
 * (Food Loss and Waste Standard 1.0, 2016, leaves its weight out); money is of everything.
 *
 * Refusals: none.
 */
import Fraction from 'fraction.js';
import { roundHalfAwayFromZero } from '../exact.ts';
import { percentOf } from './percent.ts';
import type { MoneyRow, QuantityRow } from './printed.ts';

export interface PrintedItem {
  readonly packaging: boolean;
  readonly portionsPerUnit: number | null;
  readonly inUnits: QuantityRow;
  readonly inGrams: QuantityRow;
  readonly inMoney: MoneyRow;
}

interface Share {
  readonly value: number | null;
  readonly of: string;
}

export interface MonthSummary {
  readonly boughtG: number;
  readonly inG: number;
  readonly servedG: number;
  readonly servedDerivedG: number;
  readonly otherUseG: number;
  readonly wastedG: number;
  readonly wastedFoodG: number;
  readonly wastedInediblePartsG: number;
  readonly wastedMinor: number;
  readonly servedMinor: number;
  readonly adjustedG: number;
  readonly adjustedMinor: number;
  readonly portionsServed: number | null;
  readonly portionsPerKgBought: number | null;
  readonly wastedPercentOfIn: Share;
  readonly wastedPercentOfServedAndWasted: Share;
  readonly yieldPercent: Share;
}

const servedOf = (row: Pick<QuantityRow, 'served' | 'servedDerived'>): number => row.served + row.servedDerived;
const otherUseOf = (row: QuantityRow): number => row.staffMeals + row.donated + row.tasted + row.sampled;

export const wastedShare = (wastedG: number, servedG: number): Share => ({
  value: percentOf(new Fraction(wastedG), new Fraction(servedG + wastedG)),
  of: 'grams served (seen and derived from counts) + wasted, without packaging',
});

/** @param inediblePartsG of the waste, without packaging */
export function summaryOf(
  items: readonly PrintedItem[],
  inediblePartsG: number,
  batches: { readonly inputG: number; readonly outputG: number },
): MonthSummary {
  const food = items.filter((item) => !item.packaging);
  const sumG = (pick: (row: QuantityRow) => number): number => food.reduce((sum, item) => sum + pick(item.inGrams), 0);
  const sumMinor = (pick: (row: MoneyRow) => number): number =>
    items.reduce((sum, item) => sum + pick(item.inMoney), 0);
  const inG = sumG((row) => row.received + row.produced + row.returnedIn + row.transferIn);
  const boughtG = sumG((row) => row.received);
  const servedG = sumG(servedOf);
  const wastedG = sumG((row) => row.wasted);
  const inPortions = food.filter((item) => item.portionsPerUnit !== null);
  const portions = inPortions.reduce((sum, item) => sum + servedOf(item.inUnits) * (item.portionsPerUnit ?? 0), 0);
  const perKg = boughtG <= 0 ? null : roundHalfAwayFromZero(new Fraction(portions).mul(100_000).div(boughtG));
  return {
    boughtG,
    inG,
    servedG,
    servedDerivedG: sumG((row) => row.servedDerived),
    otherUseG: sumG(otherUseOf),
    wastedG,
    wastedFoodG: wastedG - inediblePartsG,
    wastedInediblePartsG: inediblePartsG,
    wastedMinor: sumMinor((row) => row.wasted),
    servedMinor: sumMinor(servedOf),
    adjustedG: sumG((row) => row.adjusted),
    adjustedMinor: sumMinor((row) => row.adjusted),
    portionsServed: inPortions.length === 0 ? null : portions,
    portionsPerKgBought: inPortions.length === 0 || perKg === null ? null : Number(perKg) / 100,
    wastedPercentOfIn: {
      value: percentOf(new Fraction(wastedG), new Fraction(inG)),
      of: 'grams received + produced + returned from service + transferred in, without packaging',
    },
    wastedPercentOfServedAndWasted: wastedShare(wastedG, servedG),
    yieldPercent: {
      value: percentOf(new Fraction(batches.outputG), new Fraction(batches.inputG)),
      of: 'grams that went into the batches completed in the period',
    },
  };
}
