/** What was done before anybody asked: it always posts, and what conflicts with the rules is found and held. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const TEN = '2026-11-25T10:00:00Z';
let service: TestService;
let world: World;
let kitchen: Kitchen;
let slicingId: string;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  slicingId = randomUUID();
  await kitchen.post('operations', '/v1/recipes', {
    id: slicingId,
    itemId: world.beefStewId,
    code: 'SLICING',
    name: 'Sliced and mixed cold',
    expectedYieldPpm: 950_000,
    steps: ['prepare', 'pack'],
    killStep: false,
    inputs: [{ itemId: world.beefShinId, quantity: 1_000, unit: 'g' }],
  });
});
afterAll(() => service.stop());

const input = (lotId: string, quantity: number, more: object = {}) => ({
  lotId,
  placeId: world.ckChillerId,
  quantity,
  unit: 'g',
  occurredAt: TEN,
  ...more,
});
const record = (batchId: string, body: object, status = 201) =>
  kitchen.post('kitchen', `/v1/batches/${batchId}/recorded-inputs`, body, status);
const lot = (lotId: string): Promise<Json> => kitchen.get('quality', `/v1/lots/${lotId}`);
const holdsOf = async (lotId: string): Promise<Json[]> =>
  (await kitchen.get('quality', `/v1/holds?lotId=${lotId}&open=true`)).items;
const kindsOf = async (lotId: string) => (await holdsOf(lotId)).map((hold) => hold.kind).sort();
const openBatch = async (recipeId = world.recipeId): Promise<string> =>
  (await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId })).batchId;
async function takeOut(batchId: string, quantity: number): Promise<string> {
  const load = { placeId: world.ckChillerId, quantity, unit: 'g', cookEndedAt: '2026-11-25T11:00:00Z' };
  const batch = await kitchen.post('kitchen', `/v1/batches/${batchId}/outputs`, { loads: [load] });
  const loads = batch.lots.filter((one: Json) => one.loadNo !== null);
  return loads[loads.length - 1].lotId;
}

describe('an input recorded afterwards', () => {
  test('of a lot that is on hold by now joins the hold, in a batch that is completed by now', async () => {
    const first = await kitchen.shin(10_000);
    const warned = await kitchen.shin(2_000);
    const { batchId, lotId } = await kitchen.stew(first, 10_000, 8_000);
    const packs = await kitchen.pack(batchId, lotId, 3_000, 10);
    await kitchen.release(batchId);
    await kitchen.post('kitchen', `/v1/batches/${batchId}/completion`, { losses: [] });
    const hold = await kitchen.post('quality', '/v1/holds', { kind: 'safety', lotId: warned, note: 'Supplier wrote' });
    const body = { id: randomUUID(), ...input(warned, 500) };
    const answer = await record(batchId, body);
    // at ten o'clock nobody could know
    expect(answer).toMatchObject({ kind: 'batch-input', occurredAt: '2026-11-25T10:00:00.000Z', findings: [] });
    for (const made of [lotId, packs]) {
      expect((await lot(made)).holds).toEqual([{ holdId: hold.holdId, kind: 'safety', rootLotId: warned }]);
    }
    // the network was down: the tablet sends it again
    expect(await record(batchId, body)).toEqual(answer);
    expect(await record(batchId, { ...body, quantity: 501 }, 422)).toMatchObject({
      code: 'id-used-with-other-content',
    });
    const batch = await kitchen.get('quality', `/v1/batches/${batchId}`);
    expect(batch).toMatchObject({ state: 'completed', yield: { consumedG: 10_500, unexplainedG: 2_500 } });
    expect(batch.inputs).toHaveLength(2);
    // a request would have been refused
    await kitchen.post('kitchen', `/v1/batches/${batchId}/inputs`, input(warned, 500), 409);
  });

  test('while the hold was in force is a finding as well', async () => {
    const held = await kitchen.shin(1_000);
    service.clock.set(Date.parse('2026-11-25T09:00:00Z'));
    const hold = await kitchen.post('quality', '/v1/holds', { kind: 'safety', lotId: held, note: 'Smells' });
    service.clock.set(Date.parse('2026-11-25T12:00:00Z'));
    const answer = await record(await openBatch(), input(held, 500));
    expect(answer.findings).toMatchObject([
      { kind: 'used-while-held', lotId: held, detail: { holds: [{ holdId: hold.holdId, kind: 'safety' }] } },
    ]);
  });

  test('of more than was booked there is a shortfall; the delivery that comes late settles it', async () => {
    const shin = await kitchen.shin(1_000);
    const batchId = await openBatch();
    const answer = await record(batchId, input(shin, 1_300));
    expect(answer.findings).toMatchObject([{ kind: 'shortfall', lotId: shin, quantity: 300 }]);
    expect((await kitchen.get('quality', `/v1/batches/${batchId}`)).yield.consumedG).toBe(1_300);
    const open = await kitchen.get('quality', `/v1/findings?lotId=${shin}`);
    expect(open.items).toMatchObject([{ kind: 'shortfall', quantity: 300 }]);
    const found = { placeId: world.ckChillerId, unit: 'g', lotId: shin, quantity: 400 };
    await kitchen.post('kitchen', '/v1/recorded-moves', {
      ...found,
      placeId: undefined,
      fromPlaceId: world.ckPrepId,
      toPlaceId: world.ckChillerId,
      occurredAt: TEN,
    });
    const after = (await kitchen.get('quality', `/v1/findings?lotId=${shin}`)).items;
    // what was missing from the chiller had been in the preparation area, where nobody had booked it
    expect(after.map((one: Json) => [one.quantity, one.detail.accountId])).toEqual([[400, world.ckPrepId]]);
  });

  test('that was past its date holds what was made, what will be made, and the packs', async () => {
    const good = await kitchen.shin(1_000);
    const old = await kitchen.shin(1_000, { useByDate: '2026-11-24', lotCode: 'OLD-SHIN' });
    const { batchId, lotId } = await kitchen.stew(good, 1_000, 900);
    const packs = await kitchen.pack(batchId, lotId, 300, 1);
    const answer = await record(batchId, input(old, 200));
    expect(answer.findings).toMatchObject([{ kind: 'past-use-by', lotId: old }]);
    const later = await takeOut(batchId, 100);
    for (const made of [lotId, packs, later]) expect(await kindsOf(made)).toEqual(['awaiting-release', 'quality']);
    const [hold] = (await holdsOf(later)).filter((one) => one.kind === 'quality');
    expect(hold?.note).toMatch(/OLD-SHIN.*past its use-by/);
    expect(hold?.lotId).toBe(later);
    // the batch goes on, but nothing of it may be packed until a person has decided
    const pack = { fromLotId: lotId, fromPlaceId: world.ckChillerId, usedQuantity: 300, usedUnit: 'g' };
    const run = {
      equipmentId: world.packerId,
      programme: 'Moist dishes',
      startedAt: TEN,
      finishedAt: TEN,
      fills: [{ ...pack, packItemId: world.beefStewPackId, packs: 1 }],
    };
    const refused = await kitchen.post('kitchen', `/v1/batches/${batchId}/packing-runs`, run, 409);
    expect(refused.code).toBe('on-hold');
  });

  test('out of quarantine, or on hold in that place only, holds what was made', async () => {
    const aside = await kitchen.shin(1_000, { placeId: world.ckQuarantineId });
    const first = await openBatch();
    const answer = await record(first, input(aside, 100, { placeId: world.ckQuarantineId }));
    expect(answer.findings).toMatchObject([
      { kind: 'used-from-quarantine', detail: { placeId: world.ckQuarantineId } },
    ]);
    expect(await kindsOf(await takeOut(first, 90))).toEqual(['awaiting-release', 'quality']);

    const local = await kitchen.shin(1_000);
    service.clock.set(Date.parse('2026-11-25T09:00:00Z'));
    const place = { kind: 'quality', lotId: local, accountId: world.ckChillerId, note: 'The door stood open' };
    await kitchen.post('quality', '/v1/holds', place);
    service.clock.set(Date.parse('2026-11-25T12:00:00Z'));
    const second = await openBatch();
    expect((await record(second, input(local, 100))).findings).toMatchObject([{ kind: 'used-while-held' }]);
    const [hold] = (await holdsOf(await takeOut(second, 90))).filter((one) => one.kind === 'quality');
    expect(hold?.note).toMatch(/on hold there \(quality\)/);
  });

  test('that was made from the batch itself posts without an edge', async () => {
    const { batchId, lotId } = await kitchen.stew(await kitchen.shin(1_000), 1_000, 900);
    const answer = await record(batchId, input(lotId, 100));
    expect(answer.findings).toMatchObject([{ kind: 'made-from-itself', lotId, detail: { madeFrom: [lotId] } }]);
    const trace = await kitchen.get('quality', `/v1/lots/${lotId}/trace`);
    expect(trace.edges).toEqual([]);
    // what comes out after it does hold it
    const later = await takeOut(batchId, 100);
    const after = await kitchen.get('quality', `/v1/lots/${lotId}/trace`);
    expect(after.edges.map((edge: Json) => [edge.parentLotId, edge.childLotId])).toEqual([[lotId, later]]);
  });

  test('is refused for its shape and its names only', async () => {
    const batchId = await openBatch();
    const shin = await kitchen.shin(100);
    expect((await record(batchId, input(shin, 1, { unit: 'piece' }), 422)).code).toBe('unit-mismatch');
    expect((await record(batchId, input(shin, 1, { placeId: world.w3ChillerId }), 404)).code).toBe('not-found');
    expect((await record(batchId, input(randomUUID(), 1), 404)).code).toBe('not-found');
    expect((await record(randomUUID(), input(shin, 1), 404)).code).toBe('not-found');
    expect((await record(batchId, input(shin, 1, { occurredAt: undefined }), 400)).code).toBe('invalid-request');
    const ahead = await record(batchId, input(shin, 1, { occurredAt: '2026-11-26T12:00:00Z' }));
    expect(ahead.findings).toMatchObject([{ kind: 'time-ahead' }]);
  });

  test('before or after the output: the same edges, holds, dates, allergens and handling', async () => {
    const tell = async (order: 'before' | 'after'): Promise<Json> => {
      const base = await kitchen.shin(1_000, { useByDate: '2026-11-29' });
      const late = await kitchen.shin(1_000, {
        useByDate: '2026-11-24',
        allergens: ['mustard'],
        mayContain: ['sesame'],
      });
      const batchId = await openBatch(slicingId);
      await kitchen.post('kitchen', `/v1/batches/${batchId}/inputs`, { ...input(base, 500) });
      if (order === 'before') await record(batchId, input(late, 100));
      const load = await takeOut(batchId, 590);
      if (order === 'after') await record(batchId, input(late, 100));
      const run = {
        equipmentId: world.packerId,
        programme: 'Cold',
        startedAt: TEN,
        finishedAt: TEN,
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
      const packed = await kitchen.post('kitchen', `/v1/batches/${batchId}/recorded-packing-runs`, run);
      const packs = packed.lots.find((one: Json) => one.packingRunId !== null).lotId;
      const names = new Map([
        [base, 'base'],
        [late, 'late'],
        [load, 'load'],
        [packs, 'packs'],
      ]);
      const trace = await kitchen.get('quality', `/v1/lots/${packs}/trace?direction=back`);
      const told = async (lotId: string) => {
        const { useByAt, allergens, mayContain, handling, holds } = await lot(lotId);
        const reached = holds.map((hold: Json) => `${hold.kind} of ${names.get(hold.rootLotId)}`).sort();
        return { useByAt, allergens, mayContain, handling, reached };
      };
      return {
        edges: trace.edges.map((edge: Json) => `${names.get(edge.parentLotId)}>${names.get(edge.childLotId)}`).sort(),
        load: await told(load),
        packs: await told(packs),
        findings: packed.findings.map((finding: Json) => [finding.kind, names.get(finding.lotId)]).sort(),
      };
    };
    const before = await tell('before');
    expect(before.edges).toEqual(['base>load', 'late>load', 'load>packs']);
    expect(before.load).toMatchObject({
      useByAt: '2026-11-25T00:00:00.000Z',
      allergens: ['gluten-cereals:wheat', 'celery', 'mustard'],
      mayContain: ['sesame'],
      handling: 'raw',
      // the mustard is not among what the stew declares
      reached: ['awaiting-release of load', 'declaration of load', 'quality of load'],
    });
    // the packs were sealed from food past its date: found, and held for it too
    expect(before.packs.reached).toEqual([
      'awaiting-release of load',
      'declaration of load',
      'declaration of packs',
      'quality of load',
      'quality of packs',
    ]);
    expect(await tell('after')).toEqual(before);
  });
});

describe('a packing run recorded afterwards', () => {
  const runOf = (fill: object, more: object = {}) => ({
    equipmentId: world.packerId,
    programme: 'Moist dishes',
    startedAt: '2026-11-25T11:00:00Z',
    finishedAt: '2026-11-25T11:30:00Z',
    fills: [
      {
        fromPlaceId: world.ckChillerId,
        usedUnit: 'g',
        packItemId: world.beefStewPackId,
        toPlaceId: world.ckChillerId,
        ...fill,
      },
    ],
    ...more,
  });
  const recordRun = (batchId: string, run: object, status = 201) =>
    kitchen.post('kitchen', `/v1/batches/${batchId}/recorded-packing-runs`, run, status);
  // other tests leave other food on the machine
  beforeAll(() =>
    kitchen.post('kitchen', `/v1/equipment/${world.packerId}/clean-downs`, {
      occurredAt: '2026-11-25T10:30:00Z',
      kind: 'full',
    }),
  );
  const packsIn = (batch: Json): string => batch.lots.find((one: Json) => one.packingRunId !== null).lotId;

  test('posts beyond what was booked, into a completed batch, and once', async () => {
    const { batchId, lotId } = await kitchen.stew(await kitchen.shin(1_000), 1_000, 900);
    await kitchen.post('kitchen', `/v1/batches/${batchId}/completion`, { losses: [] });
    const run = { id: randomUUID(), ...runOf({ fromLotId: lotId, usedQuantity: 1_200, packs: 4 }) };
    const packed = await recordRun(batchId, run);
    expect(packed.findings).toMatchObject([{ kind: 'shortfall', lotId, quantity: 300 }]);
    expect(await recordRun(batchId, run)).toEqual(packed);
    expect(await kindsOf(packsIn(packed))).toEqual(['awaiting-release']);
    const stock = await kitchen.get('kitchen', `/v1/stock?placeId=${world.ckChillerId}&limit=500`);
    expect(stock.items.find((line: Json) => line.lotId === packsIn(packed)).quantity).toBe(4);
  });

  test('with a label that says too late a date: found, held, and the computed date is in force', async () => {
    const { batchId, lotId } = await kitchen.stew(await kitchen.shin(1_000), 1_000, 900);
    const fill = { fromLotId: lotId, usedQuantity: 300, packs: 1, useByDate: '2026-12-24' };
    const request = await kitchen.post('kitchen', `/v1/batches/${batchId}/packing-runs`, runOf(fill), 422);
    expect(request.code).toBe('use-by-later-than-computed');
    const packed = await recordRun(batchId, runOf(fill));
    expect(packed.findings).toMatchObject([
      { kind: 'label-later-than-computed', detail: { labelSays: '2026-12-24', useByDate: '2026-11-29' } },
    ]);
    const packs = await lot(packsIn(packed));
    expect(packs.useByDate).toBe('2026-11-29');
    expect(packs.holds.map((hold: Json) => hold.kind).sort()).toEqual(['awaiting-release', 'quality']);
  });

  test('of food whose life is not known is held until somebody says', async () => {
    const raw = await kitchen.shin(1_000);
    const batchId = await openBatch();
    const packed = await recordRun(batchId, runOf({ fromLotId: raw, usedQuantity: 300, packs: 1 }));
    expect(packed.findings).toMatchObject([{ kind: 'life-unknown' }]);
    expect(await kindsOf(packsIn(packed))).toEqual(['quality']);
  });
});

test('a move recorded afterwards posts whatever was booked, and is refused between sites', async () => {
  const shin = await kitchen.shin(1_000);
  const move = {
    lotId: shin,
    fromPlaceId: world.ckChillerId,
    toPlaceId: world.ckPrepId,
    quantity: 1_200,
    unit: 'g',
    occurredAt: TEN,
  };
  const body = { id: randomUUID(), ...move };
  const moved = await kitchen.post('kitchen', '/v1/recorded-moves', body);
  expect(moved).toMatchObject({ kind: 'move', findings: [{ kind: 'shortfall', quantity: 200 }] });
  expect(await kitchen.post('kitchen', '/v1/recorded-moves', body)).toEqual(moved);
  expect((await kitchen.post('kitchen', '/v1/moves', move, 409)).code).toBe('insufficient-stock');
  const away = { ...move, toPlaceId: world.w3ChillerId };
  expect((await kitchen.post('kitchen', '/v1/recorded-moves', away, 422)).code).toBe('same-place');
});
