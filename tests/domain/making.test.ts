/** How much to make: the demand's distribution from days of which some ran out, and the quantity. All expected values are from outside. */
import Fraction from 'fraction.js';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { Refused } from '../../src/domain/errors.ts';
import {
  deviationOf,
  expectedDemand,
  outcomeOf,
  productLimit,
  quantileOf,
  type DemandEstimate,
  type SeenDay,
} from '../../src/domain/making/demand.ts';
import { chooseDays, type SiteDay } from '../../src/domain/making/history.ts';
import { bestQuantity, candidates, criticalRatio, expectedCost, wholePacks } from '../../src/domain/making/quantity.ts';

const days = (seen: readonly number[], ranOut: readonly number[] = []): SeenDay[] => [
  ...seen.map((quantity) => ({ quantity, ranOut: false })),
  ...ranOut.map((quantity) => ({ quantity, ranOut: true })),
];
const whole = (value: number) => new Fraction(BigInt(value));

describe('the product-limit estimate', () => {
  test('6-MP remissions of Freireich et al., Blood 21 (1963): S(6) = 0.857 ... S(23) = 0.448 (weeks and figures from memory; 18/21, 16/17, 14/15, 11/12, 10/11, 6/7, 5/6 by hand)', () => {
    const estimate = productLimit(
      days([6, 6, 6, 7, 10, 13, 16, 22, 23], [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]),
    );
    const survival = estimate.steps.map(({ quantity, atMost, atRisk }) => [
      quantity,
      atRisk,
      (1 - atMost.valueOf()).toFixed(3),
    ]);
    expect(survival).toEqual([
      [6, 21, '0.857'],
      [7, 17, '0.807'],
      [10, 15, '0.753'],
      [13, 12, '0.690'],
      [16, 11, '0.627'],
      [22, 7, '0.538'],
      [23, 6, '0.448'],
    ]);
    // the five longest were all still going on: nobody knows how long
    expect([estimate.largest, estimate.tail.valueOf().toFixed(3)]).toEqual([35, '0.448']);
    expect([quantileOf(estimate, new Fraction(1n, 2n)), quantileOf(estimate, new Fraction(6n, 10n))]).toEqual([
      23,
      null,
    ]);
  });

  test('without days that ran out it is the share of days, exactly', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 30 }), { minLength: 1, maxLength: 40 }), (seen) => {
        const estimate = productLimit(days(seen));
        expect(estimate.tail.equals(0)).toBe(true);
        for (const { quantity, atMost } of estimate.steps) {
          const count = seen.filter((one) => one <= quantity).length;
          expect(atMost.equals(new Fraction(BigInt(count), BigInt(seen.length)))).toBe(true);
        }
        expect(
          expectedDemand(estimate)
            .mul(whole(seen.length))
            .equals(seen.reduce((a, b) => a + b, 0)),
        ).toBe(true);
      }),
      { numRuns: 100 },
    );
  });

  test('by hand: 4, 6+, 8 gives 1/3 and 2/3; mean 20/3, deviation the root of 32/9', () => {
    const estimate = productLimit(days([4, 8], [6]));
    expect(estimate.steps.map(({ probability }) => probability.toFraction())).toEqual(['1/3', '2/3']);
    expect(expectedDemand(estimate).toFraction()).toBe('20/3');
    expect(deviationOf(estimate)).toBeCloseTo(Math.sqrt(32 / 9), 12);
  });

  test('all ran out: nothing is known beyond the largest day', () => {
    const estimate = productLimit(days([], [5, 9]));
    expect([estimate.steps, estimate.largest, estimate.tail.valueOf()]).toEqual([[], 9, 1]);
    expect(bestQuantity(estimate, new Fraction(1n, 2n))).toEqual({ quantity: 9, capped: true });
    expect(() => productLimit([])).toThrow(RangeError);
  });
});

