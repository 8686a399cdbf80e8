/** Places are often presumed: a finding until somebody sees the food there, never a hold. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, beforeEach, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  const putAway = { chilled: world.w3ChillerId, frozen: null, ambient: null };
  const changed = await service.as('operations').patch(`/v1/sites/${world.w3Id}`, { putAway }, { 'if-match': '*' });
  if (changed.status !== 200) throw new Error(changed.text);
});
afterAll(() => service.stop());

let lotId: string;
let lotCode: string;
let dispatchId: string;
/** Twelve packs on the road to ward 3, serials 1 to 12. */
beforeEach(async () => {
  const { batchId, lotId: load } = await kitchen.stew(await kitchen.shin(10_000), 10_000, 8_000);
  lotId = await kitchen.pack(batchId, load, 3_600, 12);
  await kitchen.release(batchId);
  lotCode = (await kitchen.get('kitchen', `/v1/lots/${lotId}`)).code;
  const line = { lotId, placeId: world.ckChillerId, quantity: 12, unit: 'piece' };
  const plan = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines: [line] };
  dispatchId = (await kitchen.post('kitchen', '/v1/dispatches', plan)).dispatchId;
  await kitchen.post('kitchen', `/v1/dispatches/${dispatchId}/departure`, {});
});

const at = (minutes: number): string => new Date(service.clock.nowMs() + minutes * 60_000).toISOString();
async function scan(kind: string, serial: number, minutes: number, more: object = {}): Promise<void> {
  const one = { id: randomUUID(), kind, code: `${lotCode}/${serial}`, occurredAt: at(minutes), ...more };
  const answer = await service.as('receiver').post('/v1/scans', { siteId: world.w3Id, scans: [one] });
  expect([answer.status, answer.body.refused]).toEqual([207, 0]);
}
const presumed = async (): Promise<Json[]> =>
  (await kitchen.get('receiver', `/v1/findings?kind=place-presumed&lotId=${lotId}`)).items;

test('what arrives and is not put away by hand is presumed in the default place; a scan away from there confirms', async () => {
  await scan('arrival', 1, -60);
  await scan('arrival', 2, -59);
  const found = await presumed();
  expect(found).toMatchObject([{ siteId: world.w3Id, quantity: 2, detail: { placeId: world.w3ChillerId } }]);
  const holds = (await kitchen.get('quality', `/v1/holds?lotId=${lotId}&open=true`)).items;
  expect(holds.filter((hold: Json) => hold.kind !== 'awaiting-release')).toEqual([]);
  await scan('use', 1, -10);
  expect(await presumed()).toEqual([]);
});

test('put away to just that place, it is confirmed although nothing moves', async () => {
  await scan('arrival', 3, -60);
  expect(await presumed()).toHaveLength(1);
  await scan('put-away', 3, -50, { placeId: world.w3ChillerId });
  expect(await presumed()).toEqual([]);
});

test('a count of the place confirms; one from before the arrival does not', async () => {
  await scan('arrival', 4, -60);
  const count = (minutes: number, quantity: number) =>
    kitchen.post('receiver', '/v1/stock-counts', {
      placeId: world.w3ChillerId,
      occurredAt: at(minutes),
      lines: [{ lotId, quantity, unit: 'piece' }],
    });
  await count(-90, 0);
  expect(await presumed()).toHaveLength(1);
  await count(-20, 1);
  expect(await presumed()).toEqual([]);
});

test('in the other order too: what confirms came first, and nothing is found', async () => {
  await scan('use', 5, -10);
  await scan('arrival', 5, -60);
  expect(await presumed()).toEqual([]);
});

test('undone, the arrival presumes nothing any more; undone, the use confirms nothing any more', async () => {
  await scan('arrival', 6, -60);
  await scan('arrival', 7, -59);
  const use = { id: randomUUID(), kind: 'use', code: `${lotCode}/6`, occurredAt: at(-10) };
  await service.as('receiver').post('/v1/scans', { siteId: world.w3Id, scans: [use] });
  expect(await presumed()).toEqual([]);
  await kitchen.post('receiver', '/v1/reversals', { entryId: use.id, reason: 'Wrong pack' });
  expect(await presumed()).toMatchObject([{ quantity: 2 }]);
});
