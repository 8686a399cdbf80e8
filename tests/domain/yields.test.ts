import fc from 'fast-check';
import Fraction from 'fraction.js';
import { describe, expect, test } from 'vitest';
import { batchYield } from '../../src/domain/yields.ts';

const KG_MG = 1_000_000n;
const none = { lossesMg: {}, expectedYieldPpm: null };
const text = (value: Fraction | null): string | undefined => value?.toFraction();

describe('published yields', () => {
  test('edible portion 4.6 kg of 5.2 kg as purchased is 88.5 % (Wall, Trade Calculations, 2007)', () => {
    const result = batchYield({
      ...none,
      inputsMg: [5_200_000n],
      outputsMg: [4_600_000n],
      lossesMg: { trim: 600_000n },
    });
    expect(text(result.yield)).toBe('23/26');
    expect(result.yieldPercent).toBe(88.5);
    expect(text(result.unexplainedMg)).toBe('0');
  });

  test('live 453 kg to rail 276 kg is 61 % (an Oklahoma beef data set); to a tenth 60.9', () => {
    const result = batchYield({ ...none, inputsMg: [453n * KG_MG], outputsMg: [276n * KG_MG] });
    expect(text(result.yield)).toBe('92/151');
    expect(Math.round(result.yieldPercent ?? 0)).toBe(61);
    expect(result.yieldPercent).toBe(60.9);
  });
});

describe('the balance of a batch', () => {
  test('a stew: what is missing is shown, and it is not put on the losses', () => {
    const result = batchYield({
      inputsMg: [30n * KG_MG, 12n * KG_MG],
      outputsMg: [20n * KG_MG, 15n * KG_MG],
      lossesMg: { trim: 2n * KG_MG, 'cooking-loss': 4n * KG_MG },
      expectedYieldPpm: 850_000,
    });
    expect(text(result.consumedMg)).toBe('42000000');
    expect(text(result.outputsMg)).toBe('35000000');
    expect(text(result.lossesMg)).toBe('6000000');
    expect(text(result.lossesByKindMg['trim'] ?? null)).toBe('2000000');
    expect(text(result.unexplainedMg)).toBe('1000000');
    expect(result.yieldPercent).toBe(83.3);
    expect(text(result.expected?.outputsMg ?? null)).toBe('35700000');
    expect(text(result.expected?.shortOfExpectedMg ?? null)).toBe('700000');
    expect(result.expected?.yieldPercent).toBe(85);
  });

  test('rice takes up water: 1 000 g and 1 500 g of water give 2 450 g, and 50 g are missing', () => {
    const result = batchYield({
      ...none,
      inputsMg: [KG_MG],
      gainsMg: { 'water-uptake': 1_500_000n },
      outputsMg: [2_450_000n],
    });
    // by hand: 2 450 / 1 000 = 245 %; 1 000 + 1 500 - 2 450 = 50
    expect(result.yieldPercent).toBe(245);
    expect(text(result.gainsMg)).toBe('1500000');
    expect(text(result.unexplainedMg)).toBe('50000');
  });

  test('more out than in and nothing said: unexplained below zero', () => {
    const result = batchYield({ ...none, inputsMg: [1_000n], outputsMg: [1_250n] });
    expect(text(result.unexplainedMg)).toBe('-250');
  });

  test('thirds of a lot stay thirds', () => {
    const result = batchYield({ ...none, inputsMg: [new Fraction(1000n, 3n), 1n], outputsMg: [new Fraction(1n, 3n)] });
    expect(text(result.consumedMg)).toBe('1003/3');
    expect(text(result.yield)).toBe('1/1003');
    expect(result.yieldPercent).toBe(0.1);
  });

  test('a tenth is rounded half up: 12.25 % is 12.3 %', () => {
    expect(batchYield({ ...none, inputsMg: [400n], outputsMg: [49n] }).yieldPercent).toBe(12.3);
  });

  test('nothing consumed: no yield, and what came out is unexplained', () => {
    const result = batchYield({ inputsMg: [], outputsMg: [5n], lossesMg: {}, expectedYieldPpm: 900_000 });
    expect(result.yield).toBeNull();
    expect(result.yieldPercent).toBeNull();
    expect(text(result.unexplainedMg)).toBe('-5');
    expect(text(result.expected?.outputsMg ?? null)).toBe('0');
  });

  test('consumed + gains = outputs + losses + unexplained, always', () => {
    const masses = fc.array(fc.bigInt({ min: 0n, max: 10n ** 12n }), { maxLength: 8 });
    const losses = fc.dictionary(
      fc.constantFrom('trim', 'cooking-loss', 'other'),
      fc.bigInt({ min: -(10n ** 9n), max: 10n ** 9n }),
    );
    const gains = fc.dictionary(fc.constantFrom('water-uptake', 'other'), fc.bigInt({ min: 0n, max: 10n ** 9n }));
    const sum = (list: readonly bigint[]): bigint => list.reduce((a, b) => a + b, 0n);
    fc.assert(
      fc.property(masses, masses, losses, gains, (inputsMg, outputsMg, lossesMg, gainsMg) => {
        const { unexplainedMg } = batchYield({ inputsMg, gainsMg, outputsMg, lossesMg, expectedYieldPpm: null });
        const out = sum(outputsMg) + sum(Object.values(lossesMg)) + unexplainedMg.s * unexplainedMg.n;
        expect(sum(inputsMg) + sum(Object.values(gainsMg))).toBe(out);
        expect(unexplainedMg.d).toBe(1n);
      }),
    );
  });

  test('negative masses and a senseless expectation are faults', () => {
    expect(() => batchYield({ ...none, inputsMg: [-1n], outputsMg: [] })).toThrow(RangeError);
    expect(() => batchYield({ ...none, inputsMg: [], outputsMg: [-1n] })).toThrow(RangeError);
    const shrunk = { ...none, inputsMg: [1n], outputsMg: [1n], gainsMg: { other: -1n } };
    expect(() => batchYield(shrunk)).toThrow(RangeError);
    expect(() => batchYield({ inputsMg: [], outputsMg: [], lossesMg: {}, expectedYieldPpm: 0 })).toThrow(RangeError);
  });
});
