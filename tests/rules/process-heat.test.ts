/**
 * Heat and cold reckoned a second way, against what the service answers for random series: the sum of the general method as its definition
 * has it, the integral over straight lines by Simpson's rule in small steps, and crossings by halving the time between two readings.
 * Only the definitions are shared with the service, no code.
 */
import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { startService, type Client, type TestService } from '../support/service.ts';

let service: TestService;
let cook: Client;
beforeAll(async () => {
  service = await startService();
  cook = service.as('kitchen');
});
afterAll(() => service.stop());

interface Reading {
  readonly minute: number;
  readonly temperatureC: number;
}
interface Target {
  readonly referenceTemperatureC: number;
  readonly zBelowC: number;
  readonly zAboveC: number;
  readonly targetMinutes: number;
}

const HUNDREDTH = 100;
const readings = (from: number, to: number, most: number): fc.Arbitrary<Reading[]> =>
  fc
    .tuple(
      fc.integer({ min: -500, max: 500 }),
      fc.array(
        fc.tuple(fc.integer({ min: 1, max: 3_000 }), fc.integer({ min: from * HUNDREDTH, max: to * HUNDREDTH })),
        { minLength: 2, maxLength: most },
      ),
    )
    .map(([begin, steps]) => {
      let at = begin * HUNDREDTH;
      return steps.map(([later, hundredths]) => {
        at += later;
        return { minute: at / HUNDREDTH, temperatureC: hundredths / HUNDREDTH };
      });
    });

/** what one minute at a temperature counts for */
function rate(temperatureC: number, target: Target): number {
  const above = temperatureC - target.referenceTemperatureC;
  return Math.exp((Math.LN10 * above) / (above < 0 ? target.zBelowC : target.zAboveC));
}

/** sum over pairs of readings of their time apart by the mean of both rates */
function bySum(series: readonly Reading[], target: Target): number[] {
  const sums = [0];
  for (let n = 1; n < series.length; n += 1) {
    const [a, b] = [series[n - 1] as Reading, series[n] as Reading];
    const mean = 0.5 * rate(a.temperatureC, target) + 0.5 * rate(b.temperatureC, target);
    sums.push((sums[n - 1] ?? 0) + (b.minute - a.minute) * mean);
  }
  return sums;
}

/** Simpson's rule over each straight line, in 1000 steps */
function byIntegral(series: readonly Reading[], target: Target): number {
  const STEPS = 1_000;
  let total = 0;
  for (let n = 1; n < series.length; n += 1) {
    const [a, b] = [series[n - 1] as Reading, series[n] as Reading];
    const at = (part: number) => rate(a.temperatureC + (b.temperatureC - a.temperatureC) * part, target);
    let weighed = at(0) + at(1);
    for (let step = 1; step < STEPS; step += 1) weighed += (step % 2 === 1 ? 4 : 2) * at(step / STEPS);
    total += ((b.minute - a.minute) * weighed) / (3 * STEPS);
  }
  return total;
}

const targets = fc.record({
  referenceTemperatureC: fc.integer({ min: 60, max: 95 }),
  zBelowC: fc.integer({ min: 50, max: 130 }).map((tenths) => tenths / 10),
  zAboveC: fc.integer({ min: 50, max: 130 }).map((tenths) => tenths / 10),
  targetMinutes: fc.integer({ min: 1, max: 120 }),
});
/** answers have six decimals */
const near = (told: number, reckoned: number, part: number) =>
  Math.abs(told - reckoned) <= part * Math.abs(reckoned) + 1e-6;
/** numbers on the limit to the last digit are nobody's to decide here */
const decided = (value: number, limit: number) => Math.abs(value - limit) > 1e-6 * limit;

test('lethality of any series: the sum step by step, and the integral over straight lines', { timeout: 30_000 }, () =>
  fc.assert(
    fc.asyncProperty(readings(20, 105, 12), targets, async (series, target) => {
      const { status, body } = await cook.post('/v1/process-checks/lethality', { series, ...target });
      expect(status).toBe(200);
      const sums = bySum(series, target);
      const straight = byIntegral(series, target);
      const total = sums.at(-1) ?? 0;
      expect(near(body.equivalentMinutes, total, 1e-9), `${body.equivalentMinutes} ${total}`).toBe(true);
      expect(
        near(body.equivalentMinutesStraight, straight, 1e-4),
        `${body.equivalentMinutesStraight} ${straight}`,
      ).toBe(true);
      expect(near(body.logReductionOfTarget, (6 * total) / target.targetMinutes, 1e-9)).toBe(true);
      expect(body.steps).toHaveLength(series.length);
      for (const [n, step] of body.steps.entries()) {
        expect(step.minute).toBe(series[n]?.minute);
        expect(near(step.lethalRate, rate(step.temperatureC, target), 5e-6)).toBe(true);
        expect(near(step.cumulativeMinutes, sums[n] ?? 0, 1e-9)).toBe(true);
      }
      if (decided(total, target.targetMinutes)) expect(body.meetsTarget).toBe(total >= target.targetMinutes);
      if (Math.abs(straight - target.targetMinutes) > 1e-3 * target.targetMinutes)
        expect(body.meetsTargetStraight).toBe(straight >= target.targetMinutes);
      if (total > 1e-3 && straight < total * 0.95) expect(body.cautions.join(' ')).not.toBe('');
    }),
    { numRuns: 60 },
  ),
);

