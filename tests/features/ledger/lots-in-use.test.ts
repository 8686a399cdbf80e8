/** A sack that is simply in use, from a time: inputs name the item, and the lot that was in use then is meant. */
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
});
afterAll(() => service.stop());

let placeId: string;
let first: string;
let second: string;
let batchId: string;
/** Two lots of shin on a shelf of their own, and a batch that is open. */
beforeEach(async () => {
  const place = { siteId: world.ckId, code: randomUUID().slice(0, 18), name: 'Shelf', kind: 'chiller' };
  placeId = (await kitchen.post('operations', '/v1/places', place)).placeId;
  [first, second] = [await kitchen.shin(5_000, { placeId }), await kitchen.shin(5_000, { placeId })];
  batchId = (await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: world.recipeId })).batchId;
});

const inUse = (lotId: string, fromAt: string, status = 201): Promise<Json> =>
  kitchen.post('kitchen', `/v1/places/${placeId}/lots-in-use`, { lotId, fromAt }, status);
const input = (occurredAt: string, status = 201): Promise<Json> =>
  kitchen.post(
    'kitchen',
    `/v1/batches/${batchId}/inputs`,
    { itemId: world.beefShinId, placeId, quantity: 100, unit: 'g', occurredAt },
    status,
  );
const takenFrom = async (): Promise<string[]> =>
  (await kitchen.get('kitchen', `/v1/batches/${batchId}`)).inputs.map((one: Json) => one.lotId);

test('the latest that began before it is meant', async () => {
  await inUse(first, '2026-11-25T08:00:00Z');
  await inUse(second, '2026-11-25T10:00:00Z');
  await input('2026-11-25T09:59:59Z');
  await input('2026-11-25T10:00:00Z');
  expect(await takenFrom()).toEqual([first, second]);
  const now = await kitchen.get('kitchen', `/v1/places/${placeId}/lots-in-use`);
  expect(now.items).toMatchObject([{ itemId: world.beefShinId, lotId: second }]);
});

test('before any was in use, the lot has to be named', async () => {
  await inUse(first, '2026-11-25T08:00:00Z');
  const refused = await input('2026-11-25T07:59:59Z', 422);
  expect([refused.code, refused.detail]).toEqual([
    'rule-broken',
    'No lot of Beef shin, diced was in use in Shelf then: name the lot.',
  ]);
  expect(await takenFrom()).toEqual([]);
});

test('told late, what was booked from another lot is found, until the next lot was in use', async () => {
  await inUse(first, '2026-11-25T07:00:00Z');
  await input('2026-11-25T08:30:00Z');
  await input('2026-11-25T09:30:00Z');
  await inUse(first, '2026-11-25T09:00:00Z');
  const late = await inUse(second, '2026-11-25T08:00:00Z');
  expect(late.findings).toMatchObject([{ kind: 'booked-from-another-lot', lotId: first, quantity: 100 }]);
  const open = await kitchen.get('quality', `/v1/findings?kind=booked-from-another-lot&lotId=${first}`);
  expect(open.items).toHaveLength(1);
});

test('a lot that is not there is not found', async () => {
  expect((await inUse(randomUUID(), '2026-11-25T08:00:00Z', 404)).code).toBe('not-found');
});
