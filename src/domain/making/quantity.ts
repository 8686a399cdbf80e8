/**
 * How much to have: the quantity at which one unit more would cost as much in waste as it saves in running out (the newsvendor's
 * quantity). With Cu for a unit that is missing and Co for a unit that is left over it is the smallest q with
 * P(demand <= q) >= Cu / (Cu + Co): K. J. Arrow, T. Harris and J. Marschak, "Optimal inventory policy", Econometrica 19 (1951), citation
 * from memory. Compared as exact rationals. An offer, never an order: what it does not know (a feast, the weather) the kitchen knows.
 *
 * Refusals: none. Costs of which both are zero, or one is below zero, throw RangeError.
 */
import Fraction from 'fraction.js';
import { outcomeOf, quantileOf, type DemandEstimate } from './demand.ts';

export interface UnitCosts {
  /** of a unit left over; in any money, since only the proportion counts */
  readonly over: Fraction;
  /** of a unit missing, in the same money */
  readonly under: Fraction;
}

const ZERO = new Fraction(0n);

export function criticalRatio({ over, under }: UnitCosts): Fraction {
  if (over.compare(ZERO) < 0 || under.compare(ZERO) < 0 || over.add(under).equals(ZERO)) {
    throw new RangeError('Costs are not below zero, and not both nothing');
  }
  return under.div(over.add(under));
}

export interface BestQuantity {
  readonly quantity: number;
  /** the ratio lies where all days ran out: this is the largest day seen, and the best may be more */
  readonly capped: boolean;
}

export function bestQuantity(estimate: DemandEstimate, ratio: Fraction): BestQuantity {
  if (ratio.compare(ZERO) <= 0) return { quantity: 0, capped: false };
  const quantity = quantileOf(estimate, ratio);
  return { quantity: quantity ?? estimate.largest, capped: quantity === null };
}

/** Money of an average day at that quantity, in the money of the costs. */
export function expectedCost(estimate: DemandEstimate, { over, under }: UnitCosts, quantity: number): Fraction {
  const { waste, runOut } = outcomeOf(estimate, quantity);
  return waste.mul(over).add(runOut.mul(under));
}

/**
 * Whole packs next to a quantity: the fewer or the more, whichever costs less on an average day; the fewer when both cost the same.
 * The cost is convex in the quantity, so no other number of packs is better.
 */
export function wholePacks(estimate: DemandEstimate, costs: UnitCosts, quantity: number, packSize: number): number {
  const fewer = Math.floor(quantity / packSize) * packSize;
  if (fewer === quantity) return quantity;
  const more = fewer + packSize;
  return expectedCost(estimate, costs, more).compare(expectedCost(estimate, costs, fewer)) < 0 ? more : fewer;
}

/** Quantities worth a look: where the days lie, what is offered; at most `most`, evenly chosen from the days when there are more. */
export function candidates(estimate: DemandEstimate, offered: readonly number[], most: number): number[] {
  const seen = [...new Set([...estimate.steps.map(({ quantity }) => quantity), estimate.largest])].sort(
    (a, b) => a - b,
  );
  const chosen =
    seen.length <= most
      ? seen
      : Array.from({ length: most }, (_, at) => seen[Math.round((at * (seen.length - 1)) / (most - 1))] ?? 0);
  return [...new Set([...chosen, ...offered])].sort((a, b) => a - b);
}
