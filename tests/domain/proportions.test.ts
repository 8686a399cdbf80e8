/** Control limits of proportions against the published example, and a run's rejects against plain sums. */
import { describe, expect, test } from 'vitest';
import { Refused } from '../../src/domain/errors.ts';
import { packsRejected } from '../../src/domain/process-checks/programmes.ts';
import { judgeProportions, meanProportion } from '../../src/domain/process-checks/proportions.ts';

describe('control limits of proportions', () => {
  test('NIST/SEMATECH e-Handbook 6.3.3.2 (second-hand): 30 wafers of 50 chips, mean .2313, limits .0524 and .4102', () => {
    // The mean is published; 347 of 1,500 give it. The limits follow by hand: 3 x sqrt(.2313 x .7687 / 50) = .1789.
    const samples = Array.from({ length: 30 }, (_, at) => ({ n: 50, bad: at < 17 ? 12 : 11 }));
    expect(samples.reduce((sum, { bad }) => sum + bad, 0)).toBe(347);
    expect(meanProportion(samples)).toBeCloseTo(0.2313, 4);
    for (const judged of judgeProportions(samples)) {
      expect(judged?.lower).toBeCloseTo(0.0524, 3);
      expect(judged?.upper).toBeCloseTo(0.4102, 3);
      expect(judged).toMatchObject({ side: null, rough: false });
    }
  });

  test('a larger sample has narrower limits, and each side is told', () => {
    // By hand: 1 % of 15,200. n 100: .01 ± 3 x .00995, so below 0 is cut off and above is .03985; n 10,000: .01 ± .002985.
    const samples = [
      { n: 10_000, bad: 69 },
      ...Array.from({ length: 7 }, () => ({ n: 700, bad: 11 })),
      { n: 300, bad: 6 },
    ];
    expect(meanProportion(samples)).toBe(0.01);
    const [large, , , , , , , , small] = judgeProportions(samples);
    expect(large).toMatchObject({ side: 'below', rough: false });
    expect(large?.lower).toBeCloseTo(0.007015, 6);
    expect(small).toMatchObject({ lower: 0, side: null, rough: true });
    expect(small?.upper).toBeCloseTo(0.027234, 6);
  });

  test('too few samples have no limits, none no mean', () => {
    expect(judgeProportions([{ n: 50, bad: 12 }])).toEqual([null]);
    expect(meanProportion([])).toBeNull();
  });
});

describe('what a run rejected', () => {
  test.each([
    [undefined, undefined, 0],
    [4, undefined, 4],
    [undefined, [3, 1], 4],
    [4, [3, 1], 4],
  ])('said as %s and by reason %s is %s', (total, packs, sum) => {
    const rejects = packs?.map((one, at) => ({
      reason: at === 0 ? ('leak' as const) : ('crease' as const),
      packs: one,
    }));
    expect(packsRejected(total, rejects)).toBe(sum);
  });

  test('sums that differ and a reason twice are refused', () => {
    const leaks = { reason: 'leak', packs: 3 } as const;
    expect(() => packsRejected(4, [leaks])).toThrow(Refused);
    expect(() => packsRejected(6, [leaks, leaks])).toThrow(Refused);
  });
});
