/** Which rates a batch carries: of each kind the most specific one that was valid on the day it began. */
export interface CostRate {
  readonly kind: string;
  readonly siteId: string | null;
  readonly recipeId: string | null;
  /** minor units; exactly one of the two is said */
  readonly perBatchMinor: number | null;
  readonly perKgMinor: number | null;
  readonly fromDate: string;
  readonly throughDate: string | null;
  readonly moneyNo: number;
}

interface Begun {
  readonly siteId: string;
  readonly recipeId: string;
  readonly startedOn: string;
}

/** A newer statement of the same kind, site, recipe and first day takes the place of the older. */
export function ratesInForce<Rate extends CostRate>(rates: readonly Rate[]): Rate[] {
  const newest = new Map<string, Rate>();
  for (const rate of rates) {
    const key = [rate.kind, rate.siteId, rate.recipeId, rate.fromDate].join('|');
    const known = newest.get(key);
    if (!known || known.moneyNo < rate.moneyNo) newest.set(key, rate);
  }
  return [...newest.values()];
}

/** A rate for a recipe goes before one for a site; of equals the one that began later. */
function goesBefore(a: CostRate, b: CostRate): boolean {
  const rank = (rate: CostRate) => (rate.recipeId === null ? 0 : 2) + (rate.siteId === null ? 0 : 1);
  if (rank(a) !== rank(b)) return rank(a) > rank(b);
  return a.fromDate > b.fromDate;
}

/** @param rates as `ratesInForce` answers; @returns one of each kind at most, in the order of their kinds */
export function ratesOf<Rate extends CostRate>(rates: readonly Rate[], batch: Begun): Rate[] {
  const best = new Map<string, Rate>();
  for (const rate of rates) {
    if (rate.siteId !== null && rate.siteId !== batch.siteId) continue;
    if (rate.recipeId !== null && rate.recipeId !== batch.recipeId) continue;
    if (batch.startedOn < rate.fromDate || (rate.throughDate !== null && batch.startedOn > rate.throughDate)) continue;
    const known = best.get(rate.kind);
    if (!known || goesBefore(rate, known)) best.set(rate.kind, rate);
  }
  return [...best.values()].sort((a, b) => (a.kind < b.kind ? -1 : 1));
}
