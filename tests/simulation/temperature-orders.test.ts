/**
 * Food on its way, told to the service in any order: readings in pieces, twice and late, moves recorded afterwards, a sensor that turns out to have been
 * elsewhere. Whatever the order, limits, excursions and dates end the same, and the same as an oracle that goes through the two days minute by minute.
 */
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../support/kitchen.ts';
import { endOfDay, livesOf, outsidesAt, type Facts, type Outside } from '../support/oracle/exposure.ts';
import { BORN, SPAN, VAN_WARM, drawnStories, factsOf, weekOf } from '../support/oracle/temperature-story.ts';
import { begin, type Arrival, type End, type Told } from '../support/oracle/temperature-telling.ts';
import { startService, type TestService } from '../support/service.ts';
import { buildWorld } from '../support/world.ts';

/** `npm run prove` asks for more; a story here is told four times over and costs as much as twenty of the ledger's. */
const RUNS = Math.ceil(Number(process.env['SEALTRAIL_PROVE_RUNS'] ?? 40) / 20);
const SEED = Number(process.env['SEALTRAIL_PROVE_SEED'] ?? 11);
const TIMEOUT_MS = 60_000 + RUNS * 20_000;
const MODEL = { minC: -10, referenceC: 4, lifeH: 400 };
const REGIME = ['cook-chill-5-days', 'cook-chill-5-c', 'cook-chill-10-c', 'hours-out-of-chill'];

let service: TestService;
let kitchen: Kitchen;

beforeAll(async () => {
  service = await startService({ nowMs: BORN * 60_000 });
  const world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  for (const siteId of [world.ckId, world.w3Id]) {
    const choice = { policySet: 'gb-eng', confirmed: REGIME, confirmedBy: 'Nora Pell' };
    await kitchen.post('quality', `/v1/sites/${siteId}/policy-choices`, choice);
  }
  await kitchen.post('quality', `/v1/items/${world.beefStewPackId}/model-validations`, {
    model: { kind: 'square-root', minTemperatureC: MODEL.minC },
    reference: { temperatureC: MODEL.referenceC, lifeH: MODEL.lifeH },
    validatedBy: 'Nora Pell',
    basis: 'shelf-life-study',
  });
});
afterAll(() => service.stop());

const minuteOf = (instant: string | null): number | null => (instant === null ? null : Date.parse(instant) / 60_000);
const limitOf = (part: Json, code: string): Json => part.limits.find((one: Json) => one.code === code);

/** What must not hang on the order of arrival: everything but ids, and what was in force meanwhile. */
function settled(end: End): object {
  const parts = Object.entries(end.parts).map(([account, part]) => [
    account,
    {
      quantity: part.quantity,
      computedAt: part.computedAt,
      ruling: part.ruling,
      forbiddenBy: part.forbiddenBy,
      unmonitoredH: part.unmonitoredH,
      presumed: part.presumed,
      limits: part.limits.map((one: Json) => [
        one.code,
        one.endsAt,
        one.since,
        one.forbids,
        one.drives,
        one.usedFraction,
      ]),
    },
  ]);
  return { parts: Object.fromEntries(parts) as object, excursions: end.excursions };
}

function expectAsWorkedOut(facts: Facts, end: End): void {
  const lives = livesOf(facts, MODEL);
  expect(Object.keys(end.parts).sort()).toEqual([...lives.keys()].sort());
  const fixed = {
    'printed-use-by': endOfDay('Europe/London', BORN, 5),
    'vacuum-pack-10-days': endOfDay('Europe/London', BORN, 10),
    'cook-chill-5-days': endOfDay('Europe/London', BORN, 5),
  };
  for (const [account, life] of lives) {
    const part = end.parts[account];
    expect(part.quantity, account).toBe(life.quantity);
    expect(part.unmonitoredH, `${account} unmonitored`).toBeCloseTo(life.unmonitoredMin / 60, 2);
    const used = limitOf(part, 'item-model').usedFraction;
    expect(used, `${account} used`).toBeCloseTo(life.usedFraction, 4);
    const wanted: Record<string, number | null> = { ...fixed, ...life.ends };
    const ends = Object.keys(wanted).map((code) => [code, minuteOf(limitOf(part, code)?.endsAt ?? null)]);
    expect({ account, ...(Object.fromEntries(ends) as object) }).toEqual({ account, ...wanted });
    const model = minuteOf(limitOf(part, 'item-model').endsAt) ?? Infinity;
    const earliest = Math.min(model, ...Object.values(wanted).map((one) => one ?? Infinity));
    expect(minuteOf(part.computedAt), `${account} computed`).toBe(earliest);
    // When the printed date is over there is nothing left to bring forward.
    const most = facts.now < fixed['printed-use-by'] ? earliest : fixed['printed-use-by'];
    expect(minuteOf(part.useByAt) ?? Infinity, `${account} in force`).toBeLessThanOrEqual(most);
  }
  for (const place of ['CK', 'A', 'B'])
    expect([place, end.excursions[place]]).toEqual([place, outsidesAt(facts, place)]);
  // A van's are shown only as far as something of the group's was on the road with it.
  const onRoad = outsidesAt(facts, 'V').filter((one) => overlapsRoad(facts, one));
  expect(['V', end.excursions['V']]).toEqual(['V', onRoad]);
}

