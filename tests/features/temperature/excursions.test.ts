/**
 * Readings in, excursions out, over HTTP: a van that warmed to 11 °C for two hours, and what a week-late file changes. Times and sums are worked
 * by hand: between readings the warmer end counts, so a stretch of readings above the limit is longer by the interval before it.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { exposureOf, recomputeTemperature } from '../../../src/features/temperature/index.ts';
import { createLog } from '../../../src/platform/log.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { asAdmin } from '../../support/test-server.ts';
import { buildWorld, type World } from '../../support/world.ts';

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const DAY_MS = 24 * HOUR_MS;
const TODAY_MS = Date.UTC(2026, 10, 25);
/** NOON of the service */
const NOON_MS = TODAY_MS + 12 * HOUR_MS;

let service: TestService;
let world: World;
let kitchen: Kitchen;

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
});
afterAll(() => service.stop());

const iso = (ms: number): string => new Date(ms).toISOString();

async function sensor(where: object, kind = 'air'): Promise<string> {
  const code = `S-${randomUUID().slice(0, 8)}`;
  const sensorId = randomUUID();
  await kitchen.post('operations', '/v1/sensors', { id: sensorId, siteId: world.ckId, code, name: 'A sensor', kind });
  await kitchen.post('operations', `/v1/sensors/${sensorId}/locations`, {
    from: iso(TODAY_MS - 30 * DAY_MS),
    ...where,
  });
  return code;
}

type Points = readonly (readonly [ms: number, temperatureC: number])[];

async function send(code: string, points: Points, deviceTime: string | null = iso(NOON_MS)): Promise<void> {
  const readings = points.map(([ms, temperatureC]) => ({ sensor: code, at: iso(ms), temperatureC }));
  const body = { ...(deviceTime !== null && { deviceTime }), readings };
  const answer = await service.as('device', world.ckId).post('/v1/readings', body);
  expect(answer.status, answer.text).toBe(200);
}

/** As the worker does when it is woken. */
async function recompute(): Promise<void> {
  const job = recomputeTemperature({ db: service.db, clock: service.clock, log: createLog('error') });
  await job.run({ groupId: service.groupId });
}

/** A reading each five minutes from one time to another, both in it. */
function every5(fromMs: number, toMs: number, temperatureC: number): Points {
  const count = Math.floor((toMs - fromMs) / (5 * MINUTE_MS)) + 1;
  return Array.from({ length: count }, (_, at) => [fromMs + at * 5 * MINUTE_MS, temperatureC] as const);
}

const excursions = async (query: string): Promise<Json[]> =>
  (await kitchen.get('quality', `/v1/excursions?${query}`)).items as Json[];

async function dirtyLots(): Promise<string[]> {
  return asAdmin(service.databaseUrl, async (owner) => {
    const { rows } = await owner.query<{ lot_id: string }>('delete from lot_exposure_dirty returning lot_id');
    return rows.map((row) => row.lot_id).sort();
  });
}

test('two hours at 11 °C in a chiller are one excursion with its lots; a door opening is none; order changes nothing', async () => {
  service.clock.set(TODAY_MS + 5 * HOUR_MS);
  const there = await kitchen.shin(40_000);
  const elsewhere = await kitchen.shin(7_000, { placeId: world.ckFreezerId });
  service.clock.set(NOON_MS);
  const code = await sensor({ placeId: world.ckChillerId });
  const [six, eight] = [TODAY_MS + 6 * HOUR_MS, TODAY_MS + 8 * HOUR_MS];
  const before = every5(TODAY_MS, six - 5 * MINUTE_MS, 3);
  const warm = every5(six, eight, 11);
  const after = every5(eight + 5 * MINUTE_MS, NOON_MS, 3.5);
  const door = [[TODAY_MS + 10 * HOUR_MS + MINUTE_MS, 9]] as const;
  await dirtyLots();
  await send(code, [...after, ...door]);
  await recompute();
  expect(await excursions(`placeId=${world.ckChillerId}`)).toEqual([]);
  await send(code, warm.slice(10));
  await recompute();
  // One reading at 06:50 after nothing for hours: warm from there on.
  expect(await excursions(`placeId=${world.ckChillerId}`)).toMatchObject([{ startAt: iso(six + 50 * MINUTE_MS) }]);
  await send(code, [...before, ...warm]);
  await recompute();
  const [found, ...more] = await excursions(`placeId=${world.ckChillerId}`);
  expect(more).toEqual([]);
  // From the last cold reading (05:55) to the first cold one after (08:05): 130 min, 3 degrees beyond 8 °C: 390 degree minutes.
  expect(found).toMatchObject({
    siteId: world.ckId,
    placeId: world.ckChillerId,
    state: 'ended',
    certainty: 'proven',
    side: 'above',
    limitC: 8,
    startAt: iso(six - 5 * MINUTE_MS),
    endAt: iso(eight + 5 * MINUTE_MS),
    peakC: 11,
    outsideMs: 130 * MINUTE_MS,
    areaCMin: 390,
    unmonitoredMs: 0,
  });
  expect(await dirtyLots()).toEqual([there]);
  const one = await kitchen.get('quality', `/v1/excursions/${found.excursionId}`);
  expect(one.lots).toEqual([
    {
      lotId: there,
      lotCode: expect.any(String) as string,
      itemName: 'Beef shin, diced',
      placeId: world.ckChillerId,
      dispatchId: null,
      quantity: 40_000,
      unit: 'g',
    },
  ]);
  expect(await excursions(`placeId=${world.ckChillerId}&state=superseded`)).toHaveLength(1);
  expect(elsewhere).not.toBe(there);
});

