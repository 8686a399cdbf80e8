/**
 * One delivery from door to plate, checked at each stage where nothing is cooked: goods-in, the fridge round, packing, load-out, receipt,
 * regeneration, hot-holding, cleaning. Limits are England's and those of common practice, as told beside each.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';
import { accepted, plan, receive } from '../distribution/sites.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
});
afterAll(() => service.stop());

const AT = '2026-11-25T12:00:00Z';
const openHolds = async (lotId: string): Promise<Json[]> =>
  (await kitchen.get('quality', `/v1/holds?lotId=${lotId}&open=true`)).items.filter(
    (hold: Json) => hold.kind === 'failed-check',
  );
/** by whom, where, what: answers result, what it holds, and the kinds of its findings */
async function check(role: string, siteId: string, body: object) {
  const client = service.as(role, siteId);
  const answer = await client.post('/v1/process-checks', { id: randomUUID(), siteId, ...body });
  expect(answer.status, answer.text).toBe(201);
  const { checkId, result, held, findings, limits } = answer.body;
  return { checkId: checkId as string, told: [result, held.length, findings.map((one: Json) => one.kind)], limits };
}
const PASSED = ['passed', 0, []];
const failedHolding = (lots: number) => ['failed', lots, ['check-failed']];

test('goods-in: 8 °C at the door passes in England (SI 2013/2996, Schedule 4), 9 °C holds what came', async () => {
  const receipt = async () =>
    kitchen.post('kitchen', '/v1/goods-receipts', {
      siteId: world.ckId,
      supplierId: world.supplierId,
      occurredAt: AT,
      lines: [{ itemId: world.beefShinId, placeId: world.ckChillerId, quantity: 5_000, unit: 'g' }],
    });
  const door = (id: string, temperature: object) =>
    check('kitchen', world.ckId, {
      stage: 'goods-in',
      kind: 'temperature',
      about: { kind: 'goods-receipt', id },
      ...temperature,
    });
  const good = await receipt();
  // 46.4 °F is 8.0 °C; 46.6 °F is not
  expect((await door(good.goodsReceiptId, { temperatureF: 46.4 })).told).toEqual(PASSED);
  expect(await openHolds(good.lines[0].lotId)).toEqual([]);
  const warm = await receipt();
  expect((await door(warm.goodsReceiptId, { temperatureF: 46.6 })).told).toEqual(failedHolding(1));
  expect(await openHolds(warm.lines[0].lotId)).toMatchObject([{ siteId: null }]);
  const batch = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: world.recipeId });
  const input = { lotId: warm.lines[0].lotId, placeId: world.ckChillerId, quantity: 1_000, unit: 'g' };
  const refused = await kitchen.post('kitchen', `/v1/batches/${batch.batchId}/inputs`, input, 409);
  expect(refused.code).toBe('on-hold');
});

test('a fridge round by hand: each place by itself; what stands in a warm one is for a person to decide', async () => {
  const round = (siteId: string, id: string, temperatureC: number) =>
    check('kitchen', siteId, { stage: 'storage', kind: 'temperature', about: { kind: 'place', id }, temperatureC });
  expect((await round(world.ckId, world.ckChillerId, 4)).told).toEqual(PASSED);
  expect((await round(world.w3Id, world.w3ChillerId, 8.4)).told).toEqual(failedHolding(0));
  // a place of another site, and a site where the cook is not
  const elsewhere = {
    stage: 'storage',
    kind: 'temperature',
    about: { kind: 'place', id: world.w3ChillerId },
    temperatureC: 4,
  };
  const cook = service.as('kitchen', world.ckId);
  const post = (siteId: string) => cook.post('/v1/process-checks', { id: randomUUID(), siteId, ...elsewhere });
  expect([(await post(world.ckId)).status, (await post(world.w3Id)).status]).toEqual([404, 404]);
});