/** As many days as give the distribution: the middle of each of n equal shares. */
const shares = (n: number, quantile: (p: number) => number): DemandEstimate =>
  productLimit(days(Array.from({ length: n }, (_, at) => Math.round(quantile((at + 0.5) / n)))));

/** Standard normal, by the series of its distribution function (Abramowitz and Stegun 26.2.10) and halving. */
function normalQuantile(p: number): number {
  const below = (z: number): number => {
    let [term, sum] = [z, z];
    for (let k = 1; k < 200; k += 1) {
      term *= (-z * z) / (2 * k);
      sum += term / (2 * k + 1);
    }
    return 0.5 + sum / Math.sqrt(2 * Math.PI);
  };
  let [low, high] = [-6, 6];
  for (let step = 0; step < 60; step += 1) {
    const middle = (low + high) / 2;
    if (below(middle) < p) low = middle;
    else high = middle;
  }
  return low;
}

describe('the quantity between waste and running out', () => {
  const exercise = { over: whole(39 - 30), under: whole(59 - 39) };

  test('newsvendor-1-uniform, single-period inventory exercise (stored solution page): c 39, p 59, s 30, uniform 350 to 620: ratio 0.6897, Q = 536', () => {
    const ratio = criticalRatio(exercise);
    expect([ratio.toFraction(), ratio.valueOf().toFixed(4)]).toEqual(['20/29', '0.6897']);
    const estimate = productLimit(days(Array.from({ length: 271 }, (_, at) => 350 + at)));
    expect(bestQuantity(estimate, ratio)).toEqual({ quantity: 536, capped: false });
  });

  test('the same exercise with demand normal(485, 50): Q = 509.7, in whole units 510', () => {
    const estimate = shares(4_000, (p) => 485 + 50 * normalQuantile(p));
    // half a unit up or down is rounded in the days; the printed 509.7 lies within
    expect(Math.abs(bestQuantity(estimate, criticalRatio(exercise)).quantity - 509.7)).toBeLessThanOrEqual(0.8);
  });

  test('newsvendor-2, exercise with inputs c 100, p 140, s 90, normal(1000, 200): ratio 0.8, Q = 1169, lost sales 22.3, profit 37,200', () => {
    const costs = { over: whole(10), under: whole(40) };
    const estimate = shares(6_000, (p) => 1_000 + 200 * normalQuantile(p));
    const ratio = criticalRatio(costs);
    expect(ratio.equals(new Fraction(4n, 5n))).toBe(true);
    const { quantity } = bestQuantity(estimate, ratio);
    expect(Math.abs(quantity - 1_168.32)).toBeLessThanOrEqual(1);
    const { waste, runOut } = outcomeOf(estimate, 1_169);
    expect(Math.abs(runOut.valueOf() - 22.328)).toBeLessThan(0.3);
    const sold = 1_169 - waste.valueOf();
    expect(Math.abs(40 * sold - 10 * waste.valueOf() - 37_200.38)).toBeLessThan(37.2);
  });

  test('no other quantity costs less on an average day, days that ran out or not', () => {
    const quantity = fc.integer({ min: 0, max: 25 });
    const money = fc.integer({ min: 1, max: 9 });
    fc.assert(
      fc.property(
        fc.array(fc.record({ quantity, ranOut: fc.boolean() }), { minLength: 1, maxLength: 12 }),
        money,
        money,
        fc.integer({ min: 1, max: 7 }),
        (seen, over, under, packSize) => {
          const estimate = productLimit(seen);
          const costs = { over: whole(over), under: whole(under) };
          const best = bestQuantity(estimate, criticalRatio(costs)).quantity;
          const costOf = (q: number) => costByHand(estimate, over, under, q);
          const cheapest = Math.min(...Array.from({ length: 40 }, (_, q) => costOf(q)));
          expect(costOf(best)).toBeCloseTo(cheapest, 9);
          expect(expectedCost(estimate, costs, best).valueOf()).toBeCloseTo(cheapest, 9);
          const packed = wholePacks(estimate, costs, best, packSize);
          expect(packed % packSize).toBe(0);
          const cheapestPacked = Math.min(...Array.from({ length: 40 }, (_, packs) => costOf(packs * packSize)));
          expect(costOf(packed)).toBeCloseTo(cheapestPacked, 9);
        },
      ),
      { numRuns: 150 },
    );
  });

  test('candidates: all days when they are few, evenly chosen ones when many, and what is offered', () => {
    expect(candidates(productLimit(days([3, 3, 9], [12])), [10], 20)).toEqual([3, 9, 10, 12]);
    const many = candidates(productLimit(days(Array.from({ length: 101 }, (_, at) => at))), [], 11);
    expect(many).toEqual([0, 10, 20, 30, 40, 50, 60, 70, 80, 90, 100]);
  });
});

