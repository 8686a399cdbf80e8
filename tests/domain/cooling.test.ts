/** Cooling by the published rules; crossings and clocks by hand: 1 °C a minute, so that each crossing can be read off. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { cool } from '../../src/domain/process-checks/cooling.ts';
import { coolingRule, coolingRuleOf } from '../../src/domain/process-checks/cooling-rules.ts';
import { judge } from '../../src/domain/process-checks/judge.ts';
import { readSeries } from '../../src/domain/process-checks/series.ts';
import type { Judgement, SeriesPoint } from '../../src/domain/process-checks/shapes.ts';

const points = (...pairs: readonly (readonly [number, number])[]): SeriesPoint[] =>
  pairs.map(([minute, temperatureC]) => ({ minute, temperatureC }));
const held = (code: string, series: SeriesPoint[]): Judgement =>
  judge('cooling', { form: 'series', points: series }, { form: 'cooling', rule: coolingRule(code) });

describe('the rules', () => {
  const numbers = (code: string) =>
    coolingRule(code).points.map(({ fromC, toC, withinMinutes }) => [fromC, toC, withinMinutes]);

  test('Food Code 3-501.14 (Delaware, Minnesota): 57 to 21 °C in 2 hours, to 5 °C in 6 in all; ambient ingredients 4 hours', () => {
    expect(numbers('us-food-code')).toEqual([
      [57, 21, 120],
      [57, 5, 360],
    ]);
    expect(numbers('us-ambient-ingredients')).toEqual([[null, 5, 240]]);
  });

  test('FSIS Appendix B 1999, option 1: 130 to 80 °F in 1.5 hours, 80 to 40 °F in 5', () => {
    const [first, second] = numbers('us-fsis-option-1');
    // 130 °F = 54.444 °C, 80 °F = 26.667 °C, 40 °F = 4.444 °C
    expect(first?.map((one) => Number(one?.toFixed(3)))).toEqual([54.444, 26.667, 90]);
    expect(second?.map((one) => Number(one?.toFixed(3)))).toEqual([26.667, 4.444, 300]);
  });

  test('France, arrêté of 21 December 2009 (second-hand): 63 to 10 °C in 2 hours', () => {
    expect(numbers('fr-rapid-cooling')).toEqual([[63, 10, 120]]);
    expect(coolingRule('fr-rapid-cooling').source.basis).toBe('second-hand');
  });

  test('Department of Health 1989 (from memory): to 3 °C in 90 minutes; a pass says that it is from memory', () => {
    expect(numbers('gb-cook-chill')).toEqual([[null, 3, 90]]);
    const judged = held('gb-cook-chill', points([0, 75], [90, 3]));
    expect(judged.result).toBe('passed');
    expect(judged.reasons.join(' ')).toMatch(/from memory.*has to confirm/);
    expect(judged.reasons.join(' ')).toContain('within 30 minutes of the end of cooking');
  });

  test('FSAI Guidance Note 15: to 3 °C in not more than 150 minutes', () => {
    expect(numbers('ie-cook-chill')).toEqual([[null, 3, 150]]);
    expect(held('ie-cook-chill', points([0, 75], [150, 3])).result).toBe('passed');
    expect(held('ie-cook-chill', points([0, 75], [151, 3])).result).toBe('failed');
  });

  test('each site has the rule of its jurisdiction, a part of a country that of the country', () => {
    const of = (jurisdiction: string) => coolingRuleOf(jurisdiction)?.code ?? null;
    expect(['GB', 'GB-SCT', 'IE', 'FR', 'US', 'DE'].map(of)).toEqual([
      'gb-cook-chill',
      'gb-cook-chill',
      'ie-cook-chill',
      'fr-rapid-cooling',
      'us-food-code',
      null,
    ]);
  });
});

describe('clocks and crossings', () => {
  const RULE = {
    code: 'own',
    points: [{ code: 'p', label: '63 °C to 10 °C', fromC: 63, toC: 10, withinMinutes: 120 }],
  };
  const one = (...pairs: readonly (readonly [number, number])[]) => cool(points(...pairs), RULE)[0];

  test('between readings by the straight line: 70 at 0 and 60 at 20 crosses 63 at 14; 12 at 100 and 7 at 110 crosses 10 at 104', () => {
    expect(one([0, 70], [20, 60], [100, 12], [110, 7])).toMatchObject({
      state: 'met',
      startedAtMinute: 14,
      endedAtMinute: 104,
      tookMinutes: 90,
      leftMinutes: 30,
      started: { betweenMinutes: [0, 20] },
      ended: { betweenMinutes: [100, 110] },
    });
  });

  test('exactly the time allowed is met, a second more is not', () => {
    expect(one([0, 63], [120, 10])).toMatchObject({ state: 'met', leftMinutes: 0 });
    expect(one([0, 63], [120 + 1 / 60, 10])).toMatchObject({ state: 'too-slow', met: false });
  });

  test('thirds and sevenths of a minute do not fail what takes exactly 120', () => {
    // 64 to 62 in 2/3 minute crosses 63 at 1/3; 11 to 9 in 2/7 minute from 120 + 1/3 - 1/7 crosses 10 at 120 + 1/3.
    const ends = 120 + 1 / 3;
    expect(one([0, 64], [2 / 3, 62], [ends - 1 / 7, 11], [ends + 1 / 7, 9])).toMatchObject({ state: 'met' });
  });

  test('the clock begins the first time it comes down, and does not begin again when the food is warmed', () => {
    expect(one([0, 64], [1, 62], [30, 66], [90, 20], [130, 8])).toMatchObject({
      state: 'too-slow',
      startedAtMinute: 0.5,
    });
  });

  test('it ends when it is cold for good: warmed above 10 °C again, the later time counts', () => {
    expect(one([0, 63], [60, 9], [80, 12], [100, 8])).toMatchObject({ state: 'met', endedAtMinute: 90 });
    expect(one([0, 63], [60, 9], [80, 12])).toMatchObject({
      state: 'not-reached',
      endedAtMinute: null,
      leftMinutes: 40,
    });
  });

  test('heating before it does not start the clock; that the series began below is said', () => {
    const series = points([0, 12], [20, 75], [32, 63], [92, 10]);
    expect(cool(series, RULE)[0]).toMatchObject({ state: 'met', startedAtMinute: 32, tookMinutes: 60 });
    expect(held('fr-rapid-cooling', series).reasons[0]).toContain(
      'begins at 12 °C, below 63 °C, and rises above it later',
    );
  });

  test('what is not shown has not happened: begun below, never above, never reached', () => {
    expect(one([0, 60], [30, 8])).toMatchObject({
      state: 'start-not-shown',
      startedAtMinute: null,
      endedAtMinute: expect.any(Number) as number,
      tookMinutes: null,
    });
    expect(one([0, 9], [30, 5])).toMatchObject({ state: 'no-cooling' });
    expect(one([0, 70], [200, 20])).toMatchObject({ state: 'not-reached', met: false });
    expect(held('fr-rapid-cooling', points([0, 60], [30, 8])).reasons[0]).toMatch(
      /begins at 60 °C and is never above 63 °C/,
    );
    expect(held('gb-cook-chill', points([0, 2], [30, 1])).result).toBe('failed');
  });

  test('where the rule names no start, a series that is nowhere at 63 °C (hot food, WSI 2006/31) shows no beginning', () => {
    const late = held('ie-cook-chill', points([0, 62.9], [60, 3]));
    expect(late).toMatchObject({
      result: 'failed',
      numbers: { points: [{ state: 'start-not-shown', leftMinutes: null }] },
    });
    expect(late.reasons[0]).toMatch(/nowhere at 63 °C or above/);
    expect(held('ie-cook-chill', points([0, 63], [60, 3])).result).toBe('passed');
    // a probe that is pushed in cold is warm a minute later
    expect(held('ie-cook-chill', points([0, 12], [1, 70], [60, 3])).result).toBe('passed');
    const own = { form: 'cooling', rule: { ...coolingRule('ie-cook-chill'), code: 'own' } } as const;
    expect(judge('cooling', { form: 'series', points: points([0, 4], [50, 2]) }, own).result).toBe('failed');
    // Food Code: made of ingredients at room temperature, never hot
    expect(held('us-ambient-ingredients', points([0, 20], [200, 5])).result).toBe('passed');
  });

  test('which point of the rule failed: slow at first, cold in time', () => {
    // Food Code, by hand: 57 at 0, 21 at 150 (30 over), 5 at 300 (60 left).
    const judged = held('us-food-code', points([0, 57], [150, 21], [300, 5]));
    expect(judged.result).toBe('failed');
    expect(judged.reasons).toEqual(['57 °C to 21 °C: it took 150 minutes; 120 are allowed, so it was over by 30.']);
    expect(judged.numbers.points).toMatchObject([
      { state: 'too-slow', leftMinutes: -30 },
      { state: 'met', leftMinutes: 60 },
    ]);
  });

  test('FSIS option 1 in Fahrenheit: 130 °F at 0, 80 °F at 90, 40 °F at 390 is met to the minute', () => {
    const series = readSeries(
      [
        [0, 150],
        [10, 130],
        [100, 80],
        [400, 40],
      ].map(([minute = 0, temperatureF = 0]) => ({ minute, temperatureF })),
    );
    expect(cool(series, coolingRule('us-fsis-option-1'))).toMatchObject([
      { state: 'met', startedAtMinute: 10, endedAtMinute: 100, leftMinutes: 0 },
      { state: 'met', startedAtMinute: 100, endedAtMinute: 400, leftMinutes: 0 },
    ]);
  });

  test('readings far apart: met by reckoning, and that it need not have been is said', () => {
    // 63 crossed at 7 of 0 to 10; 10 crossed at 118 of 90 to 132: 111 minutes by the line, up to 132 by the readings.
    const judged = held('fr-rapid-cooling', points([0, 70], [10, 60], [90, 20], [132, 5]));
    expect(judged.result).toBe('passed');
    expect(judged.reasons.join(' ')).toContain('could have taken up to 132 minutes');
  });
});

test('colder at any reading after the start is never slower', () => {
  const falling = fc.array(
    fc.record({ step: fc.integer({ min: 1, max: 40 }), drop: fc.integer({ min: 0, max: 20 }) }),
    { minLength: 2, maxLength: 20 },
  );
  fc.assert(
    fc.property(falling, fc.nat(), fc.integer({ min: 1, max: 20 }), (steps, which, colderC) => {
      let [minute, temperatureC] = [0, 80];
      const series = [
        { minute, temperatureC },
        ...steps.map(({ step, drop }) => ({ minute: (minute += step), temperatureC: (temperatureC -= drop) })),
      ];
      const from = 1 + (which % (series.length - 1));
      const colder = series.map((point, at) =>
        at < from ? point : { ...point, temperatureC: point.temperatureC - colderC },
      );
      const rule = { code: 'own', points: [{ code: 'p', label: 'p', fromC: null, toC: 5, withinMinutes: 90 }] };
      const [slow, fast] = [cool(series, rule)[0], cool(colder, rule)[0]];
      if (slow?.met) expect(fast?.met).toBe(true);
    }),
  );
});
