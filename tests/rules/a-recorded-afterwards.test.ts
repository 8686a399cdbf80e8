/** Rules 1, 2, 6 and 20: what was done already is recorded, holds say what they block, loads are judged one by one, undo stands alone. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kindsOf, startKit, type Kit } from './kit.ts';

let kit: Kit;
beforeAll(async () => {
  kit = await startKit();
});
afterAll(() => kit.stop());

const openBatch = async () =>
  (await kit.post('kitchen', '/v1/batches', { siteId: kit.world.ckId, recipeId: kit.world.recipeId }))
    .batchId as string;

describe('rule 1: every request has a recorded-afterwards twin', () => {
  test('batch input: refused when there is not enough, recorded with a shortfall afterwards', async () => {
    const { world } = kit;
    const shin = await kit.shin(3_000);
    const batchId = await openBatch();
    const taken = { lotId: shin, placeId: world.ckChillerId, quantity: 5_000, unit: 'g' };
    const asked = await kit.try('kitchen', `/v1/batches/${batchId}/inputs`, taken);
    expect([asked.status, asked.body.code]).toEqual([409, 'insufficient-stock']);
    expect(await kit.have(shin, world.ckChillerId)).toBe(3_000);
    const told = { ...taken, occurredAt: kit.now() };
    const answer = await kit.post('kitchen', `/v1/batches/${batchId}/recorded-inputs`, told);
    // 5000 taken of 3000 booked: 2000 short
    expect(answer.findings).toMatchObject([{ kind: 'shortfall', lotId: shin, quantity: 2_000 }]);
    expect(await kit.have(shin, world.ckChillerId)).toBe(0);
    const batch = await kit.get('kitchen', `/v1/batches/${batchId}`);
    expect(batch.inputs.map((one: { quantity: number }) => one.quantity)).toEqual([5_000]);
  });

  test('a held input is turned away as a request; told afterwards, its hold reaches what was made already', async () => {
    const { world } = kit;
    const beef = await kit.shin(9_000);
    const bad = await kit.shin(2_000);
    const { batchId, lotId } = await kit.stew(beef, 9_000, 8_000);
    await kit.post('quality', '/v1/holds', { kind: 'safety', lotId: bad, note: 'Glass in the crate' });
    const taken = { lotId: bad, placeId: world.ckChillerId, quantity: 500, unit: 'g' };
    const asked = await kit.try('kitchen', `/v1/batches/${batchId}/inputs`, taken);
    expect([asked.status, asked.body.code]).toEqual([409, 'on-hold']);
    expect(await kit.holdsOf(lotId)).toEqual(['awaiting-release']);
    const told = { ...taken, occurredAt: kit.now() };
    const answer = await kit.post('kitchen', `/v1/batches/${batchId}/recorded-inputs`, told);
    expect(kindsOf(answer)).toContain('used-while-held');
    expect(await kit.holdsOf(lotId)).toContain('safety');
  });

  test('move: refused beyond what is there, recorded with a shortfall; the sum is what counts', async () => {
    const { world } = kit;
    const lotId = await kit.shin(1_000);
    const moved = { lotId, fromPlaceId: world.ckChillerId, toPlaceId: world.ckPrepId, quantity: 1_400, unit: 'g' };
    const asked = await kit.try('kitchen', '/v1/moves', moved);
    expect([asked.status, asked.body.code]).toEqual([409, 'insufficient-stock']);
    const answer = await kit.post('kitchen', '/v1/recorded-moves', { ...moved, occurredAt: kit.now() });
    expect(answer.findings).toMatchObject([{ kind: 'shortfall', quantity: 400 }]);
    expect([await kit.have(lotId, world.ckChillerId), await kit.have(lotId, world.ckPrepId)]).toEqual([0, 1_400]);
    // 900 come back: 400 of them settle what was missing, 500 stand there
    const back = { ...moved, fromPlaceId: world.ckPrepId, toPlaceId: world.ckChillerId, quantity: 900 };
    await kit.post('kitchen', '/v1/recorded-moves', { ...back, occurredAt: kit.now() });
    expect([await kit.have(lotId, world.ckChillerId), await kit.have(lotId, world.ckPrepId)]).toEqual([500, 500]);
  });

  test('departure: unreleased packs do not leave by request; told afterwards they are held where they go', async () => {
    const { world } = kit;
    const { batchId, lotId } = await kit.stew(await kit.shin(3_000), 3_000, 3_000);
    const packs = await kit.pack(batchId, lotId, 3_000, 10);
    const lines = [{ lotId: packs, placeId: world.ckChillerId, quantity: 4, unit: 'piece' }];
    const plan = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines };
    const { dispatchId } = await kit.post('kitchen', '/v1/dispatches', plan);
    const asked = await kit.try('kitchen', `/v1/dispatches/${dispatchId}/departure`, {});
    expect([asked.status, asked.body.code]).toEqual([409, 'on-hold']);
    expect(await kit.have(packs, world.ckChillerId)).toBe(10);
    const told = { departedAt: kit.now() };
    await kit.post('driver', `/v1/dispatches/${dispatchId}/recorded-departure`, told);
    expect(await kit.have(packs, world.ckChillerId)).toBe(6);
    expect((await kit.findings(packs)).length).toBeGreaterThan(0);
    await kit.arrive(dispatchId, packs, 4);
    const stock = await kit.get('operations', `/v1/stock?placeId=${world.w3ChillerId}&limit=500`);
    const part = stock.items.find((one: { lotId: string }) => one.lotId === packs);
    expect([part.quantity, part.mayUse]).toEqual([4, false]);
  });

  test('packing: more food packed than was booked is refused, and recorded with a shortfall afterwards', async () => {
    const { world } = kit;
    const { batchId, lotId } = await kit.stew(await kit.shin(3_000), 3_000, 2_400);
    const fill = {
      fromLotId: lotId,
      fromPlaceId: world.ckChillerId,
      usedQuantity: 3_000,
      usedUnit: 'g',
      packItemId: world.beefStewPackId,
      packs: 10,
      toPlaceId: world.ckChillerId,
    };
    const at = kit.now();
    const run = { equipmentId: world.packerId, programme: 'Moist', startedAt: at, finishedAt: at, fills: [fill] };
    const asked = await kit.try('kitchen', `/v1/batches/${batchId}/packing-runs`, run);
    expect([asked.status, asked.body.code]).toEqual([409, 'insufficient-stock']);
    await kit.post('kitchen', `/v1/batches/${batchId}/recorded-packing-runs`, run);
    // 3000 used of 2400
    const list = await kit.get('operations', `/v1/findings?lotId=${lotId}&kind=shortfall`);
    expect(list.items).toMatchObject([{ quantity: 600 }]);
  });

  test.each([
    ['recipe', () => `/v1/recipes/${kit.world.recipeId}/batch-sheet?siteId=${kit.world.ckId}`],
    ['temperature', () => `/v1/sites/${kit.world.ckId}/temperature-sheet`],
  ])('paper nights: the %s sheet prints', async (_name, path) => {
    const sheet = await kit.service.as('kitchen').get(path());
    expect([sheet.status, sheet.raw.subarray(0, 5).toString()]).toEqual([200, '%PDF-']);
  });

  test('paper entered in one call: what is refused leaves the others recorded; sent again it changes nothing', async () => {
    const { world } = kit;
    const lotId = await kit.shin(1_000);
    const body = { lotId, placeId: world.ckChillerId, quantity: 100, unit: 'g', occurredAt: kit.now() };
    const lines = [
      { operation: 'createUse', body: { ...body, id: crypto.randomUUID() } },
      { operation: 'createUse', body: { ...body, id: crypto.randomUUID(), placeId: crypto.randomUUID() } },
      { operation: 'createUse', body: { ...body, id: crypto.randomUUID(), quantity: 50 } },
    ];
    for (let round = 0; round < 2; round += 1) {
      const answer = await kit.service.as('kitchen').post('/v1/paper-entries', { lines });
      expect(answer.status).toBe(207);
      // 1000 - 100 - 50, once
      expect(await kit.have(lotId, world.ckChillerId)).toBe(850);
    }
  });
});

describe('rule 2: a hold says what it blocks', () => {
  test('awaiting release: may be packed and cooked with, may not be sent; released when its ancestors are', async () => {
    const { world } = kit;
    const gravy = await kit.stew(await kit.shin(4_000), 4_000, 4_000);
    const batchId = await openBatch();
    const path = `/v1/batches/${batchId}`;
    await kit.post('kitchen', `${path}/inputs`, {
      lotId: gravy.lotId,
      placeId: world.ckChillerId,
      quantity: 2_000,
      unit: 'g',
    });
    const load = { placeId: world.ckChillerId, quantity: 2_000, unit: 'g', cookEndedAt: kit.now() };
    await kit.post('kitchen', `${path}/outputs`, { loads: [load] });
    const early = await kit.try('quality', `${path}/release`, {});
    expect([early.status, early.body.code]).toEqual([409, 'ancestors-not-released']);
    await kit.release(gravy.batchId);
    await kit.release(batchId);
  });

  test.each(['quality', 'safety'])('%s: only moves within the site, counts and discards go on', async (kind) => {
    const { world } = kit;
    const { packsId } = await kit.packs(10);
    await kit.post('quality', '/v1/holds', { kind, lotId: packsId, note: 'Look at the seals' });
    const part = { lotId: packsId, placeId: world.ckChillerId, unit: 'piece' };
    const move = { lotId: packsId, fromPlaceId: world.ckChillerId, toPlaceId: world.ckPrepId, unit: 'piece' };
    await kit.post('kitchen', '/v1/moves', { ...move, quantity: 2 });
    const waste = { ...part, quantity: 1, occurredAt: kit.now(), reason: 'damaged', destination: 'landfill' };
    expect((await kit.post('kitchen', '/v1/discards', waste)).findings).toEqual([]);
    const lines = [{ lotId: packsId, quantity: 7, unit: 'piece' }];
    const count = { placeId: world.ckChillerId, occurredAt: kit.now(), lines };
    // 10 - 2 - 1 = 7
    const counted = await kit.post('kitchen', '/v1/stock-counts', count);
    expect(counted.lines).toMatchObject([{ booked: 7, variance: 0 }]);
    const plan = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines: [{ ...part, quantity: 1 }] };
    const sent = await kit.post('kitchen', '/v1/dispatches', plan);
    const leave = await kit.try('kitchen', `/v1/dispatches/${sent.dispatchId}/departure`, {});
    expect([leave.status, leave.body.code]).toEqual([409, 'on-hold']);
    const destroy = await kit.post('kitchen', '/v1/dispatches', { ...plan, purpose: 'destruction' });
    await kit.post('kitchen', `/v1/dispatches/${destroy.dispatchId}/departure`, {});
    const used = await kit.post('kitchen', '/v1/uses', { ...part, quantity: 1, occurredAt: kit.now() });
    expect([used.mayUse, kindsOf(used)]).toEqual([false, ['used-while-held']]);
  });
});

describe('rule 6: loads, not batches', () => {
  test('three loads, one rejected alone; its packs and no others go with it', async () => {
    const { world } = kit;
    const shin = await kit.shin(9_000);
    const batchId = await openBatch();
    const path = `/v1/batches/${batchId}`;
    const input = { lotId: shin, placeId: world.ckChillerId, quantity: 9_000, unit: 'g' };
    await kit.post('kitchen', `${path}/inputs`, input);
    const load = { placeId: world.ckChillerId, quantity: 3_000, unit: 'g', cookEndedAt: kit.now() };
    const out = await kit.post('kitchen', `${path}/outputs`, { loads: [load, load, load] });
    const loads = out.lots.map((one: { lotId: string }) => one.lotId) as string[];
    expect(out.lots.map((one: { loadNo: number }) => one.loadNo)).toEqual([1, 2, 3]);
    const fill = (fromLotId: string | undefined) => ({
      fromLotId,
      fromPlaceId: world.ckChillerId,
      usedQuantity: 3_000,
      usedUnit: 'g',
      packItemId: world.beefStewPackId,
      packs: 10,
      toPlaceId: world.ckChillerId,
    });
    const startedAt = kit.now();
    const changedOverAt = kit.after(10);
    const fills = [fill(loads[0]), { ...fill(loads[1]), changedOverAt }];
    const run = { equipmentId: world.packerId, programme: 'Moist', startedAt, finishedAt: kit.after(10), fills };
    const packed = await kit.post('kitchen', `${path}/packing-runs`, run);
    const packs = packed.lots.filter((one: { packingRunId: string | null }) => one.packingRunId !== null);
    expect(packs).toHaveLength(2);
    const rejected = await kit.post('quality', `${path}/rejection`, { lotIds: [loads[1]], reason: 'Core 61 °C' });
    const released = await kit.post('quality', `${path}/release`, {});
    expect(rejected.batchId).toBe(batchId);
    const parents: string[] = [];
    for (const one of packs) {
      const back = await kit.get('quality', `/v1/lots/${one.lotId}/trace?direction=back`);
      const edge = back.edges.find((line: { childLotId: string }) => line.childLotId === one.lotId);
      parents.push(edge.parentLotId as string);
    }
    const stateOf = (lotId: string | undefined) =>
      released.lots.find((one: { lotId: string }) => one.lotId === lotId).state as string;
    expect(loads.map(stateOf)).toEqual(['released', 'rejected', 'released']);
    for (const [index, one] of packs.entries())
      expect(stateOf(one.lotId)).toBe(parents[index] === loads[1] ? 'rejected' : 'released');
    expect([...parents].sort()).toEqual([loads[0], loads[1]].sort());
  });
});

describe('rule 20: undo stands alone', () => {
  test('a wrong use is reversed with no replacement, once', async () => {
    const { world } = kit;
    const lotId = await kit.shin(1_000);
    const use = { lotId, placeId: world.ckChillerId, quantity: 300, unit: 'g', occurredAt: kit.now() };
    const { entryId } = await kit.post('kitchen', '/v1/uses', use);
    expect(await kit.have(lotId, world.ckChillerId)).toBe(700);
    await kit.post('kitchen', '/v1/reversals', { entryId, reason: 'Wrong lot' });
    expect(await kit.have(lotId, world.ckChillerId)).toBe(1_000);
    const again = await kit.try('kitchen', '/v1/reversals', { entryId, reason: 'Wrong lot' });
    expect([again.status, again.body.code]).toEqual([409, 'already-reversed']);
    expect(await kit.have(lotId, world.ckChillerId)).toBe(1_000);
  });

  test('past its date is judged by when it was used, not by when that was told', async () => {
    const { world } = kit;
    const [lotId = ''] = await kit.deliver([
      { itemId: world.beefShinId, placeId: world.ckChillerId, quantity: 1_000, unit: 'g', useByDate: '2026-11-26' },
    ]);
    const inTime = '2026-11-26T23:59:00Z';
    const late = '2026-11-27T00:01:00Z';
    kit.service.clock.set(Date.parse('2026-11-27T09:00:00Z'));
    const use = { lotId, placeId: world.ckChillerId, quantity: 100, unit: 'g' };
    expect(kindsOf(await kit.post('kitchen', '/v1/uses', { ...use, occurredAt: inTime }))).toEqual([]);
    expect(kindsOf(await kit.post('kitchen', '/v1/uses', { ...use, occurredAt: late }))).toEqual(['past-use-by']);
  });
});