function overlapsRoad(facts: Facts, { from, to }: Outside): boolean {
  const road = facts.moved
    .filter((one) => one.from === 'road' || one.to === 'road')
    .sort((a, b) => a.minute - b.minute);
  const left = road[0]?.minute ?? Infinity;
  const all = road.reduce((sum, one) => sum + (one.to === 'road' ? one.quantity : -one.quantity), 0) === 0;
  const arrived = all ? (road.at(-1)?.minute ?? Infinity) : Infinity;
  return from < arrived && (to ?? Infinity) > left;
}

/** Sorted by the numbers; some are sent twice, and half-way the workers look at what there is. */
async function arrive(told: Told, numbers: readonly number[] | null): Promise<void> {
  const all: readonly Arrival[] = [...told.facts, ...told.uploads];
  if (numbers === null) {
    for (const one of all) await one();
  } else {
    const ranked = all.map((one, at) => ({ one, rank: numbers[at] ?? at })).sort((a, b) => a.rank - b.rank);
    for (const [at, { one, rank }] of ranked.entries()) {
      await one();
      if (rank % 4 === 0) await one();
      if (at === Math.floor(ranked.length / 2)) await told.work();
    }
  }
  await told.work();
}

/** @param one must not be given more life than `other` by any limit */
function expectNoLonger(one: Json, other: Json, account: string): void {
  for (const limit of other.limits as Json[]) {
    const mine = limitOf(one, limit.code as string);
    if (limit.endsAt !== null) {
      expect(minuteOf(mine.endsAt) ?? Infinity, `${account} ${limit.code}`).toBeLessThanOrEqual(
        Date.parse(limit.endsAt) / 60_000,
      );
    }
    expect(mine.usedFraction ?? 0).toBeGreaterThanOrEqual(limit.usedFraction ?? 0);
  }
  expect(minuteOf(one.computedAt) ?? Infinity).toBeLessThanOrEqual(minuteOf(other.computedAt) ?? Infinity);
}

async function expectSame(facts: Facts, ranks: readonly (readonly number[])[]): Promise<void> {
  const first = await begin(kitchen, facts);
  await arrive(first, null);
  const end = await first.end();
  expectAsWorkedOut(facts, end);
  const warmer = facts.readings.filter((_, at) => at % 29 === 0).map((one) => ({ ...one, centiC: one.centiC + 450 }));
  await first.send(warmer);
  await first.work();
  const warmed = await first.end();
  expectAsWorkedOut({ ...facts, readings: [...facts.readings, ...warmer] }, warmed);
  for (const account of Object.keys(end.parts)) expectNoLonger(warmed.parts[account], end.parts[account], account);
  for (const numbers of ranks) {
    const other = await begin(kitchen, facts);
    await arrive(other, numbers);
    const otherEnd = await other.end();
    expect(settled(otherEnd)).toEqual(settled(end));
    for (const [account, part] of Object.entries(otherEnd.parts)) {
      expect(minuteOf(part.useByAt) ?? Infinity, account).toBeLessThanOrEqual(
        minuteOf(end.parts[account].useByAt) ?? Infinity,
      );
    }
  }
}