test('an excursion is open while its last reading is, and its row goes on with each further one', async () => {
  const code = await sensor({ placeId: world.w3ChillerId });
  const start = NOON_MS - HOUR_MS;
  await send(code, every5(start, start + 40 * MINUTE_MS, 9.5));
  await recompute();
  const [open] = await excursions(`placeId=${world.w3ChillerId}`);
  expect(open).toMatchObject({ state: 'open', endAt: null, outsideMs: 40 * MINUTE_MS, peakC: 9.5 });
  await send(code, every5(start + 45 * MINUTE_MS, NOON_MS - 5 * MINUTE_MS, 10));
  await recompute();
  const [longer] = await excursions(`placeId=${world.w3ChillerId}&state=open`);
  expect(longer).toMatchObject({ excursionId: open.excursionId, outsideMs: 55 * MINUTE_MS, peakC: 10, version: 2 });
  await send(code, [[NOON_MS, 4]]);
  await recompute();
  expect(await excursions(`placeId=${world.w3ChillerId}`)).toMatchObject([
    { excursionId: open.excursionId, state: 'ended', endAt: iso(NOON_MS), outsideMs: HOUR_MS },
  ]);
});

test("what rests on a sensor's doubtful clock is suspected until the time is confirmed", async () => {
  const code = await sensor({ placeId: world.ckPrepId });
  await kitchen.post('quality', `/v1/places/${world.ckPrepId}/monitoring`, {
    from: '2026-11-20',
    how: 'sensor',
    upperC: 12,
    delayMin: 20,
  });
  const points = every5(TODAY_MS + 2 * HOUR_MS, TODAY_MS + 3 * HOUR_MS, 15);
  await send(code, [...points, [TODAY_MS + 3 * HOUR_MS + 5 * MINUTE_MS, 10]], null);
  await recompute();
  const path = `placeId=${world.ckPrepId}`;
  expect(await excursions(path)).toMatchObject([{ certainty: 'suspected', limitC: 12, outsideMs: 65 * MINUTE_MS }]);
  await send(code, [...points, [TODAY_MS + 3 * HOUR_MS + 5 * MINUTE_MS, 10]]);
  await recompute();
  expect(await excursions(path)).toMatchObject([{ certainty: 'proven', outsideMs: 65 * MINUTE_MS }]);
  // A statement about the same days with a higher limit: it was no excursion.
  await kitchen.post('quality', `/v1/places/${world.ckPrepId}/monitoring`, {
    from: '2026-11-25',
    how: 'sensor',
    upperC: 16,
  });
  await recompute();
  expect(await excursions(path)).toEqual([]);
  const { inForce, statements } = await kitchen.get('quality', `/v1/places/${world.ckPrepId}/monitoring`);
  expect([inForce.version, inForce.upperC, statements.length]).toEqual([2, 16, 2]);
});

