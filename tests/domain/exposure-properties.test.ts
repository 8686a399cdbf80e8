/**
 * Random histories: days that are summed once and joined are, bit for bit, what the whole is from scratch, however the time is cut and in whatever
 * order readings came. An oracle that looks at each minute by itself, straight from the words of the rule, must agree.
 */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { dayRecord, foodAndAir, readingsFor } from '../../src/domain/exposure/days.ts';
import { segmentsOf } from '../../src/domain/exposure/segments.ts';
import type { Monitoring, Reading, Segment, Source } from '../../src/domain/exposure/shapes.ts';
import { createAdder, sumsOf, type Sums } from '../../src/domain/exposure/sums.ts';
import { eachIn, pack, unpack } from '../../src/domain/exposure/track.ts';

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
const DAYS = 4;
const START = 20_000 * DAY_MS;

const reading = fc
  .record({
    // Whole minutes, often close together, so that days, gaps and the hour of "seen last" are hit from both sides.
    minute: fc.oneof(fc.integer({ min: 0, max: DAYS * 1440 - 1 }), fc.integer({ min: 1300, max: 1600 })),
    centiC: fc.integer({ min: -300, max: 1500 }),
    doubt: fc.boolean(),
  })
  .map(({ minute, ...more }): Reading => ({ atMs: START + minute * MINUTE_MS, ...more }));

const sources = fc.array(
  fc.record({
    kind: fc.constantFrom('air' as const, 'simulant' as const),
    readings: fc.array(reading, { maxLength: 40 }),
  }),
  { maxLength: 3 },
);

const monitoring = fc
  .record({
    how: fc.constantFrom('sensor' as const, 'none' as const),
    upperCentiC: fc.constantFrom(500, 800),
    assumedCentiC: fc.constantFrom(null, 300, 1000),
    between: fc.constantFrom('step' as const, 'line' as const, 'warmer-end' as const),
    gapMin: fc.constantFrom(15, 60, 240, 780),
    lagMin: fc.constantFrom(0, 0, 20, 90),
  })
  .map(({ gapMin, lagMin, ...more }): Monitoring => ({
    ...more,
    lowerCentiC: null,
    gapMs: gapMin * MINUTE_MS,
    lagMs: lagMin * MINUTE_MS,
    delayMs: 0,
    version: 1,
  }));

const shuffled = (list: readonly Source[]) =>
  fc
    .tuple(...list.map((one) => fc.shuffledSubarray([...one.readings], { minLength: one.readings.length })))
    .map((readings) =>
      list.map((one, index) => ({
        kind: one.kind,
        readings: [...(readings[index] ?? []), ...one.readings.slice(0, 3)],
      })),
    );

/** What each day keeps, joined; days without readings as the neighbours say. Cut at `fromMs` and `toMs`. */
function byDays(list: readonly Source[], how: Monitoring, fromMs: number, toMs: number): Sums {
  const adder = createAdder();
  for (let day = START; day < START + DAYS * DAY_MS; day += DAY_MS) {
    const [from, to] = [Math.max(fromMs, day), Math.min(toMs, day + DAY_MS)];
    if (to <= from) continue;
    const own = readingsFor(list, how, day, [how, how]);
    const record = dayRecord(own, how, day, [how, how]);
    const segments = record?.segments ?? foodAndAir(own, how, day).food;
    if (record && to - from === DAY_MS) adder.sums(record.sums);
    else {
      eachIn(unpack(pack(segments, day)), from - day, to - day, (spanMs, centiC, seen) =>
        adder.segment(spanMs, centiC, seen, how.upperCentiC),
      );
    }
  }
  return adder.take();
}

/** From all readings at once. */
function fromScratch(list: readonly Source[], how: Monitoring, fromMs: number, toMs: number): Sums {
  const { food } = foodAndAir(list, how, START, START + DAYS * DAY_MS);
  const cut: Segment[] = food
    .map((one) => ({ ...one, fromMs: Math.max(one.fromMs, fromMs), toMs: Math.min(one.toMs, toMs) }))
    .filter((one) => one.toMs > one.fromMs);
  return sumsOf(cut, how.upperCentiC);
}

