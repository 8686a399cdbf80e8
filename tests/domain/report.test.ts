import { describe, expect, test } from 'vitest';
import {
  batchResult,
  monthOf,
  sumBatches,
  summaryOf,
  type MonthFlow,
  type MonthLines,
} from '../../src/domain/report.ts';

/** Packs of one lot: 40 weighing 12.1 kg, so 302.5 g each. */
const heavy = { itemId: 'pack', lotQuantity: 40, lotMassMg: 12_100_000, reason: null };
/** Packs of another: 10 of 300 g. */
const plain = { itemId: 'pack', lotQuantity: 10, lotMassMg: 3_000_000, reason: null };
const shin = { itemId: 'shin', lotQuantity: 30_000, lotMassMg: 30_000_000, reason: null };

/** Added up by hand, as a clerk would: what was there and came, against what went and is left. */
function sides(lines: MonthLines): [number, number] {
  const { opening, received, produced, returnedIn, transferIn, adjusted } = lines;
  const { consumed, served, wasted, transferOut, returnedToSupplier, closing } = lines;
  return [
    opening + received + produced + returnedIn + transferIn + adjusted,
    consumed + served + wasted + transferOut + returnedToSupplier + closing,
  ];
}

const packMonth: MonthFlow[] = [
  { ...heavy, line: 'produced', quantity: 40 },
  { ...plain, line: 'produced', quantity: 10 },
  { ...heavy, line: 'served', quantity: 20 },
  { ...plain, line: 'served', quantity: 2 },
  { ...heavy, line: 'returnedIn', quantity: 1 },
  { ...heavy, line: 'wasted', reason: 'past-use-by', quantity: 3 },
  { ...heavy, line: 'adjusted', quantity: -1 },
  // 16 there today, one used since the month's end
  { ...heavy, line: 'now', quantity: 16 },
  { ...heavy, line: 'after', quantity: -1 },
  { ...plain, line: 'now', quantity: 8 },
];

describe('the month of an item', () => {
  test('adds up in units and in grams, rounded once', () => {
    const [pack] = monthOf(packMonth);
    expect(pack?.inUnits).toEqual({
      opening: 0,
      received: 0,
      produced: 50,
      returnedIn: 1,
      transferIn: 0,
      adjusted: -1,
      consumed: 0,
      served: 22,
      servedDerived: 0,
      transferOut: 0,
      returnedToSupplier: 0,
      wasted: 3,
      wastedByReason: [{ reason: 'past-use-by', quantity: 3 }],
      closing: 25,
    });
    // Exact: 15 100; 302.5 back; -302.5 found missing; 6 050 + 600 served; 907.5 wasted; 17 x 302.5 + 8 x 300 = 7 542.5 left.
    // Signed floors sum to -2, so the first two of the equal halves are raised: 303 back and -302 missing.
    expect(pack?.inGrams).toMatchObject({
      produced: 15_100,
      returnedIn: 303,
      adjusted: -302,
      served: 6_650,
      wasted: 908,
      closing: 7_543,
    });
    expect(sides(pack?.inUnits as MonthLines)).toEqual([50, 50]);
    expect(sides(pack?.inGrams as MonthLines)).toEqual([15_101, 15_101]);
  });

  test('opening follows from what is left: thirds of a gram on both sides of the month', () => {
    // three pieces of 1 g together: a third of a gram each; two were there, one was served, one is left
    const third = { itemId: 'crumb', lotQuantity: 3, lotMassMg: 1_000, reason: null };
    const [crumb] = monthOf([
      { ...third, line: 'served', quantity: 1 },
      { ...third, line: 'now', quantity: 1 },
    ]);
    expect(crumb?.inUnits).toMatchObject({ opening: 2, served: 1, closing: 1 });
    // 2/3, -1/3, -1/3: floors 0, -1, -1 need two more; remainders are all 2/3, so the opening and the served line are raised
    expect(crumb?.inGrams).toMatchObject({ opening: 1, served: 0, closing: 1 });
    expect(JSON.stringify(crumb)).not.toContain('-0');
  });

  test('what counts show to be gone is served as well, and said apart', () => {
    const [pack] = monthOf([
      { ...heavy, line: 'served', quantity: 2 },
      { ...heavy, line: 'servedDerived', quantity: 5 },
      { ...heavy, line: 'now', quantity: 1 },
    ]);
    expect(pack?.inUnits).toMatchObject({ opening: 8, served: 7, servedDerived: 5, closing: 1 });
    // exact: 2 420 there, 2 117.5 served, 1 512.5 of it derived (halves away from zero), 302.5 left; of the two equal
    // remainders of the row the first, served, is raised
    expect(pack?.inGrams).toMatchObject({ opening: 2_420, served: 2_117, servedDerived: 1_513, closing: 303 });
    expect(sides(pack?.inGrams as MonthLines)).toEqual([2_420, 2_420]);
    // all of it derived: never more than the line that it is a part of
    const all = monthOf([
      { ...heavy, line: 'servedDerived', quantity: 1 },
      { ...heavy, line: 'now', quantity: 1 },
    ]);
    expect(all[0]?.inGrams).toMatchObject({ opening: 605, served: 302, servedDerived: 302, closing: 303 });
    expect(summaryOf(all)).toMatchObject({ servedG: 302, servedDerivedG: 302 });
  });

  test('an item that was not there and did nothing is left out; a line that is none is a fault', () => {
    expect(
      monthOf([
        { ...shin, line: 'now', quantity: 5 },
        { ...shin, line: 'after', quantity: 5 },
      ]),
    ).toEqual([]);
    expect(() => monthOf([{ ...shin, line: 'lost' as 'now', quantity: 5 }])).toThrow(RangeError);
  });

  test('the summary sums what is printed and says percentages of what', () => {
    const shinMonth: MonthFlow[] = [
      { ...shin, line: 'received', quantity: 30_000 },
      { ...shin, line: 'wasted', reason: 'trim', quantity: 1_000 },
      { ...shin, line: 'now', quantity: 29_000 },
    ];
    const summary = summaryOf(monthOf([...packMonth, ...shinMonth]));
    expect(summary).toEqual({
      inG: 30_000 + 15_100 + 303,
      servedG: 6_650,
      servedDerivedG: 0,
      wastedG: 1_908,
      wastedByReason: [
        { reason: 'past-use-by', quantityG: 908 },
        { reason: 'trim', quantityG: 1_000 },
      ],
      adjustedG: -302,
      // 1 908 / 45 403 = 4.202 %; 1 908 / 8 558 = 22.295 %
      wastedPercentOfIn: 4.2,
      wastedPercentOfServedAndWasted: 22.3,
    });
    expect(summaryOf([]).wastedPercentOfIn).toBeNull();
  });
});

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
