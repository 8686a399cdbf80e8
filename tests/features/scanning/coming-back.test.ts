/** What comes back, or is to be destroyed, has a worse history than what stayed: scanned in, it stands in quarantine. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { derivedId } from '../../../src/platform/ids.ts';
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

test.each(['delivery', 'return', 'destruction'])('a %s that arrives by scan', async (purpose) => {
  const { batchId, lotId } = await kitchen.stew(await kitchen.shin(10_000), 10_000, 8_000);
  const packs = await kitchen.pack(batchId, lotId, 900, 3);
  await kitchen.release(batchId);
  const { code } = await kitchen.get('kitchen', `/v1/lots/${packs}`);
  const line = { lotId: packs, placeId: world.ckChillerId, quantity: 3, unit: 'piece' };
  const plan = { fromSiteId: world.ckId, toSiteId: world.w3Id, purpose, lines: [line] };
  const { dispatchId } = await kitchen.post('kitchen', '/v1/dispatches', plan);
  await kitchen.post('kitchen', `/v1/dispatches/${dispatchId}/departure`, {});
  const occurredAt = new Date(service.clock.nowMs()).toISOString();
  const scans = ['1', '2'].map((serial) => ({
    id: randomUUID(),
    kind: 'arrival',
    code: `${code}/${serial}`,
    occurredAt,
  }));
  // the third is scanned with a place: whoever says it knows
  const said = { id: randomUUID(), kind: 'arrival', code: `${code}/3`, occurredAt, placeId: world.w3ChillerId };
  const answer = await service.as('receiver').post('/v1/scans', { siteId: world.w3Id, scans: [...scans, said] });
  expect([answer.status, answer.body.refused]).toEqual([207, 0]);
  const stock = (await kitchen.get('receiver', `/v1/stock?siteId=${world.w3Id}&limit=500`)).items;
  const where = stock.flatMap((one: Json) => (one.lotId === packs ? [[one.placeId, one.quantity]] : []));
  const apart = derivedId(purpose === 'delivery' ? 'receiving-place' : 'quarantine-place', world.w3Id);
  expect(new Map(where)).toEqual(
    new Map([
      [apart, 2],
      [world.w3ChillerId, 1],
    ]),
  );
});
