/**
 * A recipe scaled to what is still to make, exactly. Why: half a batch of 40 kg is 20 kg and not "about half"; nothing is rounded but the
 * numbers to weigh out, which are rounded up to whole units, because a gram too few is a portion too few. Masses of inputs are nominal.
 * Refusals: none. A recipe that gives nothing, or a mass below zero, is a fault and throws RangeError.
 */
import Fraction from 'fraction.js';
import { sumFractions } from './exact.ts';

export interface ScalableRecipe {
  /** mass out over mass in, parts per million */
  readonly expectedYieldPpm: number;
  readonly inputs: readonly {
    readonly itemId: string;
    /** for one batch, in the item's unit */
    readonly quantity: number;
    /** nominal, milligrams */
    readonly unitMassMg: number;
  }[];
}

export interface ScaledRecipe {
  /** what one batch is expected to give, milligrams */
  readonly oneBatchMg: Fraction;
  readonly batches: Fraction;
  /** rounded up */
  readonly wholeBatches: number;
  /** in the items' units: exact, and rounded up to whole ones */
  readonly inputs: readonly { readonly itemId: string; readonly exact: Fraction; readonly quantity: number }[];
}

const whole = (value: Fraction): number => Number(value.ceil().n);

/** @param massMg of food that is wanted, milligrams, not below zero */
export function scaleRecipe(massMg: bigint, recipe: ScalableRecipe): ScaledRecipe {
  if (massMg < 0n) throw new RangeError(`A mass to make is not below zero: ${massMg} mg`);
  const inputsMg = recipe.inputs.map((input) => new Fraction(BigInt(input.quantity) * BigInt(input.unitMassMg)));
  const oneBatchMg = sumFractions(inputsMg).mul(new Fraction(BigInt(recipe.expectedYieldPpm), 1_000_000n));
  if (oneBatchMg.s <= 0n || oneBatchMg.n === 0n) throw new RangeError('A batch of this recipe gives nothing');
  const batches = new Fraction(massMg).div(oneBatchMg);
  return {
    oneBatchMg,
    batches,
    wholeBatches: whole(batches),
    inputs: recipe.inputs.map(({ itemId, quantity }) => {
      const exact = batches.mul(new Fraction(BigInt(quantity)));
      return { itemId, exact, quantity: whole(exact) };
    }),
  };
}
