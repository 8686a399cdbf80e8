/** Limits by models, and what holds of all limits together: more warmth never gives more life, a gap never more than what it counts at. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { computeLimits } from '../../src/domain/limits/limits.ts';
import type { ItemModel } from '../../src/domain/limits/shapes.ts';
import { at, BORN, factsOf, HOUR, policyFor, wayOf } from './limits-kit.ts';

/** 240 h at 4 °C, Tmin -10 °C: the example of the what-if. */
const MODEL: ItemModel = {
  validationId: 'v',
  model: { kind: 'square-root', minTemperatureC: -10 },
  reference: { temperatureC: 4, lifeH: 240 },
  validatedBy: 'N. Pell',
  basis: 'challenge-test',
  document: null,
};
const policy = policyFor('gb-eng');
type Steps = Parameters<typeof wayOf>[0];

function limitOf(steps: Steps, model: ItemModel, presumedFromMs: number | null = null) {
  const { limits } = computeLimits(factsOf({ model }), [wayOf(steps, { presumedFromMs })], [policy]);
  return limits.find(({ code }) => code === 'item-model');
}

describe("an item's own model", () => {
  test('Ratkowsky 1982: 6 h at 9 °C take (19/14)² x 6 h of 240; what is left ends in whole days', () => {
    const limit = limitOf([[6, 9]], MODEL);
    // 11.051 h of 240 used, 228.949 h from noon on the 23rd: 00:56 on 3 December
    expect(limit?.usedFraction).toBeCloseTo(11.05102 / 240, 7);
    expect(limit?.endsAtMs).toBe(at('2026-12-03T00:00:00Z'));
    expect(limit?.drives).toBe(true);
  });

  test('below two days it is said in whole hours', () => {
    // 200 h at 4 °C used; 40 h from 14:00 on 1 December
    expect(limitOf([[200, 4]], MODEL)?.endsAtMs).toBe(at('2026-12-03T06:00:00Z'));
    // 199.5 h used at 13:30; 40.5 h on is 06:00 again
    expect(limitOf([[199.5, 4]], MODEL)?.endsAtMs).toBe(at('2026-12-03T06:00:00Z'));
  });

  test('used up: the end is the hour in which it was', () => {
    // at 18 °C four times as fast: 240 h are used after 60, at 18:00 on the 25th
    expect(limitOf([[100, 18]], MODEL)?.endsAtMs).toBe(at('2026-11-25T18:00:00Z'));
  });

  test('on values from memory it is told and drives nothing; nor where nobody has seen the food', () => {
    expect(limitOf([[6, 9]], { ...MODEL, basis: 'from-memory' })?.drives).toBe(false);
    expect(limitOf([[6, 9]], MODEL, BORN + 2 * HOUR)).toMatchObject({ drives: false, presumed: true });
  });
});

describe('the line of time to possible toxin', () => {
  const packed = { anchors: { firstSeal: BORN } };
  const toxin = (steps: Steps, more = {}) =>
    computeLimits(factsOf({ ...packed, ...more }), [wayOf(steps)], [policy]).limits.find(
      ({ code }) => code === 'toxin-advisory',
    );

  test('is advice from memory, never drives, and says nothing below 3 °C or of food that is controlled', () => {
    expect(toxin([[24, 8]])).toMatchObject({ drives: false, basis: 'from-memory' });
    expect(toxin([[24, 2.99]])).toBeUndefined();
    const controls = [{ factor: 'heat' as const, value: 90, minutes: 10, signedBy: 'N. Pell' }];
    expect(toxin([[24, 8]], { controls })).toBeUndefined();
    expect(toxin([[24, 8]], { anchors: {} })).toBeUndefined();
  });

  // Earliest toxin seen, days: the table of Traps in the reference of food-safety values (read).
  test.each([
    [30, 0.5],
    [16, 2],
    [12, 3],
    [8, 6],
    [4, 15],
  ])('at %d °C it is used up before day %d, when toxin was first seen', (c, days) => {
    expect(toxin([[days * 24, c]])?.usedFraction).toBeGreaterThan(1);
  });
});

const all = policyFor('gb-nir', ['cook-chill-5-days', 'cook-chill-5-c', 'cook-chill-10-c', 'vacuum-pack-controls']);
const facts = factsOf({ cookChill: true, model: MODEL, anchors: { firstSeal: BORN, endOfCooking: BORN } });
const centi = fc.integer({ min: -300, max: 1500 });
const steps = fc.array(fc.tuple(fc.integer({ min: 1, max: 200 }), centi), { minLength: 1, maxLength: 8 });
const asSteps = (list: readonly (readonly [number, number])[]): [number, number][] =>
  list.map(([tenths, c]) => [tenths / 10, c / 100]);
const endOf = (list: Steps, more = {}) => computeLimits(facts, [wayOf(list, more)], [all]).effectiveAtMs ?? Infinity;

test('more warmth at any time never gives more life', () => {
  fc.assert(
    fc.property(steps, fc.nat(), fc.integer({ min: 1, max: 900 }), (list, which, more) => {
      const warmer = list.map(([tenths, c], no): [number, number] => [
        tenths,
        no === which % list.length ? c + more : c,
      ]);
      expect(endOf(asSteps(warmer))).toBeLessThanOrEqual(endOf(asSteps(list)));
    }),
    { numRuns: 400 },
  );
});

test('a second way never gives more life than either alone, in whatever order; each limit takes its worse value', () => {
  fc.assert(
    fc.property(steps, steps, (a, b) => {
      const ways = [wayOf(asSteps(a)), wayOf(asSteps(b))];
      const both = computeLimits(facts, ways, [all]);
      const turned = computeLimits(facts, [...ways].reverse(), [all]);
      const alone = Math.min(endOf(asSteps(a)), endOf(asSteps(b)));
      expect(both.effectiveAtMs ?? Infinity).toBe(alone);
      expect(turned.effectiveAtMs).toBe(both.effectiveAtMs);
    }),
    { numRuns: 200 },
  );
});

test('the computed end is never later than the printed date, the date of the lot, or what it was made from', () => {
  fc.assert(
    fc.property(steps, fc.integer({ min: -50, max: 500 }), (list, hours) => {
      const endsAtMs = BORN + hours * HOUR;
      const input = { endsAtMs, lotCode: 'P', code: 'cook-chill-10-c', forbids: true };
      for (const more of [{ printedUseByAtMs: endsAtMs }, { lotUseByAtMs: endsAtMs }, { input }]) {
        const computed = computeLimits({ ...facts, ...more }, [wayOf(asSteps(list))], [all]);
        expect(computed.effectiveAtMs).toBeLessThanOrEqual(endsAtMs);
        if ('input' in more) expect(computed.forbiddenBy).not.toBeNull();
      }
    }),
    { numRuns: 100 },
  );
});

test('on the road the rules of both sites hold: the stricter counts', () => {
  const way = wayOf([
    [1, 3],
    [5, 9],
  ]);
  const food = factsOf({});
  const ends = (policies: Parameters<typeof computeLimits>[2]) => computeLimits(food, [way], policies).effectiveAtMs;
  expect(ends([policyFor('gb-sct'), policyFor('gb-nir')])).toBe(ends([policyFor('gb-nir')]));
  expect(ends([policyFor('gb-sct')])).toBe(at('2027-01-01T00:00:00Z'));
});