describe('food on its way', () => {
  test(
    'ends the same in any order, in any pieces and told twice, and as the oracle says; more warmth gives no more life',
    async () => {
      const property = fc.asyncProperty(drawnStories, (drawn) => expectSame(factsOf(drawn), drawn.ranks));
      await fc.assert(property, { numRuns: RUNS, seed: SEED, endOnFailure: true });
    },
    TIMEOUT_MS,
  );

  test('a file that comes a week late changes exactly what the same readings in time change, and leaves the rest alone', async () => {
    const facts = weekOf(VAN_WARM);
    const silent = weekOf([]);
    const inTime = await begin(kitchen, facts);
    await arrive(inTime, null);
    const late = await begin(kitchen, silent);
    await arrive(late, null);
    const before = await late.end();
    expectAsWorkedOut(silent, before);
    await late.send(VAN_WARM);
    await late.work();
    const after = await late.end();
    expectAsWorkedOut(facts, after);
    expect(settled(after)).toEqual(settled(await inTime.end()));
    expect(after.parts['CK']).toEqual(before.parts['CK']);
    // by hand: the van was warm from its cold reading at 120 minutes, when it left, to the one at 270; above 10 °C from the first minute on the road
    for (const account of ['A', 'B']) {
      expect(minuteOf(limitOf(after.parts[account], 'cook-chill-10-c').endsAt), account).toBe(BORN + 120);
      expect(limitOf(before.parts[account], 'cook-chill-10-c').endsAt, account).toBeNull();
      expect(
        after.parts[account].holds.map((one: Json) => one.kind),
        account,
      ).toContain('safety');
    }
  });

  test('a dispatch whose receipts were recorded before it left is not on the road for ever', async () => {
    // warm for three quarters of an hour on the next day, when the van was empty
    const van = Array.from({ length: 190 }, (_, at) => ({
      sensor: 'v',
      minute: BORN + at * 15,
      centiC: at >= 120 && at <= 122 ? 900 : 300,
    }));
    const base = weekOf(van);
    const moved = [
      ...base.moved.slice(0, 2),
      { minute: BORN + 240, from: 'road', to: 'A', quantity: 20 },
      { minute: BORN + 300, from: 'road', to: 'B', quantity: 20 },
    ];
    const told = await begin(kitchen, { ...base, moved, now: BORN + SPAN });
    for (const one of [...told.facts].reverse()) await one();
    await told.send(van);
    await told.work();
    expect((await told.end()).excursions['V']).toEqual([]);
  });

  test('a warm stretch that goes on past midnight, or from one chiller into another, is one', async () => {
    const at = (sensor: string, centiC: number, minutes: readonly number[]) =>
      minutes.map((minute) => ({ sensor, minute: BORN + minute, centiC }));
    const base = weekOf(VAN_WARM.map((one) => ({ ...one, centiC: 300 })));
    const now = BORN + 3 * 24 * 60;
    const facts: Facts = {
      ...base,
      now,
      readings: [
        ...base.readings.filter((one) => one.minute <= now),
        // between two whole days, at 2,520 minutes: 20 minutes before midnight and 15 after
        ...at('ck', 300, [2500, 2535]),
        ...at('ck', 1100, [2505, 2515, 2520, 2530]),
        // ten packs go from A to B at 600: 25 minutes warm in A, then 20 in B; what stays in A was warm for 30
        ...at('a', 300, [575, 605]),
        ...at('a', 1100, [580, 590, 600]),
        ...at('b', 300, [590, 620]),
        ...at('b', 1100, [595, 600, 615]),
      ],
    };
    const told = await begin(kitchen, facts);
    await arrive(told, null);
    const end = await told.end();
    expectAsWorkedOut(facts, end);
    const discards = ['CK', 'A', 'B'].map((account) => minuteOf(limitOf(end.parts[account], 'cook-chill-10-c').endsAt));
    expect(discards).toEqual([BORN + 2500, null, BORN + 575]);
  });

  test('a gap gives no more life than the same time at the upper limit, and what was seen last counts if it was warmer', async () => {
    for (const last of [400, 905]) {
      const hour = (quarter: number) => (quarter === 19 ? last : 400);
      const all = weekOf(VAN_WARM.map((one) => ({ ...one, centiC: 300 })));
      const base = { ...all, now: BORN + 24 * 60 };
      const course = Array.from({ length: 24 * 4 }, (_, at) => ({
        sensor: 'a',
        minute: BORN + at * 15,
        centiC: hour(at),
      }));
      const gap = course.filter((one) => one.minute <= BORN + 19 * 15 || one.minute > BORN + 40 * 15);
      const others = base.readings.filter((one) => one.sensor !== 'a' && one.minute <= base.now);
      const facts = { ...base, readings: [...others, ...gap] };
      const told = await begin(kitchen, facts);
      await arrive(told, null);
      const withGap = await told.end();
      expectAsWorkedOut(facts, withGap);
      const fill = Array.from({ length: 21 * 15 - 1 }, (_, at) => ({
        sensor: 'a',
        minute: BORN + 19 * 15 + 1 + at,
        centiC: 800,
      }));
      await told.send(fill);
      await told.work();
      const filled = await told.end();
      expectAsWorkedOut({ ...facts, readings: [...facts.readings, ...fill] }, filled);
      for (const account of ['A', 'B']) expectNoLonger(withGap.parts[account], filled.parts[account], account);
      expect(limitOf(withGap.parts['A'], 'hours-out-of-chill').endsAt === null).toBe(last === 400);
    }
  });
});
