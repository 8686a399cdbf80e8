/** Sensors, where they are over time, and that the order in which readings and statements arrive decides nothing. */
import { randomUUID } from 'node:crypto';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { sensorsAt } from '../../../src/features/temperature/sensors/locations.ts';
import { kitchenOf } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { asAdmin } from '../../support/test-server.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
});
afterAll(() => service.stop());

let made = 0;
async function sensor(more: object = {}): Promise<{ id: string; code: string }> {
  const [id, code] = [randomUUID(), `T-${(made += 1)}`];
  const body = { id, siteId: world.ckId, code, name: 'A sensor', kind: 'air', ...more };
  const answer = await service.as('operations').post('/v1/sensors', body);
  expect(answer.status, answer.text).toBe(201);
  return { id, code };
}
const say = (id: string, from: string, where: object) =>
  service.as('operations').post(`/v1/sensors/${id}/locations`, { id: randomUUID(), from, ...where });
const rowsOf = (sql: string) =>
  asAdmin(service.databaseUrl, (client) =>
    client.query(sql).then((result) => result.rows as Record<string, unknown>[]),
  );
const dirty = async () =>
  (await rowsOf(`delete from place_day_dirty returning subject, day::text as day`))
    .map((row) => `${String(row.subject)} ${String(row.day)}`)
    .sort();

describe('a sensor', () => {
  test('is added once by code, renamed against its version, and seen at its site only', async () => {
    const { id, code } = await sensor();
    const again = { id: randomUUID(), siteId: world.ckId, code, name: 'Another', kind: 'air' };
    expect((await service.as('operations').post('/v1/sensors', again)).body.code).toBe('code-taken');
    const path = `/v1/sensors/${id}`;
    const changed = await service.as('quality').patch(path, { name: 'By the door' }, { 'if-match': '"v1"' });
    expect(changed.body).toMatchObject({ name: 'By the door', version: 2, deviceId: null });
    expect((await service.as('quality').patch(path, { active: false }, { 'if-match': '"v1"' })).status).toBe(412);
    expect((await service.as('kitchen', world.ckId).get(path)).status).toBe(200);
    expect((await service.as('kitchen', world.w3Id).get(path)).status).toBe(404);
    const listed = await service.as('kitchen', world.w3Id).get('/v1/sensors');
    expect(listed.body.items).toEqual([]);
    const elsewhere = { ...again, code: 'X-1', deviceId: randomUUID() };
    expect((await service.as('operations').post('/v1/sensors', elsewhere)).status).toBe(404);
  });

  test('stands where the last statement about a time says, and a late statement changes what was', async () => {
    const { id } = await sensor();
    await dirty();
    expect((await say(id, '2026-11-20T06:00:00Z', { placeId: world.ckChillerId })).status).toBe(201);
    expect((await say(id, '2026-11-24T06:00:00Z', {})).status).toBe(201);
    await dirty();
    // It was in the van on the 22nd and came back on the 23rd; told on the 25th.
    expect((await say(id, '2026-11-22T05:00:00Z', { vehicle: 'VAN-1' })).status).toBe(201);
    const chiller = `place:${world.ckChillerId}`;
    expect(await dirty()).toEqual([
      ...['22', '23', '24'].map((day) => `${chiller} 2026-11-${day}`),
      ...['22', '23', '24'].map((day) => `vehicle:VAN-1 2026-11-${day}`),
    ]);
    expect((await say(id, '2026-11-23T05:00:00Z', { placeId: world.ckChillerId })).status).toBe(201);
    expect((await say(id, '2026-11-23T05:00:00Z', { placeId: world.ckFreezerId })).status).toBe(201);
    const { body } = await service.as('quality').get(`/v1/sensors/${id}`);
    const stays = (
      body.stays as { from: string; to: string | null; placeId: string | null; vehicle: string | null }[]
    ).map((stay) => [stay.from.slice(8, 13), stay.to?.slice(8, 13), stay.placeId ?? stay.vehicle]);
    expect(stays).toEqual([
      ['20T06', '22T05', world.ckChillerId],
      ['22T05', '23T05', 'VAN-1'],
      ['23T05', '24T06', world.ckFreezerId],
      ['24T06', undefined, null],
    ]);
  });

  test('is in one place at a time, not in the future, and at a place of the teller', async () => {
    const { id } = await sensor();
    const from = '2026-11-24T06:00:00Z';
    expect((await say(id, from, { vehicle: 'VAN-1', crateCode: 'C-1' })).body.code).toBe('rule-broken');
    expect((await say(id, '2025-06-01T06:00:00Z', {})).body.code).toBe('rule-broken');
    expect((await say(id, '2026-11-25T12:11:00Z', {})).body.code).toBe('time-in-future');
    expect((await say(id, from, { placeId: randomUUID() })).status).toBe(404);
    const own = service.as('quality', world.ckId);
    const there = { id: randomUUID(), from, placeId: world.w3ChillerId };
    expect((await own.post(`/v1/sensors/${id}/locations`, there)).status).toBe(404);
  });
});

