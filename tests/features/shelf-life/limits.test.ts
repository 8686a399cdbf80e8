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

const life = (lotId: string, query = ''): Promise<Json> =>
  kitchen.get('quality', `/v1/lots/${lotId}/shelf-life${query}`);
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
let stewBatchId: string;

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
  stewBatchId = batchId;
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

  test('the picture of the part is an SVG that says so', async () => {
    const answer = await service
      .as('quality')
      .get(`/v1/lots/${packs}/shelf-life?format=svg&placeId=${world.w3ChillerId}`);
    expect(answer.status).toBe(200);
    expect(answer.text).toContain('Warm van');
    expect(answer.text).toContain('must not be eaten');
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
    // the date in force came forward in every part, and each is on its site's relabel list
    expect(partIn(answer, w3SecondId).useByAt).toBe('2026-11-27T00:00:00.000Z');
    const relabels = await kitchen.get('quality', `/v1/relabels?siteId=${world.w3Id}&open=true`);
    expect(
      relabels.items
        .map((one: Json) => [one.placeId, one.newUseByAt ?? one.newUseBy, one.packs ?? one.quantity])
        .sort(),
    ).toEqual(
      [
        [world.w3ChillerId, time(4.5 - 5 / 60), 30],
        [w3SecondId, '2026-11-27T00:00:00.000Z', 30],
      ].sort(),
    );
  });

  test('withdrawing the model computes a later end and lengthens nothing; the quality lead accepts it', async () => {
    const body = { validatedBy: 'Nora Pell', basis: 'challenge-test' };
    await kitchen.post('quality', `/v1/items/${world.beefStewPackId}/model-validations`, body);
    await work();
    const before = partIn(await life(packs), w3SecondId);
    expect([before.computedAt, before.useByAt]).toEqual(['2026-11-28T00:00:00.000Z', '2026-11-27T00:00:00.000Z']);
    const path = `/v1/lots/${packs}/shelf-life-decisions`;
    const accept = { placeId: w3SecondId, accept: 'computed', reason: 'The trial was of another recipe.' };
    expect((await kitchen.post('quality', path, accept)).kind).toBe('accept-computed');
    expect(partIn(await life(packs), w3SecondId).useByAt).toBe('2026-11-28T00:00:00.000Z');
    await work();
    expect(partIn(await life(packs), w3SecondId).useByAt).toBe('2026-11-28T00:00:00.000Z');
    await kitchen.post('quality', path, accept, 409);
  });

  test('the quality lead lifts the hold with a reason: it stays lifted, and worse readings hold it again', async () => {
    const warm = partIn(await life(packs), world.w3ChillerId);
    const path = `/v1/lots/${packs}/shelf-life-decisions`;
    const lift = {
      placeId: world.w3ChillerId,
      liftHoldId: warm.holds[0].holdId,
      reason: 'Probes in five packs read 4 °C.',
    };
    await kitchen.post('quality', path, lift);
    await work();
    const lifted = partIn(await life(packs), world.w3ChillerId);
    expect(lifted.holds).toEqual([]);
    expect(limitOf(lifted, 'cook-chill-10-c').whySilent).toContain('Probes in five packs');
    // above 5 °C as well: eat within 12 hours of 4:25 after the story began
    expect([lifted.ruling, lifted.useByAt]).toEqual(['cook-chill-5-c', time(4.5 - 5 / 60 + 12)]);
    // ten minutes earlier than was known
    await readings('WARM', 4.25, 4 + 25 / 60, () => 1200);
    await work();
    expect(partIn(await life(packs), world.w3ChillerId).forbiddenBy).toBe('cook-chill-10-c');
  });
});

