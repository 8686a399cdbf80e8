import { describe, expect, test } from 'vitest';
import { batchResult, sumBatches } from '../../src/domain/month/batches.ts';

describe('batches', () => {
  const g = (quantity: number) => ({ lotQuantity: 1_000, lotMassMg: 1_000_000, quantity });
  const first = batchResult({
    inputs: [g(8_000), g(24_000)],
    outputs: [g(15_000), g(12_600)],
    gainsMg: {},
    lossesMg: { 'cooking-loss': 4_000_000 },
    expectedYieldPpm: 850_000,
  });

  test('input = output + losses + unexplained, in grams', () => {
    expect(first.grams).toEqual({
      inputG: 32_000,
      gainsG: {},
      outputG: 27_600,
      lossesG: { 'cooking-loss': 4_000 },
      unexplainedG: 400,
    });
    // 27 600 / 32 000 = 86.25 %
    expect(first.exact.yieldPercent).toBe(86.3);
    const thirds = batchResult({
      inputs: [{ lotQuantity: 3, lotMassMg: 1_000_000, quantity: 1 }],
      outputs: [{ lotQuantity: 3, lotMassMg: 1_000_000, quantity: 2 }],
      gainsMg: {},
      lossesMg: { trim: 500 },
      expectedYieldPpm: 1_000_000,
    });
    // 333 1/3 in, 666 2/3 out, half a gram trimmed, so 333 5/6 more came out than went in
    const { inputG, outputG, lossesG, unexplainedG } = thirds.grams;
    expect(inputG).toBe(outputG + (lossesG['trim'] ?? 0) + unexplainedG);
    expect([Math.abs(inputG - 333.33) < 1, Math.abs(outputG - 666.67) < 1, unexplainedG < 0]).toEqual([
      true,
      true,
      true,
    ]);
  });

  test('rice: input + gains = output + losses + unexplained, in grams', () => {
    const rice = batchResult({
      inputs: [g(1_000)],
      outputs: [g(2_450)],
      gainsMg: { 'water-uptake': 1_500_000 },
      lossesMg: {},
      expectedYieldPpm: 2_500_000,
    });
    expect(rice.grams).toEqual({
      inputG: 1_000,
      gainsG: { 'water-uptake': 1_500 },
      outputG: 2_450,
      lossesG: {},
      unexplainedG: 50,
    });
    expect(sumBatches([rice, rice])).toMatchObject({ gainsG: { 'water-uptake': 3_000 }, unexplainedG: 100 });
  });

  test('several batches of a recipe: grams are summed, yields are of the sums', () => {
    const second = batchResult({
      inputs: [g(8_000)],
      outputs: [g(6_400)],
      gainsMg: {},
      lossesMg: { trim: 600_000 },
      expectedYieldPpm: 900_000,
    });
    expect(sumBatches([first, second])).toEqual({
      batches: 2,
      inputG: 40_000,
      gainsG: {},
      outputG: 34_000,
      lossesG: { 'cooking-loss': 4_000, trim: 600 },
      unexplainedG: 400 + 1_000,
      yieldPercent: 85,
      // 0.85 x 32 000 + 0.9 x 8 000 = 34 400 of 40 000
      expectedYieldPercent: 86,
    });
    expect(sumBatches([])).toMatchObject({ inputG: 0, yieldPercent: null });
  });
});
