/**
 * A vehicle that warmed, from readings to what follows: what was in it is shortened or held, the rest is left alone; told a week late it comes to the
 * same; nothing is lengthened by itself.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { recomputeShelfLife } from '../../../src/features/shelf-life/index.ts';
import { recomputeTemperature } from '../../../src/features/temperature/index.ts';
import { randomIds } from '../../../src/platform/ids.ts';
import { createLog } from '../../../src/platform/log.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const HOUR_MS = 3_600_000;
const T0 = Date.parse('2026-11-23T06:00:00Z');
const time = (hours: number): string => new Date(T0 + hours * HOUR_MS).toISOString();

let service: TestService;
let world: World;
let kitchen: Kitchen;
let packs: string;
const sensors = new Map<string, string>();

async function work(): Promise<void> {
  const parts = { db: service.db, clock: service.clock, ids: randomIds, log: createLog('error') };
  await recomputeTemperature(parts).run({ groupId: service.groupId });
  await recomputeShelfLife(parts).run({ groupId: service.groupId });
}

async function sensor(code: string, siteId: string, where: object): Promise<void> {
  const { sensorId } = await kitchen.post('operations', '/v1/sensors', { siteId, code, name: code, kind: 'air' });
  await kitchen.post('operations', `/v1/sensors/${sensorId}/locations`, { from: time(-24), ...where });
  sensors.set(code, siteId);
}

/** Every five minutes from one hour to another, both included. */
async function readings(code: string, fromH: number, toH: number, centiC: (h: number) => number): Promise<void> {
  const lines = ['sensor,at,temperatureC'];
  for (let minute = fromH * 60; minute <= toH * 60; minute += 5) {
    lines.push(`${code},${time(minute / 60)},${(centiC(minute / 60) / 100).toFixed(2)}`);
  }
  const path = `/v1/readings?deviceTime=${encodeURIComponent(new Date(service.clock.nowMs()).toISOString())}`;
  const headers = { 'content-type': 'text/csv' };
  const answer = await service.as('device', sensors.get(code)).post(path, `${lines.join('\n')}\n`, headers);
  expect(answer.status, answer.text).toBe(200);
  expect(answer.body.refused).toBe(0);
}

const life = (lotId: string, query = ''): Promise<Json> => kitchen.get('quality', `/v1/lots/${lotId}/shelf-life${query}`);
const partIn = (answer: Json, partId: string): Json => answer.parts.find((part: Json) => part.partId === partId);
const limitOf = (part: Json, code: string): Json => part.limits.find((limit: Json) => limit.code === code);

async function send(vehicle: string, departH: number, quantity: number): Promise<string> {
  const dispatch = await kitchen.post('kitchen', '/v1/dispatches', {
    fromSiteId: world.ckId,
    toSiteId: world.w3Id,
    vehicle,
    lines: [{ lotId: packs, placeId: world.ckChillerId, quantity, unit: 'piece' }],
  });
  service.clock.set(T0 + departH * HOUR_MS);
  await kitchen.post('kitchen', `/v1/dispatches/${dispatch.dispatchId}/departure`, { departedAt: time(departH) });
  return dispatch.dispatchId as string;
}

async function receive(dispatchId: string, atH: number, quantity: number, placeId: string): Promise<void> {
  service.clock.set(T0 + atH * HOUR_MS);
  const line = { lotId: packs, quantity, unit: 'piece', condition: 'accepted', placeId };
  const body = { occurredAt: time(atH), closes: true, lines: [line] };
  await kitchen.post('receiver', `/v1/dispatches/${dispatchId}/receipts`, body);
}

let warmVan: string;
let w3SecondId: string;

beforeAll(async () => {
  service = await startService({ nowMs: T0 });
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  w3SecondId = randomUUID();
  const second = { id: w3SecondId, siteId: world.w3Id, code: 'CHILL-2', name: 'Second chiller', kind: 'chiller' };
  await kitchen.post('operations', '/v1/places', second);
  for (const [code, siteId, where] of [
    ['CK', world.ckId, { placeId: world.ckChillerId }],
    ['W3A', world.w3Id, { placeId: world.w3ChillerId }],
    ['W3B', world.w3Id, { placeId: w3SecondId }],
    ['WARM', world.ckId, { vehicle: 'Warm van' }],
    ['COLD', world.ckId, { vehicle: 'Cold van' }],
  ] as const) {
    await sensor(code, siteId, where);
  }
  const shin = await kitchen.shin(40_000);
  const { batchId, lotId } = await kitchen.stew(shin, 40_000, 30_000);
  packs = await kitchen.pack(batchId, lotId, 30_000, 100, { serialised: false });
  await kitchen.release(batchId);
  warmVan = await send('Warm van', 4, 30);
  const coldVan = await send('Cold van', 4, 30);
  await receive(warmVan, 7, 30, world.w3ChillerId);
  await receive(coldVan, 7, 30, w3SecondId);
  service.clock.set(T0 + 8 * HOUR_MS);
  for (const code of ['CK', 'W3A', 'W3B', 'COLD']) await readings(code, -1, 8, () => 250);
});
afterAll(() => service.stop());

