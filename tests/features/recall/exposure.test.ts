/** What recalling would cost, on a story whose figures are worked out by hand beside it. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { valueOf } from '../../../src/features/recall/value.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';
import { accepted, plan, receive } from '../distribution/sites.ts';

const AT = '2026-11-25T12:00:00.000Z';
let service: TestService;
let world: World;
let kitchen: Kitchen;
const lots: Record<string, string> = {};
const batches: string[] = [];

/** Shin into a batch, and the loads that come out. */
async function cook(inputs: readonly (readonly [name: string, quantity: number])[], outs: Record<string, number>) {
  const { batchId } = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: world.recipeId });
  batches.push(batchId);
  for (const [name, quantity] of inputs) {
    const input = { lotId: lots[name], placeId: world.ckChillerId, quantity, unit: 'g' };
    await kitchen.post('kitchen', `/v1/batches/${batchId}/inputs`, input);
  }
  const loads = Object.values(outs).map((quantity) => ({
    placeId: world.ckChillerId,
    quantity,
    unit: 'g',
    cookEndedAt: AT,
  }));
  if (loads.length === 0) return;
  const made = await kitchen.post('kitchen', `/v1/batches/${batchId}/outputs`, { loads });
  Object.keys(outs).forEach((name, at) => (lots[name] = made.lots[at].lotId));
}

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  lots.a = await kitchen.shin(40_000, { supplierLotCode: 'A1', priceMinor: 30_000 });
  lots.b = await kitchen.shin(10_000, { supplierLotCode: 'B1' });
  lots.c = await kitchen.shin(30_000, { supplierLotCode: 'C1', priceMinor: 18_000 });
  await cook(
    [
      ['a', 20_000],
      ['b', 5_000],
    ],
    { load1: 12_000, load2: 8_000 },
  );
  await cook([['a', 10_000]], { load3: 8_000 });
  await cook([['c', 12_000]], {});
  lots.packs = await kitchen.pack(batches[0] ?? '', lots.load1 ?? '', 9_000, 30, { serialised: false });
  await kitchen.release(batches[0] ?? '');
  const dispatchId = await plan(kitchen, world.w3Id, lots.packs, 10);
  await kitchen.post('driver', `/v1/dispatches/${dispatchId}/departure`, {});
  await receive(kitchen, dispatchId, AT, [accepted(lots.packs, 10, { placeId: world.w3ChillerId })]);
  const use = { lotId: lots.packs, placeId: world.w3ChillerId, quantity: 4, unit: 'piece', occurredAt: AT };
  await kitchen.post('receiver', '/v1/uses', use);
});
afterAll(() => service.stop());

const exposure = (query: string, role = 'operations'): Promise<Json> =>
  kitchen.get(role, `/v1/recalls/exposure?${query}`);
const codes = (answer: Json) => answer.lines.map((line: Json) => line.supplierLotCode);

test('a supplier lot: packs, sites, money and mass of everything made from it, each once', async () => {
  const { lines, currency, candidateCount } = await exposure('kind=supplier-lot&by=packs');
  expect([currency, candidateCount]).toEqual(['GBP', 3]);
  expect(lines.map((line: Json) => [line.supplierLotCode, line.packs.there])).toEqual([
    ['A1', 26],
    ['B1', 26],
    ['C1', 0],
  ]);
  // A: 20 of 40 kg (15000) share 12 and 8 kg of stew: 9000 and 6000; of the first 9 kg are packed: 6750 in 30 packs, 225 each. 10 kg are in
  // the other batch (7500), 10 kg are left (7500). There: 7500 + 2250 + 6000 + 7500 + 26 x 225; gone: 4 x 225.
  // Mass there: 10 + 3 + 8 + 8 kg and 26 packs of 300 g. Unpriced: of 5 kg of B 0.75 in the rest of the first load, 2 in the second, 26 x 75 g.
  expect(lines[0]).toMatchObject({
    lots: [{ lotId: lots.a }],
    supplierName: 'Brook Farm Meats',
    lotCount: 5,
    packs: { there: 26, gone: 4 },
    massG: { there: 36_800, gone: 1_200 },
    valueMinor: { there: 29_100, gone: 900 },
    unpricedMassG: 4_700,
    straightInto: 2,
    spread: { processId: batches[0], kind: 'batch', inputLots: 2, outputLots: 2, packsThrough: 30, rework: false },
    // A and B into the first, A into the second: 3; A alone holds enough for both: 2
    dispersion: { rawLots: 2, processes: 2, links: 3, leastLinks: 2 },
  });
  expect(lines[0].sites.map((site: Json) => site.siteId).sort()).toEqual([world.ckId, world.w3Id].sort());
  expect(lines[0].whyText).toContain('30 packs of 30 come through it');
  // the half of B that is left has no price either
  expect(lines[1]).toMatchObject({ valueMinor: { there: 14_100, gone: 900 }, unpricedMassG: 9_700 });
  // 12 of 30 kg are in a batch that nothing has come out of
  expect(lines[2]).toMatchObject({ massG: { there: 30_000 }, valueMinor: { there: 18_000 }, sites: [{}] });
});

test('ranked by money; batches; a site; what cannot be', async () => {
  expect(codes(await exposure('by=value&limit=2'))).toEqual(['A1', 'C1']);
  const { lines } = await exposure('kind=batch&by=sites&days=1');
  expect(lines).toMatchObject([
    {
      batchId: batches[0],
      packs: { there: 26, gone: 4 },
      valueMinor: { there: 14_100, gone: 900 },
      spread: { kind: 'packing-run', inputLots: 1, outputLots: 1, packsThrough: 30 },
      dispersion: { rawLots: 1, processes: 1, links: 1, leastLinks: 1 },
    },
    { batchId: batches[1], packs: { there: 0, gone: 0 }, spread: null, sites: [{ siteId: world.ckId }] },
  ]);
  expect((await exposure(`siteId=${world.w3Id}`)).lines).toEqual([]);
  expect((await service.as('operations', world.w3Id).get('/v1/recalls/exposure')).body.lines).toEqual([]);
  expect((await kitchen.get('operations', `/v1/recalls/exposure?siteId=${randomUUID()}`, 404)).code).toBe('not-found');
  expect((await service.as('receiver').get('/v1/recalls/exposure')).status).toBe(403);
});

test('what a scope is worth: the amounts sum to what was paid, and what has no price is named', async () => {
  const scope = ['a', 'load1', 'load2', 'load3', 'packs'].map((name) => lots[name] ?? '');
  const value = await service.db.inGroup(service.groupId, 'read', (tx) => valueOf(tx, scope));
  expect(value).toMatchObject({
    currency: 'GBP',
    onHandMinor: 29_100,
    servedMinor: 900,
    totalMinor: 30_000,
    unpricedMassG: 5_000,
    unpricedLotCount: 1,
    unpricedLots: [{ lotId: lots.b, quantity: 10_000, unit: 'g' }],
  });
  // of one lot alone, what went into others is theirs: a quarter of A is left
  const alone = await service.db.inGroup(service.groupId, 'read', (tx) => valueOf(tx, [lots.a ?? '']));
  expect(alone).toMatchObject({ onHandMinor: 7_500, inProcessMinor: 0, totalMinor: 7_500 });
  const inPot = await service.db.inGroup(service.groupId, 'read', (tx) => valueOf(tx, [lots.c ?? '']));
  expect(inPot).toMatchObject({ onHandMinor: 10_800, inProcessMinor: 7_200, totalMinor: 18_000 });
});
