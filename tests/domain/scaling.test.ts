/** A recipe scaled exactly; the fractions are worked out by hand. */
import Fraction from 'fraction.js';
import { expect, test } from 'vitest';
import { scaleRecipe } from '../../src/domain/scaling.ts';

/** 10 kg of food and 2 l of oil at 920 g a litre: 11.84 kg in, 85 % out: 10.064 kg. */
const recipe = {
  expectedYieldPpm: 850_000,
  inputs: [
    { itemId: 'shin', quantity: 10_000, unitMassMg: 1_000 },
    { itemId: 'oil', quantity: 2_000, unitMassMg: 920 },
  ],
};

test('half a batch is half of everything, and one batch is one', () => {
  const half = scaleRecipe(5_032_000n, recipe);
  expect(half.oneBatchMg.equals(new Fraction(10_064_000n))).toBe(true);
  expect(half.batches.equals(new Fraction(1n, 2n))).toBe(true);
  expect(half.wholeBatches).toBe(1);
  expect(half.inputs.map(({ quantity }) => quantity)).toEqual([5_000, 1_000]);
});

test('what does not come out even stays exact, and is weighed out rounded up', () => {
  // 3 kg of 34 kg: 3/34 of 40 kg is 60000/17 g, 3529.41… g.
  const stew = { expectedYieldPpm: 850_000, inputs: [{ itemId: 'shin', quantity: 40_000, unitMassMg: 1_000 }] };
  const scaled = scaleRecipe(3_000_000n, stew);
  expect(scaled.batches.equals(new Fraction(3n, 34n))).toBe(true);
  expect(scaled.inputs[0]?.exact.equals(new Fraction(60_000n, 17n))).toBe(true);
  expect(scaled.inputs[0]?.quantity).toBe(3_530);
});

test('nothing to make takes nothing; a yield above all that goes in is fine', () => {
  expect(scaleRecipe(0n, recipe)).toMatchObject({ wholeBatches: 0, inputs: [{ quantity: 0 }, { quantity: 0 }] });
  const rice = { expectedYieldPpm: 2_500_000, inputs: [{ itemId: 'rice', quantity: 1_000, unitMassMg: 1_000 }] };
  expect(scaleRecipe(5_000_000n, rice)).toMatchObject({ wholeBatches: 2, inputs: [{ quantity: 2_000 }] });
});

test('a recipe that gives nothing and a mass below zero are faults', () => {
  expect(() => scaleRecipe(1n, { expectedYieldPpm: 850_000, inputs: [] })).toThrow(RangeError);
  expect(() => scaleRecipe(-1n, recipe)).toThrow(RangeError);
});
