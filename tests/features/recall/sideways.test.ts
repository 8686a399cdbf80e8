/** What shared something with food in a recall: offered with a starting point, never added. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { insertCaseHold, reachFrom } from '../../../src/features/ledger/case-holds.ts';
import { sharedCauses } from '../../../src/features/recall/sideways/causes.ts';
import { suggestionsFor } from '../../../src/features/recall/sideways/suggest.ts';
import { exampleId } from '../../../src/platform/ids.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';
import { accepted, addSite, receive } from '../distribution/sites.ts';

const NOON = '2026-11-25T12:00:00.000Z';
let service: TestService;
let world: World;
let kitchen: Kitchen;
let batchId: string;
let dispatchId: string;
const lots: Record<string, string> = {};
const runs: Record<string, string> = {};

const clock = (minute: number) => `2026-11-25T11:${String(minute).padStart(2, '0')}:00.000Z`;
const lot = (name: string): string => lots[name] ?? '';

/** Twenty packs (one of raw food) on the one machine, in two minutes. */
async function seal(name: string, from: string, packItemId: string, minute: number): Promise<void> {
  const id = randomUUID();
  const used = packItemId === world.beefStewPackId ? 6_000 : 300;
  const fill = {
    fromLotId: lot(from),
    fromPlaceId: world.ckChillerId,
    toPlaceId: world.ckChillerId,
    usedQuantity: used,
    usedUnit: 'g',
    packs: used / 300,
    packItemId,
    serialised: false,
  };
  const run = {
    equipmentId: world.packerId,
    programme: 'Moist',
    startedAt: clock(minute),
    finishedAt: clock(minute + 2),
  };
  const packed = await kitchen.post('kitchen', `/v1/batches/${batchId}/recorded-packing-runs`, {
    id,
    ...run,
    fills: [fill],
  });
  runs[name] = id;
  lots[name] = packed.lots.find((one: Json) => one.packingRunId === id).lotId;
}

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  const raw = {
    allergens: [],
    handling: 'ready-to-eat',
    storageInstruction: 'Keep at 3 °C or below',
    life: { lifeDays: 3, anchor: 'production', dayOne: 'anchor-day-is-day-one' },
  };
  const item = async (fields: object): Promise<string> =>
    (await kitchen.post('operations', '/v1/items', { ...raw, ...fields })).itemId;
  const cubesId = await item({ code: 'CUBES', name: 'Marinated cubes', kind: 'prepared', unit: 'g' });
  const packs = { code: 'CUBES-300', name: 'Cubes, pack', kind: 'packed', unit: 'piece', unitMassMg: 300_000 };
  const cubePackId = await item(packs);
  const { recipeId } = await kitchen.post('operations', '/v1/recipes', {
    itemId: cubesId,
    code: 'CUBES',
    name: 'Marinated cubes',
    expectedYieldPpm: 1_000_000,
    steps: ['prepare', 'raw-for-cooking-at-site'],
    killStep: false,
    inputs: [{ itemId: world.beefShinId, quantity: 1_000, unit: 'g' }],
  });
  const line = { itemId: world.beefShinId, placeId: world.ckChillerId, quantity: 40_000, unit: 'g' };
  const from = { siteId: world.ckId, supplierId: world.supplierId };
  const lines = [{ ...line, supplierLotCode: 'LOT-12O' }, line];
  const came = await kitchen.post('kitchen', '/v1/goods-receipts', { ...from, occurredAt: clock(5), lines });
  [lots.shin, lots.besides] = came.lines.map((one: Json) => one.lotId);
  lots.typo = await kitchen.shin(1_000, { supplierLotCode: 'lot 120' });
  lots.next = await kitchen.shin(1_000, { supplierLotCode: 'LOT 121' });
  const stew = await kitchen.stew(lot('shin'), 40_000, 34_000);
  batchId = stew.batchId;
  lots.load = stew.lotId;
  const made = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId });
  const input = { lotId: lot('besides'), placeId: world.ckChillerId, quantity: 5_000, unit: 'g' };
  await kitchen.post('kitchen', `/v1/batches/${made.batchId}/inputs`, input);
  const loads = [{ placeId: world.ckChillerId, quantity: 5_000, unit: 'g' }];
  lots.cubes = (await kitchen.post('kitchen', `/v1/batches/${made.batchId}/outputs`, { loads })).lots[0].lotId;
  await seal('raw', 'cubes', cubePackId, 10);
  await seal('one', 'load', world.beefStewPackId, 20);
  const clean = { occurredAt: clock(30), kind: 'full' };
  await kitchen.post('kitchen', `/v1/equipment/${world.packerId}/clean-downs`, clean);
  await seal('two', 'load', world.beefStewPackId, 40);
  // sealed after raw food, held for it, and let go by the quality lead all the same
  const [hold] = (await kitchen.get('quality', `/v1/holds?lotId=${lot('one')}&open=true`)).items.filter(
    (one: Json) => one.kind === 'quality',
  );
  await kitchen.post('quality', `/v1/holds/${hold.holdId}/lift`, { note: 'Tested, and nothing found' });
  await kitchen.release(batchId);
  const both = ['one', 'two'].map((name) => {
    return { lotId: lot(name), placeId: world.ckChillerId, quantity: 10, unit: 'piece' };
  });
  const van = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines: both };
  dispatchId = (await kitchen.post('kitchen', '/v1/dispatches', van)).dispatchId;
  await kitchen.post('driver', `/v1/dispatches/${dispatchId}/departure`, {});
  const inChiller = { placeId: world.w3ChillerId };
  // what came too warm is in quarantine, and five of the others are put there too
  const warm = accepted(lot('two'), 10, { condition: 'too-warm' });
  await receive(kitchen, dispatchId, NOON, [accepted(lot('one'), 10, inChiller), warm]);
  const move = { lotId: lot('one'), fromPlaceId: world.w3ChillerId, toPlaceId: world.w3QuarantineId };
  await kitchen.post('receiver', '/v1/moves', { ...move, quantity: 5, unit: 'piece' });
  const counted = [
    { lotId: lot('one'), quantity: 8, unit: 'piece' },
    { lotId: lot('two'), quantity: 7, unit: 'piece' },
  ];
  await kitchen.post('receiver', '/v1/stock-counts', {
    placeId: world.w3QuarantineId,
    occurredAt: NOON,
    lines: counted,
  });
});
afterAll(() => service.stop());

