/** What making took, gave and lost, month by month: a kitchen small enough to reckon on paper. Money in pence. */
import { afterAll, beforeAll, expect, test } from 'vitest';
import { derivedId } from '../../../src/platform/ids.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;

beforeAll(async () => {
  service = await startService({ nowMs: Date.parse('2026-07-10T08:00:00Z') });
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
});
afterAll(() => service.stop());

const on = (day: string): void => service.clock.set(Date.parse(`2026-${day}T08:00:00Z`));
const report = (month: string): Promise<Json> =>
  kitchen.get('finance', `/v1/reports/waste-and-yield?month=2026-${month}`);
const close = (month: string): Promise<Json> =>
  kitchen.post('finance', '/v1/month-closes', {
    month: `2026-${month}`,
    accept: ['open-batches', 'uncosted-lots'].map((check) => ({ check, reason: 'Talked through' })),
  });
const price = (lotId: string, priceMinor: number): Promise<Json> =>
  kitchen.post('finance', '/v1/prices', { lotId, priceMinor, reason: 'The invoice' });
const lostAt = ({ bySite }: Json): Record<string, number> =>
  Object.fromEntries(
    bySite.flatMap((site: Json) => (site.abnormalLossMinor === 0 ? [] : [[site.siteCode, site.abnormalLossMinor]])),
  );
const nothing = {
  workInProcessOpening: 0,
  revalued: 0,
  consumed: 0,
  added: 0,
  produced: 0,
  abnormalLoss: 0,
  abnormalLossAtNoSite: 0,
  workInProcessClosing: 0,
};

/** 10 kg for 100.00, all of it into a new batch. */
async function beginBatch(): Promise<{ lotId: string; path: string; batchId: string }> {
  const lotId = await kitchen.shin(10_000, { priceMinor: 10_000 });
  const { batchId } = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: world.recipeId });
  const path = `/v1/batches/${batchId}`;
  await kitchen.post('kitchen', `${path}/inputs`, { lotId, placeId: world.ckChillerId, quantity: 10_000, unit: 'g' });
  return { lotId, path, batchId };
}

test('a price corrected while a batch is open over a close: 100.00 at the start, 20.00 later prices, 120.00 at the end, nothing lost', async () => {
  const { lotId, path } = await beginBatch();
  on('08-02');
  await close('07');
  const july = { ...nothing, consumed: 10_000, workInProcessClosing: 10_000 };
  expect((await report('07')).making).toEqual(july);
  on('08-05');
  await price(lotId, 12_000);
  const august = await report('08');
  expect(august.making).toEqual({
    ...nothing,
    workInProcessOpening: 10_000,
    revalued: 2_000,
    workInProcessClosing: 12_000,
  });
  expect(lostAt(august)).toEqual({});
  expect((await report('07')).making).toEqual(july);

  // 5.1 of the 8.5 kg that were planned come of it: they carry 72.00, and 48.00 are lost in August. In September the invoice says 130.00:
  // 10.00 more had gone in, 6.00 more had come out, 4.00 more were lost, and that is said then.
  const load = { placeId: world.ckChillerId, quantity: 5_100, unit: 'g', cookEndedAt: '2026-08-05T08:00:00.000Z' };
  await kitchen.post('kitchen', `${path}/outputs`, { loads: [load] });
  await kitchen.post('kitchen', `${path}/completion`, { losses: [{ kind: 'cooking-loss', massG: 4_900 }] });
  on('09-02');
  await close('08');
  on('09-03');
  await price(lotId, 13_000);
  const ended = { ...nothing, workInProcessOpening: 10_000, revalued: 2_000, produced: 7_200, abnormalLoss: 4_800 };
  expect((await report('08')).making).toEqual(ended);
  const september = await report('09');
  expect(september.making).toEqual({ ...nothing, revalued: 400, abnormalLoss: 400 });
  expect(lostAt(september)).toEqual({ CK: 400 });
});

test('a rate for a kilogram is added when it came out, one for the batch when it began; packing loses at its kitchen', async () => {
  await kitchen.post('finance', '/v1/cost-rates', { kind: 'energy', perKgMinor: 100, fromDate: '2026-09-01' });
  await kitchen.post('finance', '/v1/cost-rates', { kind: 'labour', perBatchMinor: 500, fromDate: '2026-09-01' });
  on('09-30');
  const { path, batchId } = await beginBatch();
  on('10-01');
  const load = { placeId: world.ckChillerId, quantity: 7_000, unit: 'g', cookEndedAt: '2026-10-01T08:00:00.000Z' };
  const out = await kitchen.post('kitchen', `${path}/outputs`, { loads: [load] });
  on('10-05');
  await close('09');
  // with the 4.00 of the first batch; by the 30th 100.00 had gone in and 5.00 for the batch were added, and nothing had come out
  expect((await report('09')).making).toEqual({
    ...nothing,
    revalued: 400,
    consumed: 10_000,
    added: 500,
    abnormalLoss: 400,
    workInProcessClosing: 10_500,
  });
  // 8.5 kg were planned: 7 kg carry 105.00 x 7 / 8.5 = 86.47 and 7.00 of energy, and 18.53 are left in the batch
  const october = await report('10');
  expect(october.making).toEqual({
    ...nothing,
    workInProcessOpening: 10_500,
    added: 700,
    produced: 9_347,
    workInProcessClosing: 1_853,
  });
  expect(october.packingRuns).toEqual({ count: 0, runs: [] });

  // 7 kg into 14 packs of 300 g: 2.8 kg are missing, 93.47 x 2.8 / 7 = 37.39
  await kitchen.pack(batchId, out.lots[0].lotId, 7_000, 14);
  const packed = await report('10');
  expect(packed.making).toEqual({
    ...nothing,
    workInProcessOpening: 10_500,
    consumed: 9_347,
    added: 700,
    produced: 9_347 + 5_608,
    abnormalLoss: 3_739,
    workInProcessClosing: 1_853,
  });
  expect(lostAt(packed)).toEqual({ CK: 3_739 });
  expect(packed.batches).toEqual([]);
  expect(packed.packingRuns).toMatchObject({
    count: 1,
    runs: [{ siteId: world.ckId, lossG: 2_800, abnormalLossMinor: 3_739 }],
  });
  const page = await service.as('finance').get('/v1/reports/waste-and-yield?month=2026-10&format=html');
  expect(page.text).toContain('Packing runs that lost something');
  expect(page.text).toContain('37.39');
});

test('salt that stands in no stock but has a price is added: 100.00 of shin, 5.00 for the batch, 0.5 kg of salt at 2.00', async () => {
  on('11-10');
  const salt = { code: 'SALT', name: 'Salt', kind: 'ingredient', unit: 'g', lotTracked: false, allergens: [] };
  const stored = { handling: 'ready-to-eat', storageInstruction: 'Keep dry' };
  const { itemId } = await kitchen.post('operations', '/v1/items', { ...salt, ...stored });
  const { path } = await beginBatch();
  await kitchen.post('kitchen', `${path}/inputs`, { itemId, quantity: 500, unit: 'g' });
  const said = { lotId: derivedId('pseudo-lot', itemId), priceMinor: 200, perQuantity: 1_000, reason: 'The invoice' };
  await kitchen.post('finance', '/v1/prices', said);
  const { making } = await report('11');
  // the first batches' 18.53 are still open
  expect(making).toEqual({
    ...nothing,
    workInProcessOpening: 1_853,
    consumed: 10_000,
    added: 600,
    workInProcessClosing: 1_853 + 10_600,
  });
});
