import fc from 'fast-check';
import Fraction from 'fraction.js';
import { describe, expect, test } from 'vitest';
import {
  apportion,
  exactJson,
  largestRemainder,
  massOfMg,
  roundHalfAwayFromZero,
  sumFractions,
} from '../../src/domain/exact.ts';

const fraction = fc
  .tuple(fc.bigInt({ min: -1_000_000n, max: 1_000_000n }), fc.bigInt({ min: 1n, max: 997n }))
  .map(([n, d]) => new Fraction(n, d));
const whole = (values: readonly bigint[]): bigint => values.reduce((a, b) => a + b, 0n);
const f = (n: bigint, d = 1n): Fraction => new Fraction(n, d);

describe('mass of part of a lot', () => {
  test('one of three packs of 1 kg weighs a third of it, exactly', () => {
    expect(exactJson(massOfMg(1n, 3n, 1_000_000n))).toEqual({ numerator: '1000000', denominator: '3' });
  });

  test('a whole lot weighs its mass; nothing weighs nothing', () => {
    expect(exactJson(massOfMg(7n, 7n, 1_234_567n))).toEqual({ numerator: '1234567', denominator: '1' });
    expect(exactJson(massOfMg(0n, 7n, 1_234_567n))).toEqual({ numerator: '0', denominator: '1' });
  });

  test('however a lot is split, its parts weigh the lot', () => {
    fc.assert(
      fc.property(
        fc.array(fc.bigInt({ min: 1n, max: 10n ** 12n }), { minLength: 1, maxLength: 12 }),
        fc.bigInt({ min: 0n, max: 10n ** 15n }),
        (parts, lotMassMg) => {
          const masses = parts.map((part) => massOfMg(part, whole(parts), lotMassMg));
          expect(exactJson(sumFractions(masses))).toEqual({ numerator: lotMassMg.toString(), denominator: '1' });
        },
      ),
    );
  });

  test('a lot of nothing and a negative mass are faults', () => {
    expect(() => massOfMg(1n, 0n, 5n)).toThrow(RangeError);
    expect(() => massOfMg(1n, 1n, -5n)).toThrow(RangeError);
  });

  test('quantities beyond 2^53 stay exact', () => {
    const huge = 9_007_199_254_740_993n; // 2^53 + 1, which a float cannot hold
    expect(exactJson(massOfMg(huge, 2n, 1n))).toEqual({ numerator: '9007199254740993', denominator: '2' });
  });
});

describe('rounding', () => {
  test.each([
    [f(5n, 2n), 3n],
    [f(-5n, 2n), -3n],
    [f(12n, 5n), 2n],
    [f(-12n, 5n), -2n],
    [f(-1n, 3n), 0n],
    [f(0n), 0n],
  ])('%s rounds to %s', (value, expected) => {
    expect(roundHalfAwayFromZero(value)).toBe(expected);
  });

  test('three thirds of 100 are printed 34, 33, 33: ties by place in the list', () => {
    expect(largestRemainder([f(100n, 3n), f(100n, 3n), f(100n, 3n)])).toEqual([34n, 33n, 33n]);
  });

  test('the largest remainders are raised, wherever they stand', () => {
    expect(largestRemainder([f(11n, 10n), f(29n, 10n), f(20n, 10n)])).toEqual([1n, 3n, 2n]);
  });

  test('a total ending in a half goes away from zero', () => {
    expect(largestRemainder([f(1n, 2n)])).toEqual([1n]);
    expect(largestRemainder([f(-1n, 2n)])).toEqual([-1n]);
  });

  test('milligrams to whole grams', () => {
    expect(largestRemainder([f(1_400n), f(1_400n), f(-800n)], 1_000n)).toEqual([2_000n, 1_000n, -1_000n]);
  });

  test('an empty list stays empty; a unit of zero is a fault', () => {
    expect(largestRemainder([])).toEqual([]);
    expect(() => largestRemainder([f(1n)], 0n)).toThrow(RangeError);
  });

  test('lines sum to the rounded total, none moves by a unit, and exact multiples stay', () => {
    fc.assert(
      fc.property(fc.array(fraction, { maxLength: 20 }), fc.bigInt({ min: 1n, max: 1_000n }), (values, unit) => {
        const rounded = largestRemainder(values, unit);
        const total = sumFractions(values).div(f(unit));
        // Independent statement of "nearest": the distance to the exact total is at most half a unit.
        expect(f(whole(rounded), unit).sub(total).abs().compare(f(1n, 2n))).toBeLessThanOrEqual(0);
        values.forEach((value, index) => {
          const line = rounded[index] ?? 0n;
          expect(line % unit).toBe(0n);
          expect(f(line).sub(value).abs().compare(f(unit))).toBe(-1);
          if (value.d === 1n && value.n % unit === 0n) expect(line).toBe(value.s * value.n);
        });
      }),
    );
  });

  test('a bigger value is never printed below a smaller one', () => {
    fc.assert(
      fc.property(fc.array(fraction, { minLength: 2, maxLength: 12 }), (values) => {
        const rounded = largestRemainder(values);
        values.forEach((a, i) => {
          values.forEach((b, j) => {
            if (a.compare(b) > 0) expect((rounded[i] ?? 0n) >= (rounded[j] ?? 0n)).toBe(true);
          });
        });
      }),
    );
  });
});

describe('apportioning', () => {
  test('an input of 10 kg over outputs of 2, 3 and 4 kg', () => {
    expect(apportion(10_000n, [2n, 3n, 4n])).toEqual([
      { exact: { numerator: '20000', denominator: '9' }, rounded: 2_222n },
      { exact: { numerator: '10000', denominator: '3' }, rounded: 3_333n },
      { exact: { numerator: '40000', denominator: '9' }, rounded: 4_445n },
    ]);
  });

  test('whole shares sum to the total and a weight of zero gets nothing', () => {
    const weights = fc
      .array(fc.bigInt({ min: 0n, max: 10n ** 9n }), { minLength: 1, maxLength: 15 })
      .filter((list) => list.some((weight) => weight > 0n));
    fc.assert(
      fc.property(fc.bigInt({ min: -(10n ** 15n), max: 10n ** 15n }), weights, (total, list) => {
        const shares = apportion(total, list);
        expect(whole(shares.map((share) => share.rounded))).toBe(total);
        const exact = shares.map((s) => f(BigInt(s.exact.numerator), BigInt(s.exact.denominator)));
        expect(sumFractions(exact).equals(f(total))).toBe(true);
        list.forEach((weight, index) => {
          if (weight === 0n) expect(shares[index]?.rounded).toBe(0n);
        });
      }),
    );
  });

  test('nothing to split by, and negative weights, are faults', () => {
    expect(() => apportion(1n, [])).toThrow(RangeError);
    expect(() => apportion(1n, [0n, 0n])).toThrow(RangeError);
    expect(() => apportion(1n, [2n, -1n])).toThrow(RangeError);
  });
});