describe('told late', () => {
  test('food that was made from a part before its readings came is held like it, no kill step between', async () => {
    service.clock.set(T0 + 30 * HOUR_MS);
    const shin = await kitchen.shin(40_000);
    const { batchId, lotId } = await kitchen.stew(shin, 40_000, 30_000);
    service.clock.set(T0 + 36 * HOUR_MS);
    const late = await kitchen.pack(batchId, lotId, 30_000, 100, { serialised: false });
    await kitchen.post('quality', `/v1/sites/${world.ckId}/policy-choices`, {
      policySet: 'gb-eng',
      confirmed: ['cook-chill-10-c'],
      confirmedBy: 'Nora Pell',
    });
    // the cold room's readings of that afternoon come a week late, within the life of nothing but the record
    service.clock.set(T0 + 8 * 24 * HOUR_MS);
    await readings('CK', 8, 36, (h) => (h >= 31 && h <= 33 ? 1150 : 250));
    await readings('CK', 36, 40, () => 250);
    await work();
    const made = partIn(await life(late), world.ckChillerId);
    expect(limitOf(made, 'inputs')).toMatchObject({ endsAt: time(31 - 5 / 60), forbids: true });
    expect(made.forbiddenBy).toBe('inputs');
    expect(made.holds.map((hold: Json) => hold.kind)).toContain('safety');
  });

  test('readings in pieces, twice and backwards come to the same', async () => {
    const digest = async (): Promise<Json> => {
      const answer = await life(packs);
      return answer.parts.map((part: Json) => [
        part.partId,
        part.computedAt,
        part.ruling,
        part.unmonitoredH,
        part.forbiddenBy,
      ]);
    };
    const before = await digest();
    for (const [from, to] of [
      [6, 8],
      [4, 7],
      [-1, 4.5],
    ] as const) {
      await readings('WARM', from, to, (h) => (h >= 4.25 && h < 4.45 ? 1200 : h >= 4.5 && h <= 6.5 ? 1100 : 300));
      await work();
    }
    expect(await digest()).toEqual(before);
  });
});

test('warmth where food is only presumed to be is a finding, and holds nothing until somebody has seen it there', async () => {
  service.clock.set(T0 + 200 * HOUR_MS);
  const shin = await kitchen.shin(40_000);
  const { batchId, lotId } = await kitchen.stew(shin, 40_000, 30_000);
  const line = { toPlaceId: undefined };
  const presumed = await kitchen.pack(batchId, lotId, 30_000, 100, { serialised: false, ...line });
  const here = (await life(presumed)).parts[0];
  expect(here.presumed).toBe(true);
  await kitchen
    .post('operations', `/v1/sensors`, { siteId: world.ckId, code: 'REC', name: 'REC', kind: 'air' })
    .then(({ sensorId }) =>
      kitchen.post('operations', `/v1/sensors/${sensorId}/locations`, { from: time(150), placeId: here.partId }),
    );
  sensors.set('REC', world.ckId);
  service.clock.set(T0 + 203 * HOUR_MS);
  await readings('REC', 199, 203, () => 1300);
  await work();
  const warm = partIn(await life(presumed), here.partId);
  expect([warm.forbiddenBy, warm.holds.filter((one: Json) => one.kind === 'safety')]).toEqual([null, []]);
  const found = await kitchen.get('quality', `/v1/findings?lotId=${presumed}&kind=warm-where-presumed`);
  expect(found.items).toHaveLength(1);
  await kitchen.post('kitchen', '/v1/stock-counts', {
    placeId: here.partId,
    occurredAt: time(203),
    lines: [{ lotId: presumed, quantity: 100, unit: 'piece' }],
  });
  await work();
  expect(partIn(await life(presumed), here.partId).forbiddenBy).toBe('cook-chill-10-c');
  expect((await kitchen.get('quality', `/v1/findings?lotId=${presumed}&kind=warm-where-presumed`)).items).toEqual([]);
});

test('a controlling factor that somebody signed for the batch lifts the ten days, and nothing else', async () => {
  const tenDays = async (): Promise<Json> => limitOf((await life(packs)).parts[0], 'vacuum-pack-10-days');
  expect((await tenDays()).endsAt).toBe('2026-12-03T00:00:00.000Z');
  const path = `/v1/batches/${stewBatchId}/control-factors`;
  const salt = await kitchen.post('quality', path, { factor: 'salt', value: 4, signedBy: 'Nora Pell' });
  expect(salt.lifts).toBe(false);
  expect((await tenDays()).endsAt).not.toBeNull();
  const heat = await kitchen.post('quality', path, { factor: 'heat', value: 90, minutes: 10, signedBy: 'Nora Pell' });
  expect(heat.lifts).toBe(true);
  expect(await tenDays()).toMatchObject({ endsAt: null });
  await kitchen.post('quality', path, { factor: 'heat', value: 90, signedBy: 'Nora Pell' }, 422);
});
