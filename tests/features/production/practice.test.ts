/** Gains, pouches, packs weighed singly, presumed places, thawed and raw food. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { asAdmin } from '../../support/test-server.ts';
import { buildWorld, type World } from '../../support/world.ts';

const ELEVEN = '2026-11-25T11:00:00Z';
let service: TestService;
let world: World;
let kitchen: Kitchen;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
});
afterAll(() => service.stop());

const lot = (lotId: string): Promise<Json> => kitchen.get('quality', `/v1/lots/${lotId}`);
const add = async (path: string, fields: object): Promise<string> => {
  const id = randomUUID();
  await kitchen.post('operations', path, { id, code: id.slice(0, 18), name: 'Something', ...fields });
  return id;
};
const recipe = (fields: object) =>
  add('/v1/recipes', {
    itemId: world.beefStewId,
    expectedYieldPpm: 1_000_000,
    steps: ['prepare', 'cook', 'chill'],
    killStep: false,
    inputs: [{ itemId: world.beefShinId, quantity: 1_000, unit: 'g' }],
    ...fields,
  });
const openBatch = async (recipeId = world.recipeId): Promise<string> =>
  (await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId })).batchId;
const putIn = (batchId: string, lotId: string, quantity: number) =>
  kitchen.post('kitchen', `/v1/batches/${batchId}/inputs`, {
    lotId,
    placeId: world.ckChillerId,
    quantity,
    unit: 'g',
  });
const recordInput = (batchId: string, lotId: string, quantity: number) =>
  kitchen.post('kitchen', `/v1/batches/${batchId}/recorded-inputs`, {
    lotId,
    placeId: world.ckChillerId,
    quantity,
    unit: 'g',
    occurredAt: '2026-11-25T10:00:00Z',
  });
async function takeOut(batchId: string, quantity: number, more: object = {}): Promise<Json> {
  const load = { placeId: world.ckChillerId, quantity, unit: 'g', cookEndedAt: ELEVEN, ...more };
  return kitchen.post('kitchen', `/v1/batches/${batchId}/outputs`, { loads: [load] });
}
const lastLoad = (batch: Json): string => batch.lots.filter((one: Json) => one.loadNo !== null).at(-1).lotId;
const packing = (batchId: string, fill: object, status = 201, more: object = {}) =>
  kitchen.post(
    'kitchen',
    `/v1/batches/${batchId}/packing-runs`,
    {
      equipmentId: world.packerId,
      programme: 'Moist dishes',
      startedAt: ELEVEN,
      finishedAt: ELEVEN,
      ...more,
      fills: [
        {
          fromPlaceId: world.ckChillerId,
          usedUnit: 'g',
          packItemId: world.beefStewPackId,
          toPlaceId: world.ckChillerId,
          ...fill,
        },
      ],
    },
    status,
  );

test('rice takes up water: the gain has its own line, and the rest is shown', async () => {
  const batchId = await openBatch(await recipe({ killStep: true }));
  await putIn(batchId, await kitchen.shin(1_000), 1_000);
  await takeOut(batchId, 2_450);
  const gains = [{ kind: 'water-uptake', massG: 1_500 }];
  const twice = { gains: [...gains, ...gains], losses: [] };
  expect((await kitchen.post('kitchen', `/v1/batches/${batchId}/completion`, twice, 422)).code).toBe('rule-broken');
  const batch = await kitchen.post('kitchen', `/v1/batches/${batchId}/completion`, { gains, losses: [] });
  expect(batch.gains).toEqual(gains);
  // by hand: 2 450 / 1 000 = 245 %; 1 000 + 1 500 - 2 450 = 50
  expect(batch.yield).toMatchObject({
    consumedG: 1_000,
    gainsG: 1_500,
    outputsG: 2_450,
    percent: 245,
    unexplainedG: 50,
  });
  const report = await service.as('finance').get(`/v1/reports/waste-and-yield?month=2026-11&siteId=${world.ckId}`);
  const line = report.body.batches.find((one: Json) => one.batchId === batchId);
  expect(line).toMatchObject({ gainsG: { 'water-uptake': 1_500 }, unexplainedG: 50, yieldPercent: 245 });
});

describe('packs', () => {
  let batchId: string;
  let load: string;
  let pouchId: string;
  beforeAll(async () => {
    const shin = await kitchen.shin(500_000);
    ({ batchId, lotId: load } = await kitchen.stew(shin, 500_000, 480_000));
    pouchId = await add('/v1/items', {
      kind: 'packaging',
      unit: 'piece',
      unitMassMg: 12_500,
      handling: 'ready-to-eat',
      allergens: [],
      storageInstruction: 'Keep dry',
      lotTracked: false,
    });
  });

  test('weighed with their pouches: the pouches are taken off', async () => {
    const fill = { fromLotId: load, usedQuantity: 3_000, packs: 10, grossMassG: 3_125, pouchItemId: pouchId };
    const packed = await packing(batchId, fill);
    const [made] = packed.lots.filter((one: Json) => one.packingRunId !== null);
    // 3 125 g - 10 x 12.5 g
    expect((await lot(made.lotId)).massMg).toBe(3_000_000);
    for (const wrong of [
      { ...fill, grossMassG: 125 },
      { ...fill, massG: 3_000 },
      { ...fill, pouchItemId: undefined },
    ]) {
      expect((await packing(batchId, wrong, 422)).code).toBe('rule-broken');
    }
    const notPouch = { ...fill, pouchItemId: world.beefShinId };
    expect((await packing(batchId, notPouch, 422)).code).toBe('item-unsuitable');
    expect((await packing(batchId, { ...fill, pouchItemId: randomUUID() }, 404)).code).toBe('not-found');
  });

  test('weighed singly: each is a lot with its own mass, grouped by the run', async () => {
    const run = randomUUID();
    const fill = { fromLotId: load, usedQuantity: 1_000, packs: 3, packMassesG: [310, 295, 333] };
    const { lots } = await packing(batchId, fill, 201, { id: run });
    const singles = await Promise.all(
      lots.filter((one: Json) => one.packingRunId === run).map((one: Json) => lot(one.lotId)),
    );
    expect(singles.map((one) => [one.quantity, one.massMg]).sort()).toEqual([
      [1, 295_000],
      [1, 310_000],
      [1, 333_000],
    ]);
    expect(new Set(singles.map((one) => one.code)).size).toBe(3);
    for (const one of singles) expect(one.code).toMatch(/^CK-261125-[0-9A-Z]{7}$/);
    const trace = await kitchen.get('quality', `/v1/lots/${load}/trace`);
    const into = trace.edges.filter((edge: Json) => edge.processId === run);
    // 1 000 g over 938 g of packs: 330.5, 314.5 and 355.0 g; whole grams that sum to what was used
    expect(into.map((edge: Json) => edge.consumedQuantity).sort()).toEqual([315, 330, 355]);
    expect((await packing(batchId, { ...fill, packs: 2 }, 422)).code).toBe('rule-broken');
    expect((await packing(batchId, { ...fill, packLotCode: 'MINE' }, 422)).code).toBe('rule-broken');
    const many = Array.from({ length: 501 }, () => 1);
    expect((await packing(batchId, { ...fill, packs: 501, packMassesG: many }, 400)).code).toBe('invalid-request');
  });

  test('rejected packs are no food lost', async () => {
    const before = (await kitchen.get('kitchen', `/v1/batches/${batchId}`)).yield;
    const run = {
      equipmentId: world.packerId,
      programme: 'Moist dishes',
      startedAt: ELEVEN,
      finishedAt: ELEVEN,
      packsRejected: 7,
      fills: [
        {
          fromLotId: load,
          fromPlaceId: world.ckChillerId,
          usedQuantity: 300,
          usedUnit: 'g',
          packItemId: world.beefStewPackId,
          packs: 1,
        },
      ],
    };
    const packed = await kitchen.post('kitchen', `/v1/batches/${batchId}/packing-runs`, run);
    expect(packed.yield).toEqual(before);
  });

  test('and loads go where the site puts such food away, and the entry says so', async () => {
    const site = await service.as('admin').get(`/v1/sites/${world.ckId}`);
    const putAway = { putAway: { ...site.body.putAway, chilled: world.ckPrepId } };
    const changed = await service.as('admin').patch(`/v1/sites/${world.ckId}`, putAway, { 'if-match': '*' });
    expect(changed.status).toBe(200);
    const other = await openBatch();
    await putIn(other, await kitchen.shin(1_000), 1_000);
    const made = lastLoad(await takeOut(other, 900, { placeId: undefined }));
    const runId = randomUUID();
    const run = {
      id: runId,
      equipmentId: world.packerId,
      programme: 'Moist dishes',
      startedAt: ELEVEN,
      finishedAt: ELEVEN,
      fills: [
        {
          fromLotId: made,
          fromPlaceId: world.ckPrepId,
          usedQuantity: 300,
          usedUnit: 'g',
          packItemId: world.beefStewPackId,
          packs: 1,
        },
      ],
    };
    const packed = await kitchen.post('kitchen', `/v1/batches/${other}/packing-runs`, run);
    const packs = packed.lots.find((one: Json) => one.packingRunId === runId).lotId;
    const stock = await kitchen.get('kitchen', `/v1/stock?placeId=${world.ckPrepId}&limit=500`);
    expect(stock.items.map((line: Json) => [line.lotId, line.quantity]).sort()).toEqual(
      [
        [made, 600],
        [packs, 1],
      ].sort(),
    );
    const rows = await asAdmin(service.databaseUrl, (admin) =>
      admin.query('select note from entry where entry_id = $1', [runId]),
    );
    expect(rows.rows[0].note).toEqual({ presumed: [{ lotId: packs, placeId: world.ckPrepId }] });
  });
});

describe('thawed food', () => {
  /** A lot that was thawed from nine o'clock. Thawing itself is not of this feature: the anchor is written straight into the table. */
  async function thawed(quantity: number, at: string): Promise<string> {
    const lotId = await kitchen.shin(quantity, { useByDate: '2026-11-28' });
    await asAdmin(service.databaseUrl, (admin) =>
      admin.query(`update lot set anchors = jsonb_build_object('thawStart', $2::bigint) where lot_id = $1`, [
        lotId,
        Date.parse(at),
      ]),
    );
    return lotId;
  }
  const life = { lifeH: 24, anchor: 'thaw-start', dayOne: 'day-after-is-day-one' };
  let thawedItemId: string;
  beforeAll(async () => {
    thawedItemId = await add('/v1/items', {
      kind: 'prepared',
      unit: 'g',
      handling: 'ready-to-eat',
      allergens: [],
      storageInstruction: 'Keep at 3 °C or below',
      life,
    });
  });

  test('keeps the earliest thaw start without a kill step, whichever was recorded first', async () => {
    const recipeId = await recipe({ itemId: thawedItemId, steps: ['thaw', 'prepare'] });
    const tell = async (order: 'before' | 'after') => {
      const early = await thawed(500, '2026-11-25T07:30:00Z');
      const batchId = await openBatch(recipeId);
      await putIn(batchId, await thawed(500, '2026-11-25T09:00:00Z'), 500);
      if (order === 'before') await recordInput(batchId, early, 100);
      const load = lastLoad(await takeOut(batchId, 500));
      if (order === 'after') await recordInput(batchId, early, 100);
      return (await lot(load)).useByAt;
    };
    // 24 hours from half past seven
    expect(await tell('before')).toBe('2026-11-26T07:30:00.000Z');
    expect(await tell('after')).toBe('2026-11-26T07:30:00.000Z');
  });

  test('frozen again without a kill step is found and held, in any order; with one it is not', async () => {
    const freezing = await recipe({ steps: ['prepare', 'freeze'] });
    const tell = async (recipeId: string, order: 'before' | 'after') => {
      const early = await thawed(500, '2026-11-25T09:00:00Z');
      const batchId = await openBatch(recipeId);
      await putIn(batchId, await kitchen.shin(500, { useByDate: '2026-11-28' }), 500);
      if (order === 'before') await recordInput(batchId, early, 100);
      const out = await takeOut(batchId, 550);
      const load = lastLoad(out);
      const late = order === 'after' ? await recordInput(batchId, early, 100) : { findings: [] };
      const holds = (await lot(load)).holds.map((hold: Json) => hold.kind).sort();
      const findings = await kitchen.get('quality', `/v1/findings?lotId=${load}`);
      const told = [...out.findings, ...late.findings].map((one: Json) => one.kind);
      return { holds, open: findings.items.map((one: Json) => one.kind), told };
    };
    const refrozen = { holds: ['awaiting-release', 'quality'], open: ['refrozen'], told: ['refrozen'] };
    expect(await tell(freezing, 'before')).toEqual(refrozen);
    expect(await tell(freezing, 'after')).toEqual(refrozen);
    const cooked = await recipe({ steps: ['cook', 'freeze'], killStep: true });
    expect(await tell(cooked, 'after')).toEqual({ holds: ['awaiting-release'], open: [], told: [] });
  });

  test('that is held for it at once also reaches a batch that froze what was made of it', async () => {
    const mixing = await recipe({ steps: ['thaw', 'prepare'] });
    const freezing = await recipe({ steps: ['prepare', 'freeze'] });
    const first = await openBatch(mixing);
    await putIn(first, await kitchen.shin(500, { useByDate: '2026-11-28' }), 500);
    const mixed = lastLoad(await takeOut(first, 500));
    const second = await openBatch(freezing);
    await putIn(second, mixed, 400);
    const frozen = lastLoad(await takeOut(second, 400));
    const answer = await recordInput(first, await thawed(500, '2026-11-25T09:00:00Z'), 100);
    expect(answer.findings).toMatchObject([{ kind: 'refrozen', lotId: frozen, detail: { thawedLotId: mixed } }]);
    const kinds = (await lot(frozen)).holds.map((hold: Json) => hold.kind);
    expect(kinds).toContain('quality');
  });
});

test('food is as raw as what went in until a kill step, whatever its item says', async () => {
  const uncooked = await recipe({ steps: ['prepare', 'raw-for-cooking-at-site'] });
  const cooked = await recipe({ steps: ['prepare', 'cook'], killStep: true });
  const handling: Json = {};
  for (const [name, recipeId] of Object.entries({ uncooked, cooked })) {
    // ready-to-eat food follows raw food on the packer: it is refused without a clean-down
    await kitchen.post('kitchen', `/v1/equipment/${world.packerId}/clean-downs`, { occurredAt: ELEVEN, kind: 'full' });
    const batchId = await openBatch(recipeId);
    await putIn(batchId, await kitchen.shin(500), 500);
    const load = lastLoad(await takeOut(batchId, 500));
    const packed = await packing(batchId, { fromLotId: load, usedQuantity: 300, packs: 1 });
    const packs = packed.lots.find((one: Json) => one.packingRunId !== null).lotId;
    handling[name] = [(await lot(load)).handling, (await lot(packs)).handling];
  }
  expect(handling).toEqual({ uncooked: ['raw', 'raw'], cooked: ['ready-to-eat', 'ready-to-eat'] });
});