test('from the packing machine to the plate', async () => {
  const { batchId, lotId: load } = await kitchen.stew(await kitchen.shin(40_000), 40_000, 34_000);
  const packs = await kitchen.pack(batchId, load, 15_000, 50, { serialised: false });
  const slow = await kitchen.pack(batchId, load, 9_000, 30, { serialised: false });
  const runOf = async (lotId: string): Promise<string> =>
    (await kitchen.get('quality', `/v1/lots/${lotId}`)).packingRunId;

  // out of the chiller to sealed: 30 minutes (common practice)
  const outOfChill = async (lotId: string, toAt: string) =>
    check('kitchen', world.ckId, {
      stage: 'pack',
      kind: 'elapsed-time',
      about: { kind: 'packing-run', id: await runOf(lotId) },
      fromAt: '2026-11-25T11:20:00Z',
      toAt,
    });
  expect((await outOfChill(packs, '2026-11-25T11:50:00Z')).told).toEqual(PASSED);
  expect((await outOfChill(slow, '2026-11-25T11:51:00Z')).told).toEqual(failedHolding(1));
  // core before the chamber: 5 °C (common practice)
  const core = { stage: 'pack', kind: 'core-temperature', about: { kind: 'lot', id: load }, temperatureC: 4.9 };
  expect((await check('kitchen', world.ckId, core)).told).toEqual(PASSED);
  await kitchen.release(batchId);
  const line = { lotId: slow, placeId: world.ckChillerId, quantity: 10, unit: 'piece' };
  const held = await kitchen.post('kitchen', '/v1/dispatches', {
    fromSiteId: world.ckId,
    toSiteId: world.w3Id,
    lines: [line],
  });
  const stays = await kitchen.post('driver', `/v1/dispatches/${held.dispatchId}/departure`, {}, 409);
  expect(stays.code).toBe('on-hold');

  // load-out, by the driver: 8 °C; which packs a warm van leaves in doubt is for a person to say
  const dispatchId = await plan(kitchen, world.w3Id, packs, 40);
  const van = (temperatureC: number) =>
    check('driver', world.ckId, {
      stage: 'load-out',
      kind: 'temperature',
      about: { kind: 'dispatch', id: dispatchId },
      temperatureC,
    });
  expect((await van(6)).told).toEqual(PASSED);
  expect((await van(8.6)).told).toEqual(failedHolding(0));
  await kitchen.post('driver', `/v1/dispatches/${dispatchId}/departure`, {});
  await receive(kitchen, dispatchId, AT, [accepted(packs, 40, { placeId: world.w3ChillerId })]);

  // receipt, between packs: too warm holds them at the ward alone
  const between = (temperatureC: number) =>
    check('receiver', world.w3Id, {
      stage: 'receipt',
      kind: 'temperature',
      about: { kind: 'lot', id: packs },
      temperatureC,
    });
  expect((await between(7.9)).told).toEqual(PASSED);
  const warm = await between(9.2);
  expect(warm.told).toEqual(failedHolding(1));
  expect(await openHolds(packs)).toMatchObject([{ siteId: world.w3Id }]);

  // regeneration 75 °C (second-hand), hot-holding 63 °C (SI 2013/2996): hot food is never left standing by a hold
  const service75 = (temperatureC: number) =>
    check('receiver', world.w3Id, {
      stage: 'regeneration',
      kind: 'core-temperature',
      about: { kind: 'lot', id: packs },
      temperatureC,
    });
  expect((await service75(75)).told).toEqual(PASSED);
  expect((await service75(74.9)).told).toEqual(failedHolding(0));
  const hot = (temperatureC: number) =>
    check('receiver', world.w3Id, {
      stage: 'hot-holding',
      kind: 'temperature',
      about: { kind: 'lot', id: packs },
      temperatureC,
    });
  expect((await hot(63)).told).toEqual(PASSED);
  expect((await hot(62.9)).told).toEqual(failedHolding(0));
  expect(await openHolds(packs)).toHaveLength(1);

  // a check of the packs elsewhere is not one of their batch
  const ofBatch = await kitchen.get('quality', `/v1/process-checks?batchId=${batchId}`);
  expect(ofBatch.items.map((one: Json) => one.stage)).not.toContain('receipt');
  const ofLot = await kitchen.get('quality', `/v1/process-checks?lotId=${packs}&siteId=${world.w3Id}`);
  expect(ofLot.items).toHaveLength(6);
  const ward = await kitchen.get(
    'quality',
    `/v1/deviations?siteId=${world.w3Id}&fromDate=2026-11-25&toDate=2026-11-25`,
  );
  const mine = ward.items.filter((one: Json) => one.about.id === packs);
  expect(mine.map((one: Json) => [one.stage, one.deviation]).sort()).toEqual([
    ['hot-holding', 'open'],
    ['receipt', 'open'],
    ['regeneration', 'open'],
  ]);
  expect(mine.find((one: Json) => one.checkId === warm.checkId).lots).toMatchObject([{ lotId: packs, held: true }]);
});

test('cleaning: an inspection that says no is open until somebody closes it', async () => {
  const inspect = (yes: boolean, more: object = {}) =>
    check('kitchen', world.ckId, {
      stage: 'cleaning',
      kind: 'yes-no',
      about: { kind: 'equipment', id: world.packerId },
      yes,
      ...more,
    });
  const dirty = await inspect(false, {
    correctiveAction: 'Seal bar cleaned again',
    documentHref: 'https://files.example/bar.jpg',
  });
  expect(dirty.told).toEqual(failedHolding(0));
  expect((await inspect(true)).told).toEqual(PASSED);
  const path = `/v1/process-checks/${dirty.checkId}/corrective-actions`;
  const closed = await kitchen.post('quality', path, { action: 'Swabbed: clean', closes: true });
  expect(closed).toMatchObject({ deviation: 'closed', machineId: world.packerId });
  expect(closed.correctiveActions.map((one: Json) => one.closes)).toEqual([false, true]);
});