test('a dispatch has the sensors of its vehicle and its crates, from departure to receipt', async () => {
  const kitchen = kitchenOf(service, world);
  const stew = await kitchen.stew(await kitchen.shin(40_000), 40_000, 34_000);
  const lotId = await kitchen.pack(stew.batchId, stew.lotId, 30_000, 100);
  await kitchen.release(stew.batchId);
  const [van, crate, other] = [await sensor(), await sensor({ kind: 'simulant' }), await sensor()];
  await say(van.id, '2026-11-01T00:00:00Z', { vehicle: 'VAN-7' });
  await say(crate.id, '2026-11-01T00:00:00Z', { crateCode: 'CRATE-9' });
  await say(other.id, '2026-11-01T00:00:00Z', { vehicle: 'VAN-8' });
  const line = {
    lotId,
    placeId: world.ckChillerId,
    quantity: 2,
    unit: 'piece',
    serials: ['1', '2'],
    crateCode: 'CRATE-9',
  };
  const { dispatchId } = await kitchen.post('kitchen', '/v1/dispatches', {
    code: 'D-7',
    fromSiteId: world.ckId,
    toSiteId: world.w3Id,
    purpose: 'delivery',
    vehicle: 'VAN-7',
    lines: [line],
  });
  const find = (from: string, to: string) =>
    service.db.inGroup(service.groupId, 'read', (tx) =>
      sensorsAt(tx, { dispatchId: dispatchId as string }, Date.parse(from), Date.parse(to)),
    );
  expect(await find('2026-11-25T00:00:00Z', '2026-11-26T00:00:00Z')).toEqual([]);
  const departure = { departedAt: '2026-11-25T12:00:00Z' };
  await kitchen.post('kitchen', `/v1/dispatches/${dispatchId}/departure`, departure);
  const [from, to] = [Date.parse('2026-11-25T12:00:00Z'), Date.parse('2026-11-25T13:00:00Z')];
  const there = await find('2026-11-25T00:00:00Z', '2026-11-25T13:00:00Z');
  expect(there).toEqual([
    expect.objectContaining({ sensorId: van.id, kind: 'air', fromMs: from, toMs: to }),
    expect.objectContaining({ sensorId: crate.id, kind: 'simulant', fromMs: from, toMs: to }),
  ]);
});