describe('days', () => {
  test('joined are the whole from scratch, however time is cut and readings came', () => {
    const minute = fc.integer({ min: 0, max: DAYS * 1440 });
    const scene = sources.chain((list) =>
      fc.record({ list: fc.constant(list), other: shuffled(list), how: monitoring, cuts: fc.tuple(minute, minute) }),
    );
    fc.assert(
      fc.property(scene, ({ list, other, how, cuts }) => {
        const [a, b] = cuts;
        const [fromMs, toMs] = [START + Math.min(a, b) * MINUTE_MS, START + Math.max(a, b) * MINUTE_MS];
        expect(byDays(other, how, fromMs, toMs)).toEqual(fromScratch(list, how, fromMs, toMs));
      }),
      { numRuns: 150 },
    );
  });

  test('change only where a reading is, and on the days beside it when their edges say so', () => {
    const scene = sources.chain((list) => fc.record({ list: fc.constant(list), late: reading, how: monitoring }));
    fc.assert(
      fc.property(scene, ({ list, late, how }) => {
        const more = [...list, { kind: 'air' as const, readings: [] }].map((one, at) =>
          at === 0 ? { ...one, readings: [...one.readings, late] } : one,
        );
        const all = (from: readonly Source[]) =>
          Array.from({ length: DAYS }, (_, day) => {
            const ms = START + day * DAY_MS;
            return dayRecord(readingsFor(from, how, ms, [how, how]), how, ms, [how, how]);
          });
        const [before, after] = [all([...list, { kind: 'air', readings: [] }]), all(more)];
        const lateDay = Math.floor((late.atMs - START) / DAY_MS);
        // As the worker goes: the day itself, then whoever its edges reach.
        const reached = new Set([lateDay]);
        for (const day of reached) {
          const next = after.findIndex((one, at) => at > day && one !== null);
          const previous = after.findLastIndex((one, at) => at < day && one !== null);
          if (next !== -1 && before[day]?.edgeLast !== after[day]?.edgeLast) reached.add(next);
          if (previous !== -1 && before[day]?.edgeFirst !== after[day]?.edgeFirst) reached.add(previous);
        }
        for (let day = 0; day < DAYS; day += 1) {
          if (reached.has(day)) continue;
          expect([before[day]?.sums, before[day]?.seenCentiC]).toEqual([after[day]?.sums, after[day]?.seenCentiC]);
        }
      }),
      { numRuns: 150 },
    );
  });
});

/** What counts at one moment, straight from the rule: between readings, gap, what was seen last. No lag, warmer end or step. */
function atMoment(list: readonly Source[], how: Monitoring, ms: number): { centiC: number; monitored: boolean } {
  const covered: number[] = [];
  const lasts: Reading[] = [];
  for (const { readings } of list) {
    const before = readings.filter((one) => one.atMs <= ms);
    const after = readings.filter((one) => one.atMs > ms);
    if (before.length === 0) continue;
    const lastMs = Math.max(...before.map((one) => one.atMs));
    const last = Math.max(...before.filter((one) => one.atMs === lastMs).map((one) => one.centiC));
    lasts.push({ atMs: lastMs, centiC: last, doubt: false });
    if (after.length === 0) continue;
    const nextMs = Math.min(...after.map((one) => one.atMs));
    const next = Math.max(...after.filter((one) => one.atMs === nextMs).map((one) => one.centiC));
    if (nextMs - lastMs <= how.gapMs) covered.push(how.between === 'step' ? last : Math.max(last, next));
  }
  if (covered.length > 0) return { centiC: Math.max(...covered), monitored: true };
  const newestMs = Math.max(...lasts.map((one) => one.atMs));
  const together = lasts.filter((one) => newestMs - one.atMs <= Math.min(how.gapMs, 60 * MINUTE_MS));
  const assumed = how.assumedCentiC ?? how.upperCentiC;
  const floor = how.how === 'none' ? assumed : Math.max(assumed, how.upperCentiC);
  return { centiC: Math.max(floor, ...together.map((one) => one.centiC)), monitored: false };
}

describe('segments', () => {
  const plain = monitoring.map((how): Monitoring => ({
    ...how,
    lagMs: 0,
    between: how.between === 'line' ? 'step' : how.between,
  }));

  test('say at every minute what the rule says', () => {
    fc.assert(
      fc.property(sources, plain, (list, how) => {
        const segments = segmentsOf(list, how, START, START + DAYS * DAY_MS);
        let at = START;
        for (const one of segments) {
          expect(one.fromMs).toBe(at);
          at = one.toMs;
          for (let ms = one.fromMs; ms < one.toMs; ms += 7 * MINUTE_MS) {
            expect({ centiC: one.centiC, monitored: one.monitored }).toEqual(atMoment(list, how, ms));
          }
        }
        expect(at).toBe(START + DAYS * DAY_MS);
      }),
      { numRuns: 40 },
    );
  });

  test('are never colder when one reading is warmer', () => {
    const scene = fc.record({ list: sources, how: monitoring, which: fc.nat(), by: fc.integer({ min: 1, max: 900 }) });
    fc.assert(
      fc.property(scene, ({ list, how, which, by }) => {
        const first = list.find((one) => one.readings.length > 0);
        if (!first) return;
        const at = which % first.readings.length;
        const warmer = list.map((one) =>
          one === first
            ? { ...one, readings: one.readings.map((r, index) => (index === at ? { ...r, centiC: r.centiC + by } : r)) }
            : one,
        );
        const [cold, warm] = [list, warmer].map((one) => foodAndAir(one, how, START, START + DAYS * DAY_MS).food) as [
          Segment[],
          Segment[],
        ];
        for (let ms = START; ms < START + DAYS * DAY_MS; ms += 11 * MINUTE_MS) {
          const of = (food: readonly Segment[]) =>
            food.find((one) => one.fromMs <= ms && ms < one.toMs)?.centiC ?? Number.NaN;
          expect(of(warm)).toBeGreaterThanOrEqual(of(cold));
        }
      }),
      { numRuns: 40 },
    );
  });
});
