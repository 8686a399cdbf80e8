/**
 * What is asked for in a day, estimated from days of which some ran out. A day that ran out says only that at least so much was asked for;
 * taking it for the demand would teach the kitchen to run out again. So the distribution is the product-limit estimate of E. L. Kaplan and
 * P. Meier, "Nonparametric estimation from incomplete observations", Journal of the American Statistical Association 53 (1958), citation
 * from memory: days that ran out leave the count above what was served on them, and nothing else is supposed about the shape.
 *
 * Exact rationals throughout. Refusals: none; no day at all is a programming fault and throws RangeError.
 */
import Fraction from 'fraction.js';

export interface SeenDay {
  /** in the item's unit, not below zero */
  readonly quantity: number;
  /** it ran out: at least so much was asked for */
  readonly ranOut: boolean;
}

interface DemandStep {
  readonly quantity: number;
  readonly probability: Fraction;
  /** P(demand <= quantity) */
  readonly atMost: Fraction;
  /** days on which at least so much was asked for, as far as is known */
  readonly atRisk: number;
}

export interface DemandEstimate {
  /** ascending; days that ran out make none */
  readonly steps: readonly DemandStep[];
  /** the largest of all days, of those that ran out too */
  readonly largest: number;
  /** what is left beyond the last step: above zero when the largest days all ran out, and then nobody knows how far it reaches */
  readonly tail: Fraction;
}

const ZERO = new Fraction(0n);
const ONE = new Fraction(1n);
const whole = (value: number): Fraction => new Fraction(BigInt(value));

/** A day that ran out at a quantity counts as one on which that quantity could still have been asked for. */
export function productLimit(days: readonly SeenDay[]): DemandEstimate {
  if (days.length === 0) throw new RangeError('There is nothing to estimate from');
  const byQuantity = new Map<number, { known: number; all: number }>();
  for (const { quantity, ranOut } of days) {
    const seen = byQuantity.get(quantity) ?? { known: 0, all: 0 };
    byQuantity.set(quantity, { known: seen.known + (ranOut ? 0 : 1), all: seen.all + 1 });
  }
  const quantities = [...byQuantity.keys()].sort((a, b) => a - b);
  const steps: DemandStep[] = [];
  let more = ONE;
  let atRisk = days.length;
  for (const quantity of quantities) {
    const { known, all } = byQuantity.get(quantity) ?? { known: 0, all: 0 };
    if (known > 0) {
      const probability = more.mul(new Fraction(BigInt(known), BigInt(atRisk)));
      more = more.sub(probability);
      steps.push({ quantity, probability, atMost: ONE.sub(more), atRisk });
    }
    atRisk -= all;
  }
  return { steps, largest: quantities.at(-1) ?? 0, tail: more };
}

/** Every quantity with its probability; the unknown rest stands at the largest day, which is the least that it can be. */
function masses({ steps, largest, tail }: DemandEstimate): { quantity: number; probability: Fraction }[] {
  return [...steps, { quantity: largest, probability: tail }];
}

const expected = (estimate: DemandEstimate, of: (quantity: number) => number): Fraction =>
  masses(estimate).reduce((sum, { quantity, probability }) => sum.add(probability.mul(whole(of(quantity)))), ZERO);

/** At least so much when the tail is above zero. */
export function expectedDemand(estimate: DemandEstimate): Fraction {
  return expected(estimate, (quantity) => quantity);
}

/** Standard deviation; the root is the only thing that is not exact. */
export function deviationOf(estimate: DemandEstimate): number {
  const mean = expectedDemand(estimate);
  const variance = masses(estimate).reduce((sum, { quantity, probability }) => {
    const off = whole(quantity).sub(mean);
    return sum.add(probability.mul(off).mul(off));
  }, ZERO);
  return Math.sqrt(variance.valueOf());
}

/** The smallest quantity that so much of the days stay within; null: nobody knows, it lies in the tail. */
export function quantileOf({ steps }: DemandEstimate, share: Fraction): number | null {
  return steps.find(({ atMost }) => atMost.compare(share) >= 0)?.quantity ?? null;
}

export interface Outcome {
  readonly quantity: number;
  /** what is left over on an average day */
  readonly waste: Fraction;
  /** what is missing on an average day; at least so much when the tail is above zero */
  readonly runOut: Fraction;
  /** P(demand > quantity); from the largest day on: of a demand beyond it, which may be less */
  readonly chanceOfRunningOut: Fraction;
}

/** What having so much comes to, on an average day. */
export function outcomeOf(estimate: DemandEstimate, quantity: number): Outcome {
  const within = [...estimate.steps].reverse().find((step) => step.quantity <= quantity);
  return {
    quantity,
    waste: expected(estimate, (demand) => Math.max(0, quantity - demand)),
    runOut: expected(estimate, (demand) => Math.max(0, demand - quantity)),
    chanceOfRunningOut: ONE.sub(within?.atMost ?? ZERO),
  };
}