describe('the order of arrival', () => {
  const DAYS = ['2026-11-20', '2026-11-21', '2026-11-22'];
  const reading = fc.record({
    which: fc.integer({ min: 0, max: 1 }),
    day: fc.constantFrom(...DAYS),
    slot: fc.integer({ min: 0, max: 5 }),
    temperatureC: fc.constantFrom(-18.25, 3, 3.01, 11),
  });
  /** Each upload: which readings, by index; every reading is sent at least once. */
  const history = fc.array(reading, { minLength: 5, maxLength: 30 }).chain((readings) =>
    fc.record({
      readings: fc.constant(readings),
      order: fc.shuffledSubarray([...readings.keys(), ...readings.keys()], {
        minLength: 2 * readings.length,
        maxLength: 2 * readings.length,
      }),
      cuts: fc.array(fc.nat({ max: 2 * readings.length }), { maxLength: 4 }),
      clocks: fc.array(fc.boolean(), { minLength: 6, maxLength: 6 }),
    }),
  );

  test('splits and repeats end with the same set, the same dirty days, the same conflicts and the same doubts', async () => {
    const device = service.as('device', world.ckId);
    await fc.assert(
      fc.asyncProperty(history, async ({ readings, order, cuts, clocks }) => {
        const sensors = [await sensor(), await sensor()];
        // The first is in the chiller until noon of the 21st, then in the van; the second is in the freezer from the 21st.
        await say(sensors[0]?.id ?? '', '2026-11-19T00:00:00Z', { placeId: world.ckChillerId });
        await say(sensors[0]?.id ?? '', '2026-11-21T12:00:00Z', { vehicle: 'VAN-3' });
        await say(sensors[1]?.id ?? '', '2026-11-21T00:00:00Z', { placeId: world.ckFreezerId });
        await dirty();
        const bounds = [0, ...[...cuts].sort((a, b) => a - b), order.length];
        let [conflicts, stored, settled] = [0, 0, new Set<number>()];
        for (const [at, end] of bounds.slice(1).entries()) {
          const sent = order.slice(bounds[at], end);
          const body = {
            ...(clocks[at] && { deviceTime: '2026-11-25T12:00:00Z' }),
            readings: sent.map((index) => {
              const { which, day, slot, temperatureC } = readings[index] as (typeof readings)[number];
              return { sensor: sensors[which]?.code, at: `${day}T${10 + slot}:00:00Z`, temperatureC };
            }),
          };
          const answer = await device.post('/v1/readings', body);
          expect(answer.status, answer.text).toBe(200);
          conflicts += answer.body.conflicts as number;
          stored += answer.body.stored as number;
          if (clocks[at]) settled = new Set([...settled, ...sent]);
        }
        // By hand, from the readings alone.
        const key = (one: (typeof readings)[number]) =>
          `${one.which} ${one.day} ${one.slot} ${Math.round(one.temperatureC * 100)}`;
        const set = new Set(readings.map(key));
        const times = new Set(readings.map((one) => `${one.which} ${one.day} ${one.slot}`));
        const sure = new Set([...settled].map((index) => key(readings[index] as (typeof readings)[number])));
        const places: Record<string, string[]> = {
          '0 2026-11-20': [`place:${world.ckChillerId}`],
          '0 2026-11-21': [`place:${world.ckChillerId}`, 'vehicle:VAN-3'],
          '0 2026-11-22': ['vehicle:VAN-3'],
          '1 2026-11-20': [],
          '1 2026-11-21': [`place:${world.ckFreezerId}`],
          '1 2026-11-22': [`place:${world.ckFreezerId}`],
        };
        const days = new Set(
          readings.flatMap(({ which, day }) => (places[`${which} ${day}`] ?? []).map((place) => `${place} ${day}`)),
        );
        const rows = await rowsOf(
          `select s.code, to_char(r.at at time zone 'UTC', 'YYYY-MM-DD') as day, extract(hour from r.at at time zone 'UTC')::int as hour,
                  r.centi_c, r.time_doubt from reading r join sensor s using (sensor_no)
            where s.code in ('${sensors[0]?.code}', '${sensors[1]?.code}')`,
        );
        const seen = rows.map((row) => {
          const which = row.code === sensors[0]?.code ? 0 : 1;
          return [
            `${which} ${String(row.day)} ${Number(row.hour) - 10} ${Number(row.centi_c)}`,
            row.time_doubt,
          ] as const;
        });
        expect(new Map(seen)).toEqual(new Map([...set].map((one) => [one, !sure.has(one)])));
        expect([seen.length, stored, conflicts]).toEqual([set.size, set.size, set.size - times.size]);
        expect(await dirty()).toEqual([...days].sort());
      }),
      { numRuns: 12, seed: 20_261_125 },
    );
  });
});
