import Fraction from 'fraction.js';
import { describe, expect, test } from 'vitest';
import { controlLimits, judgeBatches, medianPpm, usualRange, type MadeBatch } from '../../src/domain/yields/spread.ts';
import { splitLoss } from '../../src/domain/yields/split.ts';

const to4 = (value: Fraction, scale: bigint): string => value.div(scale).toString(10).slice(0, 12);

describe('control chart of individuals', () => {
  // The page is cited second-hand, by the tests of other public projects that reproduce it; it was not read itself.
  test('NIST/SEMATECH e-Handbook 6.3.2.2 (second-hand), flow rate of ten batches: mean 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159', () => {
    const rates = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
    const limits = controlLimits(rates.map((rate) => BigInt(Math.round(rate * 10))));
    const printed = (value: Fraction) => Number(value.div(10n).round(4).valueOf().toFixed(4));
    expect(printed(limits.mean)).toBe(50.81);
    expect(printed(limits.meanRange)).toBe(1.8778);
    expect(printed(limits.upper)).toBe(55.8041);
    expect(printed(limits.lower)).toBe(45.8159);
    expect(to4(limits.mean, 10n)).toBe('50.81');
  });

  test('one value has no moving range', () => {
    expect(() => controlLimits([1n])).toThrow(RangeError);
  });

  /** Yields in tenths of a percent; version 1. */
  const made = (...tenths: number[]): MadeBatch[] =>
    tenths.map((value, at) => ({ batchId: `b${at + 1}`, recipeVersion: 1, yieldPpm: BigInt(value) * 1000n }));
  // Mean 85.0; moving ranges 1 2 1 1 2 1 0, mean 8/7; limits 85 ± 3 x (8/7) / 1.128 = 85 ± 3.0395.
  const EIGHT = [850, 840, 860, 850, 840, 860, 850, 850];

  test('by hand: eight batches of mean 85.0 and mean moving range 8/7 leave 81.9605 to 88.0395; 81.9 is below, 82.0 and 88.0 are inside', () => {
    const sides = [819, 820, 880, 881].map((ninth) => judgeBatches(made(...EIGHT, ninth)).at(-1)?.side);
    expect(sides).toEqual(['below', null, null, 'above']);
    const usual = usualRange(made(...EIGHT), 1);
    expect(usual).toMatchObject({ batches: 8, basis: 'same-version' });
    // 3 x 8 / (7 x 1.128) points of 10,000 ppm
    expect(usual?.upper.equals(new Fraction(850_000).add(new Fraction(240_000n * 1000n, 7n * 1128n)))).toBe(true);
  });

  test('seven earlier batches say nothing; a limit itself is inside', () => {
    expect(judgeBatches(made(...EIGHT.slice(1), 10)).at(-1)).toMatchObject({ usual: null, side: null });
    // ranges of 1.128 all: limits are the mean ± 3 exactly
    const steps = Array.from({ length: 8 }, (_, at): MadeBatch => ({
      batchId: `${at}`,
      recipeVersion: 1,
      yieldPpm: at % 2 === 0 ? 850_000n : 861_280n,
    }));
    const at = (yieldPpm: bigint) =>
      judgeBatches([...steps, { batchId: 'x', recipeVersion: 1, yieldPpm }]).at(-1)?.side;
    expect(at(855_640n + 30_000n)).toBe(null);
    expect(at(855_640n + 30_001n)).toBe('above');
    expect(at(855_640n - 30_000n)).toBe(null);
    expect(at(855_640n - 30_001n)).toBe('below');
  });

  test('where all were alike, under half a percentage point is nothing', () => {
    const alike = Array.from({ length: 8 }, () => 850);
    expect([854, 855, 845, 846].map((ninth) => judgeBatches(made(...alike, ninth)).at(-1)?.side)).toEqual([
      null,
      'above',
      'below',
      null,
    ]);
  });

  test('its own version where there are eight of it, all versions otherwise', () => {
    const old = made(...EIGHT).map((batch) => ({ ...batch, recipeVersion: 1 }));
    const now = made(700, 700, 700, 700, 700, 700, 700, 700).map((batch) => ({ ...batch, recipeVersion: 2 }));
    expect(usualRange([...old, ...now.slice(0, 7)], 2)).toMatchObject({ batches: 15, basis: 'all-versions' });
    expect(usualRange([...old, ...now], 2)).toMatchObject({ batches: 8, basis: 'same-version' });
    expect(usualRange([...old, ...now], 2)?.mean.equals(700_000)).toBe(true);
  });

  test('median: the middle one, or the mean of two', () => {
    expect(medianPpm([3n, 1n, 2n])?.equals(2)).toBe(true);
    expect(medianPpm([4n, 1n, 2n, 3n])?.equals(new Fraction(5n, 2n))).toBe(true);
    expect(medianPpm([])).toBe(null);
  });
});

describe('what became of a loss, by hand', () => {
  const kg = (value: number): bigint => BigInt(value * 1000) * 1000n;
  const gramsOf = (masses: Parameters<typeof splitLoss>[0]) => splitLoss(masses).grams;

  test('40 kg in, 85 % expected, 32 kg out: 6 kg of trim and steam were planned, 1 kg of them and 0.3 kg dropped were waste, 0.7 kg nobody explained', () => {
    expect(
      gramsOf({
        inputsMg: [kg(40)],
        outputsMg: [kg(32)],
        lossesMg: { trim: kg(2), 'cooking-loss': kg(5), other: 300_000n },
        expectedYieldPpm: 850_000,
      }),
    ).toEqual({
      inputG: 40_000,
      gainsG: {},
      outputG: 32_000,
      plannedLossG: 6_000,
      recordedWasteG: 1_300,
      lossesG: { trim: 2_000, 'cooking-loss': 5_000, other: 300 },
      unexplainedG: 700,
    });
  });

  test('less lost than planned: only what was lost counts as planned; a sample is never planned', () => {
    expect(
      gramsOf({
        inputsMg: [kg(40)],
        outputsMg: [kg(36)],
        lossesMg: { 'cooking-loss': kg(3), sample: 200_000n },
        expectedYieldPpm: 850_000,
      }),
    ).toMatchObject({ plannedLossG: 3_000, recordedWasteG: 200, unexplainedG: 800 });
  });

  test('rice: 10 kg takes up 16 kg of water and is expected to be 25 kg, so 1 kg of steam is planned; 24.5 kg came out', () => {
    expect(
      gramsOf({
        inputsMg: [kg(10)],
        gainsMg: { 'water-uptake': kg(16) },
        outputsMg: [kg(24.5)],
        lossesMg: { 'cooking-loss': kg(1.2) },
        expectedYieldPpm: 2_500_000,
      }),
    ).toMatchObject({
      plannedLossG: 1_000,
      recordedWasteG: 200,
      unexplainedG: 300,
      gainsG: { 'water-uptake': 16_000 },
    });
  });

  test('a third of a gram in and out: whole grams still add up', () => {
    const third = new Fraction(1_000_000n, 3n);
    const grams = gramsOf({
      inputsMg: [third, third],
      outputsMg: [third],
      lossesMg: { trim: new Fraction(500_000n, 3n) },
      expectedYieldPpm: 700_000,
    });
    expect(grams.inputG).toBe(grams.outputG + grams.plannedLossG + grams.recordedWasteG + grams.unexplainedG);
  });
});
