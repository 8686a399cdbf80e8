/** The morning list of a ward: what is on it follows from what the test recorded. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { derivedId } from '../../../src/platform/ids.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let packs: string;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  const { batchId, lotId } = await kitchen.stew(await kitchen.shin(40_000), 40_000, 34_000);
  packs = await kitchen.pack(batchId, lotId, 9_000, 30);
  await kitchen.release(batchId);
  for (const [quantity, found] of [
    [12, 10],
    [5, 0],
  ] as const) {
    const line = { lotId: packs, placeId: world.ckChillerId, quantity, unit: 'piece' };
    const plan = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines: [line] };
    service.clock.set(service.clock.nowMs() + 60_000);
    const dispatch = await kitchen.post('kitchen', '/v1/dispatches', plan);
    await kitchen.post('kitchen', `/v1/dispatches/${dispatch.dispatchId}/departure`, {});
    if (found === 0) continue;
    const lines = [{ lotId: packs, quantity: found, unit: 'piece', condition: 'accepted', placeId: world.w3ChillerId }];
    const receipt = { occurredAt: new Date(service.clock.nowMs()).toISOString(), closes: true, lines };
    await kitchen.post('receiver', `/v1/dispatches/${dispatch.dispatchId}/receipts`, receipt);
  }
  const quarantineId = derivedId('quarantine-place', world.w3Id);
  await kitchen.post('receiver', '/v1/moves', {
    lotId: packs,
    fromPlaceId: world.w3ChillerId,
    toPlaceId: quarantineId,
    quantity: 3,
    unit: 'piece',
  });
});
afterAll(() => service.stop());

const list = (role = 'receiver', siteId = world.w3Id): Promise<Json> =>
  kitchen.get(role, `/v1/sites/${siteId}/morning-list`);
const brief = (parts: Json[]) => parts.map((part) => [part.quantity, part.due, part.placeName]);

test('today: what is set aside, what is missing, what is on its way', async () => {
  const morning = await list();
  expect(morning).toMatchObject({ siteId: world.w3Id, date: '2026-11-25', useToday: [], pastDate: [], more: false });
  expect(brief(morning.setAside)).toEqual([[3, 'until 29 Nov', 'Quarantine']]);
  expect(morning.setAside[0].whyNot).toContain('quarantine');
  expect(morning.notAccountedFor).toMatchObject([{ why: 'missing-in-transit', quantity: 2, lotId: packs }]);
  expect(morning.arriving).toMatchObject([{ lots: 1, quantity: 5, fromSiteName: 'Central kitchen' }]);
});

test('on the last day it is to be used today; the van of days ago is not arriving any more', async () => {
  // five days from the end of cooking on the 25th, that day included: the 29th
  service.clock.set(Date.parse('2026-11-29T08:00:00Z'));
  const morning = await list();
  expect(brief(morning.useToday)).toEqual([[7, 'by the end of today', 'CHILL-1']]);
  expect(morning.notAccountedFor.map((one: Json) => [one.why, one.quantity])).toEqual([
    ['missing-in-transit', 2],
    ['still-on-the-road', 5],
  ]);
  expect(morning.arriving).toEqual([]);
});

test('the day after it is past its date, what stands in quarantine too', async () => {
  service.clock.set(Date.parse('2026-11-30T08:00:00Z'));
  const morning = await list();
  expect(morning.useToday).toEqual([]);
  expect(morning.pastDate.map((one: Json) => [one.quantity, one.due])).toEqual([
    [7, 'after 29 Nov'],
    [3, 'after 29 Nov'],
  ]);
});

test('what was used too late is to be settled, with what to do', async () => {
  const use = {
    lotId: packs,
    placeId: world.w3ChillerId,
    quantity: 1,
    unit: 'piece',
    occurredAt: '2026-11-30T07:30:00Z',
  };
  await kitchen.post('receiver', '/v1/uses', use);
  const { findings } = await list();
  expect(findings).toMatchObject([{ kind: 'past-use-by', label: 'Used or taken in past its use-by' }]);
  expect(findings[0].advice).toContain('quality lead');
});

test('it prints; another site and a site that is not there look the same', async () => {
  const page = await service.as('receiver').get(`/v1/sites/${world.w3Id}/morning-list?format=pdf`);
  expect([page.status, page.headers['content-type'], page.raw.subarray(0, 5).toString()]).toEqual([
    200,
    'application/pdf',
    '%PDF-',
  ]);
  expect(page.headers['content-disposition']).toContain('morning-list-W3-2026-11-30.pdf');
  for (const siteId of [world.ckId, randomUUID()]) {
    const answer = await service.as('receiver', world.w3Id).get(`/v1/sites/${siteId}/morning-list`);
    expect([answer.status, answer.body.code]).toEqual([404, 'not-found']);
  }
});