test("a van's warm hours, and a crate's, belong to what was on the road with it; asked early or late, the exposure is the same", async () => {
  service.clock.set(NOON_MS - 7 * HOUR_MS);
  const shin = await kitchen.shin(5_000);
  const { batchId, lotId } = await kitchen.stew(shin, 5_000, 4_000);
  const packs = await kitchen.pack(batchId, lotId, 3_000, 10);
  await kitchen.release(batchId);
  const code = await sensor({ vehicle: 'Van 7' });
  const serials = Array.from({ length: 10 }, (_, at) => String(at + 1));
  const dispatch = await kitchen.post('operations', '/v1/dispatches', {
    fromSiteId: world.ckId,
    toSiteId: world.w3Id,
    vehicle: 'Van 7',
    lines: [{ lotId: packs, placeId: world.ckChillerId, quantity: 10, unit: 'piece', serials, crateCode: 'CRATE-7' }],
  });
  const inCrate = await sensor({ crateCode: 'CRATE-7' });
  const left = NOON_MS - 6 * HOUR_MS;
  service.clock.set(left);
  await kitchen.post('operations', `/v1/dispatches/${dispatch.dispatchId}/departure`, { departedAt: iso(left) });
  const arrived = left + 3 * HOUR_MS;
  service.clock.set(arrived);
  await kitchen.post('receiver', `/v1/dispatches/${dispatch.dispatchId}/receipts`, {
    occurredAt: iso(arrived),
    closes: true,
    lines: [{ lotId: packs, placeId: world.w3ChillerId, quantity: 10, unit: 'piece', condition: 'accepted' }],
  });
  service.clock.set(NOON_MS);
  await dirtyLots();
  // Warm for two hours from half an hour after it left; the empty van stands in the sun afterwards.
  const road = [
    ...every5(left, left + 25 * MINUTE_MS, 4),
    ...every5(left + 30 * MINUTE_MS, left + 150 * MINUTE_MS, 11),
    ...every5(left + 155 * MINUTE_MS, arrived + 30 * MINUTE_MS, 4),
    ...every5(arrived + 35 * MINUTE_MS, arrived + 2 * HOUR_MS, 19),
  ];
  await send(code, road);
  await recompute();
  const shown = await excursions(`siteId=${world.w3Id}`);
  const van = shown.filter((one) => one.vehicle === 'Van 7');
  expect(van).toMatchObject([
    {
      placeId: null,
      startAt: iso(left + 25 * MINUTE_MS),
      outsideMs: 130 * MINUTE_MS,
      dispatches: [
        { dispatchId: dispatch.dispatchId, fromAt: iso(left + 25 * MINUTE_MS), toAt: iso(left + 155 * MINUTE_MS) },
      ],
    },
  ]);
  const { lots } = await kitchen.get('quality', `/v1/excursions/${van[0].excursionId}`);
  expect(lots).toMatchObject([{ lotId: packs, dispatchId: dispatch.dispatchId, placeId: null, quantity: 10 }]);
  expect(await dirtyLots()).toEqual([packs]);
  await send(inCrate, every5(left, left + HOUR_MS, 8.5));
  await recompute();
  const crate = (await excursions(`siteId=${world.w3Id}`)).filter((one) => one.crateCode === 'CRATE-7');
  // Its last reading is the last that is known of it: open.
  expect(crate).toMatchObject([
    { state: 'open', outsideMs: HOUR_MS, dispatches: [{ dispatchId: dispatch.dispatchId }] },
  ]);
  expect(await dirtyLots()).toEqual([packs]);

  // What the packs went through: 3 h on the road, 130 min of them above 10 °C, then the ward's chiller.
  const stays = [
    { subject: 'vehicle:Van 7', fromMs: left, toMs: arrived },
    { subject: `place:${world.w3ChillerId}`, fromMs: arrived, toMs: NOON_MS },
  ];
  const exposure = () => service.db.inGroup(service.groupId, 'read', (tx) => exposureOf(tx, stays));
  const computed = await exposure();
  expect(computed.spanMs).toBe(6 * HOUR_MS);
  expect(computed.runs[3]?.counted).toMatchObject({ totalMs: 130 * MINUTE_MS, longestMs: 130 * MINUTE_MS });
  // The ward's chiller was heard from an hour before noon on only: two hours are not, and count at its upper limit.
  expect(computed.unmonitoredMs).toBe(2 * HOUR_MS);
  expect(computed.unmonitored).toEqual({ centiC: [800], ms: [2 * HOUR_MS] });
  // Asked before the worker has been there: the same.
  await asAdmin(service.databaseUrl, (owner) =>
    owner.query(`insert into place_day_dirty (group_id, subject, day)
                 select group_id, subject, day from place_day on conflict do nothing`),
  );
  expect(await exposure()).toEqual(computed);
  await recompute();
  expect(await exposure()).toEqual(computed);
});