test('lethality of the same heat in Fahrenheit is the same', { timeout: 30_000 }, () =>
  fc.assert(
    fc.asyncProperty(readings(40, 100, 8), targets, async (series, target) => {
      const fahrenheit = {
        series: series.map((one) => ({ minute: one.minute, temperatureF: 32 + (one.temperatureC * 9) / 5 })),
        referenceTemperatureF: 32 + (target.referenceTemperatureC * 9) / 5,
        zBelowF: (target.zBelowC * 9) / 5,
        zAboveF: (target.zAboveC * 9) / 5,
        targetMinutes: target.targetMinutes,
      };
      const { status, body, text } = await cook.post('/v1/process-checks/lethality', fahrenheit);
      expect(status, text).toBe(200);
      expect(near(body.equivalentMinutes, bySum(series, target).at(-1) ?? 0, 1e-9)).toBe(true);
    }),
    { numRuns: 20 },
  ),
);

/** temperature at a time, on straight lines */
function at(series: readonly Reading[], minute: number): number {
  const n = Math.max(
    1,
    series.findIndex((one) => one.minute >= minute),
  );
  const [a, b] = [series[n - 1] as Reading, series[n] as Reading];
  return a.temperatureC + ((b.temperatureC - a.temperatureC) * (minute - a.minute)) / (b.minute - a.minute);
}
/** when the line comes down to a temperature, between a reading above it and one not above it */
function halve(series: readonly Reading[], above: Reading, below: Reading, limitC: number): number {
  let [low, high] = [above.minute, below.minute];
  for (let turn = 0; turn < 200; turn += 1) {
    const middle = (low + high) / 2;
    if (at(series, middle) > limitC) low = middle;
    else high = middle;
  }
  return high;
}

const HOT_C = 63;
interface Part {
  readonly fromC: number | null;
  readonly toC: number;
  readonly withinMinutes: number;
}
/** The clock begins when the food first comes down to `fromC`, and ends when it has come down to `toC` and stays there. */
function cooled(series: readonly Reading[], part: Part): { start: number | null; end: number | null } {
  const first = series[0] as Reading;
  let start: number | null = null;
  // a series that is nowhere as hot as food kept hot (63 °C, WSI 2006/31) shows no beginning of cooling
  if (part.fromC === null) start = series.some((one) => one.temperatureC >= HOT_C) ? first.minute : null;
  else {
    const fromC = part.fromC;
    const n = series.findIndex((one, i) => one.temperatureC <= fromC && (series[i - 1] ?? one).temperatureC > fromC);
    if (first.temperatureC === fromC) start = first.minute;
    else if (n > 0) start = halve(series, series[n - 1] as Reading, series[n] as Reading, fromC);
  }
  const lastAbove = series.findLastIndex((one) => one.temperatureC > part.toC);
  let end: number | null = null;
  if (lastAbove === -1) end = first.minute;
  else if (lastAbove < series.length - 1)
    end = halve(series, series[lastAbove] as Reading, series[lastAbove + 1] as Reading, part.toC);
  return { start, end };
}

const parts = fc
  .tuple(fc.option(fc.integer({ min: 30, max: 75 })), fc.integer({ min: 2, max: 28 }), fc.integer({ min: 5, max: 200 }))
  .map(([fromC, toC, withinMinutes]): Part => ({ fromC, toC, withinMinutes }));
/** falls more than it rises */
const falling = fc.tuple(readings(0, 90, 9), fc.boolean()).map(([series, sorted]) => {
  if (!sorted) return series;
  const down = series.map((one) => one.temperatureC).sort((a, b) => b - a);
  return series.map((one, n) => ({ minute: one.minute, temperatureC: down[n] as number }));
});

test(
  'cooling of any series: when each threshold was crossed, how long it took, what was left',
  { timeout: 30_000 },
  () =>
    fc.assert(
      fc.asyncProperty(falling, fc.array(parts, { minLength: 1, maxLength: 3 }), async (series, rule) => {
        const points = rule.map(({ fromC, ...rest }) => (fromC === null ? rest : { fromC, ...rest }));
        const { status, body, text } = await cook.post('/v1/process-checks/cooling', { series, points });
        expect(status, text).toBe(200);
        for (const [n, part] of rule.entries()) {
          const told = body.points[n];
          const { start, end } = cooled(series, part);
          const everWarm = series.some((one) => one.temperatureC > part.toC);
          // never warm enough, or never cold enough, to show it: nothing is met by that
          if (start === null || end === null || !everWarm) {
            expect([told.met, told.state === 'no-cooling'], text).toEqual([false, !everWarm]);
            continue;
          }
          const took = end - start;
          expect(told.startedAtMinute, text).toBeCloseTo(start, 5);
          expect(told.endedAtMinute, text).toBeCloseTo(end, 5);
          expect(told.tookMinutes).toBeCloseTo(took, 5);
          expect(told.leftMinutes).toBeCloseTo(part.withinMinutes - took, 5);
          if (decided(took, part.withinMinutes)) {
            expect(told.met, text).toBe(took <= part.withinMinutes);
            expect(told.state).toBe(took <= part.withinMinutes ? 'met' : 'too-slow');
          }
        }
        expect(body.met).toBe(body.points.every((one: { met: boolean }) => one.met));
      }),
      { numRuns: 120 },
    ),
);
