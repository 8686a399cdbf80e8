import { describe, expect, test } from 'vitest';
import { batchLossRows, lossSum } from '../../src/domain/month/batch-losses.ts';

const stew = { siteId: 'kitchen', itemId: 'stew' };
const compost = { ...stew, kind: 'trim', destination: 'composting' };
const steam = {
  ...stew,
  kind: 'cooking-loss',
  destination: null,
  massMg: 4_000_000,
  inedibleMassMg: null,
  printedG: 4_000,
};

describe('what was lost inside batches', () => {
  test('210 of 300 g are peel: 90 g of food and 210 g that nobody eats; cooking loss is in no sum', () => {
    const rows = batchLossRows([
      { ...compost, massMg: 300_000, inedibleMassMg: 210_000, printedG: 300 },
      { ...compost, massMg: 100_000, inedibleMassMg: null, printedG: 100 },
      { ...compost, destination: 'animal-feed', massMg: 50_000, inedibleMassMg: 50_000, printedG: 50 },
      steam,
    ]);
    expect(rows).toEqual([
      { ...compost, foodG: 190, inediblePartsG: 210, batches: 2 },
      { ...compost, destination: 'animal-feed', foodG: 0, inediblePartsG: 50, batches: 1 },
      { ...stew, kind: 'cooking-loss', destination: null, foodG: 4_000, inediblePartsG: 0, batches: 1 },
    ]);
    expect(lossSum(rows, () => true)).toEqual({ inBatchesFoodG: 190, inBatchesInediblePartsG: 260 });
    expect(lossSum(rows, (row) => row.destination === null)).toEqual({ inBatchesFoodG: 0, inBatchesInediblePartsG: 0 });
  });

  test('food and inedible parts come to the grams that the batch prints, rounded down or up', () => {
    const partsOf = (massMg: number, inedibleMassMg: number, printedG: number) =>
      batchLossRows([{ ...compost, massMg, inedibleMassMg, printedG }]).map((row) => [row.foodG, row.inediblePartsG]);
    // by hand: 0.8 and 0.7 g: the larger rest is rounded up first
    expect(partsOf(1_500, 700, 1)).toEqual([[1, 0]]);
    expect(partsOf(1_500, 700, 2)).toEqual([[1, 1]]);
    expect(partsOf(600, 600, 0)).toEqual([[0, 0]]);
  });
});