const offered = (names: readonly string[], options = {}) =>
  service.db.inGroup(service.groupId, 'read', async (tx) => {
    const { suggestions } = await suggestionsFor(tx, names.map(lot), service.clock.nowMs(), options);
    return suggestions;
  });
const nameOf = (lotId: string) => Object.keys(lots).find((name) => lots[name] === lotId) ?? lotId;
const brief = (suggestions: Awaited<ReturnType<typeof offered>>) =>
  suggestions.map(
    ({ kind, lots: added }) =>
      `${kind}: ${added
        .map((one) => nameOf(one.lotId))
        .sort()
        .join(', ')}`,
  );

test('packs: the machine after raw food, the machine until it was cleaned, the packer, the warm van and place, the likely swap', async () => {
  const found = await offered(['one']);
  expect(brief(found)).toEqual([
    'packer-after-raw: raw',
    'same-machine: raw',
    // the same hand sealed both; what it took in at 11:05 was before that shift's first run
    'packer-shift: raw, two',
    'warm-dispatch: two',
    'same-place: two',
    'likely-swap: two',
  ]);
  const starts = Object.fromEntries(found.map((one) => [one.kind, one.start]));
  expect(starts).toMatchObject({
    'packer-after-raw': { packingRunId: runs.raw },
    // three days before, as no clean-down is on record; until the clean-down
    'same-machine': { equipmentId: world.packerId, from: '2026-11-22T11:20:00.000Z', to: clock(30) },
    'packer-shift': { personId: world.kitchenPersonId, from: clock(10), to: '2026-11-25T11:42:01.000Z' },
    'warm-dispatch': { dispatchId },
    'same-place': { placeId: world.w3QuarantineId, from: NOON },
    'likely-swap': { kind: 'likely-swap', lotId: lot('two') },
  });
  expect(found[0]?.whyText).toContain('Raw packs, sealed before ready-to-eat packs in scope');
});

