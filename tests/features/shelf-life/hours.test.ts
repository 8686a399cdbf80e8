/**
 * Limits in hours, by hand: opened, thawed, and the Food Code's time as control (3-501.19: 4 hours, or 6 if never above 21 °C, by the state adoptions
 * quoted in the policy set). Cooked and packed on 23 November 2026 at 06:00 UTC, printed for five days with that day: the end of the 27th.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { recomputeShelfLife } from '../../../src/features/shelf-life/index.ts';
import { recomputeTemperature } from '../../../src/features/temperature/index.ts';
import { derivedId, randomIds } from '../../../src/platform/ids.ts';
import { createLog } from '../../../src/platform/log.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const PACKED = '2026-11-23T06:00:00Z';
const PRINTED = '2026-11-28T00:00:00.000Z';
let service: TestService;
let world: World;
let kitchen: Kitchen;

beforeAll(async () => {
  service = await startService({ nowMs: Date.parse(PACKED) });
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  const lives = { openedItemId: world.beefStewId, frozenLifeDays: 90, thawedLifeH: 24 };
  const changed = await service.as('operations').patch(`/v1/items/${world.beefStewPackId}`, lives, { 'if-match': '*' });
  expect(changed.status, changed.text).toBe(200);
});
afterAll(() => service.stop());

async function packs(more: object = {}): Promise<string> {
  service.clock.set(Date.parse(PACKED));
  const shin = await kitchen.shin(2_000);
  const { batchId, lotId } = await kitchen.stew(shin, 2_000, 1_800);
  const packed = await kitchen.pack(batchId, lotId, 1_800, 6, { serialised: false, ...more });
  await kitchen.release(batchId);
  return packed;
}

async function convert(kind: string, lotId: string, placeId: string, instant: string): Promise<string> {
  service.clock.set(Date.parse(instant));
  const id = randomUUID();
  await kitchen.post('operations', '/v1/conversions', { id, kind, occurredAt: instant, lotId, placeId, quantity: 2 });
  return derivedId('converted-lot', id);
}

async function partOf(lotId: string, placeId: string): Promise<Json> {
  const { parts } = await kitchen.get('quality', `/v1/lots/${lotId}/shelf-life`);
  return parts.find((part: Json) => part.placeId === placeId);
}

async function work(): Promise<void> {
  const parts = { db: service.db, clock: service.clock, ids: randomIds, log: createLog('error') };
  await recomputeTemperature(parts).run({ groupId: service.groupId });
  await recomputeShelfLife(parts).run({ groupId: service.groupId });
}

test.each([
  ['2026-11-24T08:00:00Z', '2026-11-25T08:00:00.000Z'],
  ['2026-11-27T20:00:00Z', PRINTED],
])('opened at %s keeps 24 hours, and no longer than the pack: %s', async (opened, end) => {
  const lotId = await convert('open', await packs(), world.ckChillerId, opened);
  await work();
  const part = await partOf(lotId, world.ckChillerId);
  expect([part.useByAt, part.computedAt]).toEqual([end, end]);
});

test('frozen on the second day the clock stops; thawed weeks later it has 24 hours', async () => {
  const frozen = await convert('freeze', await packs(), world.ckChillerId, '2026-11-24T08:00:00Z');
  const where = (await kitchen.get('quality', `/v1/lots/${frozen}/shelf-life`)).parts as Json[];
  for (const limit of where[0].limits as Json[]) {
    // 24 November and 90 days; nothing else ends before
    if (limit.drives && limit.endsAt !== null) expect(limit.endsAt > '2027-02-20', limit.code).toBe(true);
  }
  const thawed = await convert('thaw', frozen, where[0].placeId, '2026-12-10T08:00:00Z');
  const { parts } = await kitchen.get('quality', `/v1/lots/${thawed}/shelf-life`);
  expect(parts[0].computedAt).toBe('2026-12-11T08:00:00.000Z');
});

test('in the United States time above 5 °C is six hours, and four once it was warmer than 21 °C', async () => {
  const choice = { policySet: 'us', confirmed: [], confirmedBy: 'Nora Pell' };
  await kitchen.post('quality', `/v1/sites/${world.ckId}/policy-choices`, choice);
  const place = { siteId: world.ckId, code: 'US-1', name: 'Chiller', kind: 'chiller' };
  const { placeId } = await kitchen.post('operations', '/v1/places', place);
  const sensor = { siteId: world.ckId, code: 'US', name: 'Chiller', kind: 'air' };
  const { sensorId } = await kitchen.post('operations', '/v1/sensors', sensor);
  await kitchen.post('operations', `/v1/sensors/${sensorId}/locations`, { from: PACKED, placeId });
  const lotId = await packs({ toPlaceId: placeId });
  service.clock.set(Date.parse('2026-11-23T15:00:00Z'));
  const send = async (lines: readonly string[]) => {
    const text = ['sensor,at,temperatureC', ...lines].join('\n');
    const path = '/v1/readings?deviceTime=2026-11-23T15:00:00Z';
    const answer = await service.as('device', world.ckId).post(path, text, { 'content-type': 'text/csv' });
    expect(answer.body, answer.text).toMatchObject({ refused: 0 });
    await work();
  };
  // cold until 08:00, then 11 °C: between the two the warmer holds, so it is warm from 07:45
  const quarters = Array.from({ length: 37 }, (_, at) => new Date(Date.parse(PACKED) + at * 900_000).toISOString());
  await send(quarters.map((instant) => `US,${instant},${instant < '2026-11-23T08:00' ? 3 : 11}`));
  const ends = async () => (await partOf(lotId, placeId)).limits.find((one: Json) => one.code === 'hours-out-of-chill');
  expect(await ends()).toMatchObject({ endsAt: '2026-11-23T13:45:00.000Z', drives: true, policySet: 'us' });
  await send(['US,2026-11-23T09:00:00Z,21']);
  expect(await ends()).toMatchObject({ endsAt: '2026-11-23T13:45:00.000Z' });
  await send(['US,2026-11-23T09:00:00Z,21.01']);
  expect(await ends()).toMatchObject({ endsAt: '2026-11-23T11:45:00.000Z', forbids: true });
});