describe('a van at 11 °C for two hours', () => {
  test('before anybody sends its readings its time is unmonitored and counts at 8 °C; nothing is held', async () => {
    await work();
    const answer = await life(packs);
    const warm = partIn(answer, world.w3ChillerId);
    expect(warm.unmonitoredH).toBe(3);
    expect(partIn(answer, w3SecondId).unmonitoredH).toBe(0);
    expect(warm.holds).toEqual([]);
    // 23 November is day one of five: the end of the 27th at the site, which is UTC in winter.
    expect(warm.useByAt).toBe('2026-11-28T00:00:00.000Z');
    expect(warm.ruling).toBe('printed-use-by');
    expect(answer.history).toEqual([]);
  });

  test('rules from memory are told and drive nothing until a named person has confirmed them for the site', async () => {
    await readings('WARM', -1, 8, (h) => (h >= 4.5 && h <= 6.5 ? 1100 : 300));
    await work();
    const warm = partIn(await life(packs), world.w3ChillerId);
    const discard = limitOf(warm, 'cook-chill-10-c');
    expect(discard.drives).toBe(false);
    expect(discard.basis).toBe('from-memory');
    expect(discard.endsAt).toBe(time(4.5 - 5 / 60));
    expect(warm.unmonitoredH).toBe(0);
    expect(warm.holds).toEqual([]);
  });

  test('confirming them says what changes; then what was in the van is held, and the rest is left alone', async () => {
    const chosen = await kitchen.post('quality', `/v1/sites/${world.w3Id}/policy-choices`, {
      policySet: 'gb-eng',
      confirmed: ['cook-chill-10-c', 'cook-chill-5-c', 'cook-chill-5-days'],
      confirmedBy: 'Nora Pell',
    });
    expect(chosen.changes.map((one: Json) => [one.partId, one.rulingAfter, one.forbiddenAfter])).toEqual([
      [world.w3ChillerId, 'cook-chill-10-c', true],
    ]);
    await work();
    const answer = await life(packs);
    const warm = partIn(answer, world.w3ChillerId);
    expect(warm.forbiddenBy).toBe('cook-chill-10-c');
    expect(warm.holds.map((hold: Json) => hold.kind)).toEqual(['safety']);
    for (const partId of [w3SecondId, world.ckChillerId]) {
      const part = partIn(answer, partId);
      expect(part.holds, partId).toEqual([]);
      expect(part.useByAt).toBe('2026-11-28T00:00:00.000Z');
    }
    expect(answer.history).toHaveLength(1);
    await work();
    expect((await life(packs)).history).toHaveLength(1);
  });

  test('a model that a named person validated brings a date forward by what the warmth took', async () => {
    // 100 h at 4 °C; square root with -10 °C: 11 °C counts (21/14)² = 2.25 times, 3 °C (13/14)², 2.5 °C (12.5/14)².
    const body = {
      model: { kind: 'square-root', minTemperatureC: -10 },
      reference: { temperatureC: 4, lifeH: 100 },
      validatedBy: 'Nora Pell',
      basis: 'challenge-test',
    };
    await kitchen.post('quality', `/v1/items/${world.beefStewPackId}/model-validations`, body);
    await work();
    const answer = await life(packs);
    // between two readings the warmer one holds: five minutes more at either end
    const [warmH, coldH] = [2 + 10 / 60, 3 - 2 - 10 / 60];
    // born at 6:00; four hours in the cold room, three on the van, one in the ward's chiller
    const used = (warmH * 2.25 + coldH * (13 / 14) ** 2 + 5 * (12.5 / 14) ** 2) / 100;
    const warm = limitOf(partIn(answer, world.w3ChillerId), 'item-model');
    expect(warm.usedFraction).toBeCloseTo(used, 4);
    // 8 h on, (1 - used) x 100 h later, rounded down to the end of a day
    expect(warm.endsAt).toBe('2026-11-27T00:00:00.000Z');
    expect(limitOf(partIn(answer, w3SecondId), 'item-model').endsAt).toBe('2026-11-27T00:00:00.000Z');
  });
});

test('the picture is an SVG of its own', async () => {
  const answer = await service.as('quality').get(`/v1/lots/${packs}/shelf-life?format=svg&placeId=${world.w3ChillerId}`);
  expect(answer.status).toBe(200);
  if (process.env.PIC) (await import('node:fs')).writeFileSync(process.env.PIC, answer.text);
  expect(answer.text).toContain('Warm van');
  expect(answer.text).toContain('must not be eaten');
});