function costByHand({ steps, largest, tail }: DemandEstimate, over: number, under: number, q: number): number {
  const all = [...steps.map((step) => [step.quantity, step.probability.valueOf()]), [largest, tail.valueOf()]];
  return all.reduce((sum, [d = 0, p = 0]) => sum + p * (over * Math.max(0, q - d) + under * Math.max(0, d - q)), 0);
}

describe('days that speak', () => {
  const day = (date: string, served: number, more: Partial<SiteDay> = {}): SiteDay => ({
    siteName: 'Ward',
    date,
    served,
    servedDerived: 0,
    opened: 0,
    returned: 0,
    wasted: 0,
    requiredPortions: null,
    ranOut: [],
    countedDays: 0,
    ...more,
  });
  // 25 November 2026 is a Wednesday
  const wednesdays = ['2026-10-21', '2026-10-28', '2026-11-04', '2026-11-11', '2026-11-18'];

  test('five of the same weekday are enough and the others are left alone; with four, all weekdays', () => {
    const rows = [...wednesdays.map((date, at) => day(date, 10 + at)), day('2026-11-19', 99)];
    const chosen = chooseDays(rows, '2026-11-25');
    expect([chosen.kind, chosen.used.map((one) => one.quantity)]).toEqual(['same-weekday', [10, 11, 12, 13, 14]]);
    const fewer = chooseDays(rows.slice(1), '2026-11-25');
    expect([fewer.kind, fewer.used.map((one) => one.quantity)]).toEqual(['all-weekdays', [11, 12, 13, 14, 99]]);
  });

  test('too short a history is refused with how much there is', () => {
    const rows = [day('2026-11-18', 3), day('2026-11-19', 0), day('2026-11-20', 0, { requiredPortions: 4 })];
    expect(() => chooseDays(rows, '2026-11-25')).toThrow(Refused);
    try {
      chooseDays(rows, '2026-11-25');
    } catch (error) {
      // the 19th says nothing: it was not on the menu
      expect((error as Refused).more.members).toEqual({ days: 2, needed: 5 });
    }
  });

  test('sites are added up; one that ran out makes the sum at least that; what came back was not wanted', () => {
    const rows = wednesdays.map((date) => day(date, 10, { returned: 2 }));
    const school = day('2026-11-18', 6, { siteName: 'School', ranOut: ['stock-at-zero'], opened: 1 });
    const { days: seen, used } = chooseDays([...rows, school], '2026-11-25');
    expect(used.at(-1)).toEqual({ quantity: 15, ranOut: true });
    expect(seen.at(-1)?.ranOut).toEqual([{ siteName: 'School', why: 'stock-at-zero' }]);
  });

  test('a count over three days does not say which of them used it: all three are left out', () => {
    const counted = day('2026-11-18', 0, { servedDerived: 30, countedDays: 3 });
    const rows = [...wednesdays.slice(0, 4), '2026-11-16', '2026-11-13'].map((date) => day(date, 10));
    const { days: seen, used } = chooseDays([...rows, counted], '2026-11-25');
    expect(used).toHaveLength(5);
    expect(seen.filter((one) => one.leftOut !== null).map((one) => one.date)).toEqual(['2026-11-16', '2026-11-18']);
  });
});