test('raw packs in scope take what came after them; what is in scope already is not offered', async () => {
  expect(brief(await offered(['raw'])).slice(0, 2)).toEqual(['packer-after-raw: one', 'same-machine: one']);
  expect(brief(await offered(['raw', 'one', 'two']))).toEqual([]);
});

test('a delivery: a code written differently, and what came with it; the next number is another lot', async () => {
  const found = await offered(['shin']);
  expect(brief(found)).toEqual(['supplier-code: typo', 'same-delivery: besides']);
  expect(found[0]?.start).toEqual({ kind: 'supplier-lot', supplierId: world.supplierId, supplierLotCode: 'lot 120' });
  expect(found[1]?.start).toEqual({
    kind: 'supplier-period',
    supplierId: world.supplierId,
    from: clock(5),
    to: '2026-11-25T11:05:00.001Z',
  });
  const everywhere = brief(await offered(['shin'], { places: true }));
  expect(everywhere[0]).toBe('same-place: besides, cubes, load, next, one, raw, two, typo');
});

test('two complaints: what both packs have before them, nearest first', async () => {
  const told = await service.db.inGroup(service.groupId, 'read', (tx) => sharedCauses(tx, [lot('one'), lot('two')]));
  expect(told.map(({ kind, id, steps }) => [kind, id, steps])).toEqual([
    ['lot', lot('load'), 1],
    ['machine', world.packerId, 1],
    ['packer', world.kitchenPersonId, 1],
    ['batch', batchId, 2],
    ['supplier-lot', lot('shin'), 2],
  ]);
  expect(told[1]?.start).toMatchObject({ from: clock(20), to: '2026-11-25T11:42:00.001Z' });
  const alone = await service.db.inGroup(service.groupId, 'read', (tx) => sharedCauses(tx, [lot('one')]));
  expect(alone.map(({ kind }) => kind)).toEqual(['packing-run', 'lot', 'batch', 'supplier-lot']);
  expect(alone[0]?.start).toEqual({ kind: 'packing-run', packingRunId: runs.one });
});

test('of a case, for those whom it reaches', async () => {
  const recallId = randomUUID();
  const holdId = randomUUID();
  const actorId = exampleId('person/quality');
  await service.db.inGroup(service.groupId, 'exclusive', async (tx) => {
    const nowMs = service.clock.nowMs();
    const hold = { holdId, kind: 'recall' as const, note: 'Stew', actorId, deputyId: null };
    await insertCaseHold(tx, hold, lot('one'), nowMs);
    await reachFrom(tx, holdId, { walked: [lot('one')], still: [] }, null, nowMs);
    await tx.query(
      `insert into recall (group_id, recall_id, code, drill, title, hold_id, opened_at, opened_by, scope_ms, opened_seq)
       values ($1::uuid, $2::uuid, 'RC-0001', false, 'Stew', $3::uuid, now(), $4::uuid, 1, 0)`,
      [tx.groupId, recallId, holdId, actorId],
    );
  });
  const path = `/v1/recalls/${recallId}/sideways`;
  const body = await kitchen.get('quality', path);
  expect(body).toMatchObject({ recallId, scopeLotCount: 1, cutShort: [] });
  expect(body.suggestions).toHaveLength(6);
  const elsewhere = await addSite(kitchen, 'W9');
  expect((await service.as('operations', world.w3Id).get(path)).status).toBe(200);
  expect((await service.as('operations', elsewhere.siteId).get(path)).status).toBe(404);
  expect((await kitchen.get('quality', `/v1/recalls/${randomUUID()}/sideways`, 404)).code).toBe('not-found');
});
