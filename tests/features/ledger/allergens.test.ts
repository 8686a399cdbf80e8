/** An allergen that comes to light late: it reaches everything made from the lot, and everybody who has any of it is named. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let shin: string;
let stew: string;
let packs: string;
let answer: Json;

const path = (lotId: string) => `/v1/lots/${lotId}/allergen-corrections`;
const reason = 'The butcher changed the marinade';

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  shin = await kitchen.shin(10_000, { mayContain: ['milk'] });
  const batch = await kitchen.stew(shin, 10_000, 8_000);
  stew = batch.lotId;
  packs = await kitchen.pack(batch.batchId, stew, 6_000, 20);
  await kitchen.release(batch.batchId);
  const lines = [{ lotId: packs, placeId: world.ckChillerId, quantity: 8, unit: 'piece' }];
  const sent = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines };
  const dispatch = await kitchen.post('kitchen', '/v1/dispatches', sent);
  await kitchen.post('kitchen', `/v1/dispatches/${dispatch.dispatchId}/departure`, {});
  const some = { lotId: packs, placeId: world.w3ChillerId, unit: 'piece' };
  const receipt = {
    occurredAt: '2026-11-25T11:40:00Z',
    closes: false,
    lines: [{ ...some, quantity: 5, condition: 'accepted' }],
  };
  await kitchen.post('receiver', `/v1/dispatches/${dispatch.dispatchId}/receipts`, receipt);
  await kitchen.post('receiver', '/v1/uses', { ...some, quantity: 2, occurredAt: '2026-11-25T11:50:00Z' });
  answer = await kitchen.post('quality', path(shin), {
    allergens: ['soybeans', 'milk'],
    mayContain: ['sesame'],
    reason,
  });
});
afterAll(() => service.stop());

const lotOf = (lotId: string): Promise<Json> => kitchen.get('quality', `/v1/lots/${lotId}`);

describe('an allergen found late', () => {
  test('is added to the lot, to the batch and to the packs, with the cause', async () => {
    // soybeans come before milk in Annex II; the stew has wheat and celery of its own
    expect(await lotOf(shin)).toMatchObject({ allergens: ['soybeans', 'milk'], mayContain: ['sesame'] });
    const wanted = { allergens: ['gluten-cereals:wheat', 'soybeans', 'milk', 'celery'], mayContain: ['sesame'] };
    expect(await lotOf(stew)).toMatchObject(wanted);
    const pack = await lotOf(packs);
    expect(pack).toMatchObject(wanted);
    expect(pack.changes).toMatchObject([{ kind: 'allergens-added', causeLotId: shin }]);
    expect((await lotOf(shin)).changes).toMatchObject([
      { kind: 'allergens-added', causeLotId: null, detail: { allergens: ['soybeans', 'milk'], reason } },
    ]);
    expect(answer).toMatchObject({ lotId: shin, allergens: ['soybeans', 'milk'], lotsReached: 3 });
  });

  test('held at the kitchen that made it and nowhere else: the answer says whom to tell, and who has eaten of it', async () => {
    const holds = (await kitchen.get('quality', `/v1/holds?lotId=${packs}&open=true`)).items;
    expect(holds).toMatchObject([{ kind: 'declaration', siteId: world.ckId, propagates: false }]);
    const at = (siteId: string) => answer.reached.find((one: Json) => one.lotId === packs && one.siteId === siteId);
    expect(at(world.ckId)).toMatchObject({
      onHand: 12,
      served: 0,
      labelLeavesOut: expect.arrayContaining(['soybeans', 'milk']),
    });
    expect(at(world.w3Id)).toMatchObject({ onHand: 3, onTheWay: 3, served: 2 });
    expect(answer.tell).toContain('is on hold there. No other hold was placed. Tell ');
    expect(answer.tell).toContain('Ward 3 pantry');
    expect(answer.tell).toContain('before serving');
    expect(answer.tell).toContain('Served already at Ward 3 pantry');
  });

  test('every site that has any or will have any has a finding for its labels', async () => {
    const open = (await kitchen.get('quality', `/v1/findings?kind=label-understates&lotId=${packs}`)).items;
    const sites = open.map((one: Json) => one.siteId).sort();
    expect(sites).toEqual([world.ckId, world.w3Id].sort());
    for (const one of open) expect(one.detail).toMatchObject({ leftUnsaid: ['soybeans', 'milk'], causeLotId: shin });
  });

  test('what is made of it afterwards has them from birth', async () => {
    const batch = await kitchen.stew(await kitchen.shin(1_000), 1_000, 900);
    expect((await lotOf(batch.lotId)).allergens).not.toContain('soybeans');
    await kitchen.post('kitchen', `/v1/batches/${batch.batchId}/inputs`, {
      lotId: stew,
      placeId: world.ckChillerId,
      quantity: 500,
      unit: 'g',
    });
    expect((await lotOf(batch.lotId)).allergens).toContain('soybeans');
  });

  test('it never goes back: nothing to add is refused, and so are codes that there are not', async () => {
    const nothing = { allergens: ['milk'], mayContain: ['soybeans'], reason: 'Was right after all' };
    expect(await kitchen.post('quality', path(shin), nothing, 422)).toMatchObject({ code: 'rule-broken' });
    expect(await kitchen.post('quality', path(shin), { allergens: [], reason }, 422)).toMatchObject({
      code: 'rule-broken',
    });
    const unknown = { allergens: ['moonlight'], reason };
    expect(await kitchen.post('quality', path(shin), unknown, 422)).toMatchObject({ code: 'allergen-unknown' });
  });

  test('is for those who may act where the lot was born', async () => {
    await kitchen.post('kitchen', path(shin), { allergens: ['eggs'], reason }, 403);
    const ward = await service
      .as('quality', world.w3Id)
      .post(path(packs), { id: randomUUID(), allergens: ['eggs'], reason });
    expect(ward.status).toBe(404);
  });

  test('from may contain to contains is more, and the other way round is nothing', async () => {
    const lotId = await kitchen.shin(500, { mayContain: ['eggs'] });
    await kitchen.post('quality', path(lotId), { allergens: ['eggs'], reason });
    expect(await lotOf(lotId)).toMatchObject({ allergens: ['eggs'], mayContain: [] });
  });
});
