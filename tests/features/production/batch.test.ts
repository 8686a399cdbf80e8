import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

describe('from goods in to release', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
  });
  afterAll(() => service.stop());

  test('a load is born on hold, packs inherit the hold, a quality lead releases them', async () => {
    const shin = await kitchen.shin(40_000, { supplierLotCode: 'BRK-1', useByDate: '2026-11-27' });
    const { batchId, lotId } = await kitchen.stew(shin, 40_000, 34_000);
    const packs = await kitchen.pack(batchId, lotId, 30_000, 100);
    const before = await kitchen.get('quality', `/v1/lots/${packs}`);
    expect(before.holds.map((hold: Json) => [hold.kind, hold.rootLotId])).toEqual([['awaiting-release', lotId]]);
    // kill step in the recipe: five days from the end of cooking, that day included, not the meat's own date
    expect(before.useByDate).toBe('2026-11-29');
    expect(before.serialised).toBe(true);
    expect(before.allergens).toEqual(['gluten-cereals:wheat', 'celery']);
    await kitchen.release(batchId);
    expect((await kitchen.get('quality', `/v1/lots/${packs}`)).holds).toEqual([]);
    const batch = await kitchen.get('quality', `/v1/batches/${batchId}`);
    expect(batch.yield).toMatchObject({
      consumedG: 40_000,
      outputsG: 34_000,
      unexplainedG: 6_000,
      percent: 85,
      expectedPercent: 85,
    });
    expect(batch.lots.map((lot: Json) => lot.state)).toEqual(['released', 'released']);
    await kitchen.post('quality', `/v1/batches/${batchId}/release`, {}, 409);
  });

  test('requests are refused for stock, hold and date; the refusal says what is there', async () => {
    const shin = await kitchen.shin(1_000, { useByDate: '2026-11-26' });
    const batch = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: world.recipeId });
    const path = `/v1/batches/${batch.batchId}/inputs`;
    const input = { lotId: shin, placeId: world.ckChillerId, quantity: 1_001, unit: 'g' };
    expect(await kitchen.post('kitchen', path, input, 409)).toMatchObject({
      code: 'insufficient-stock',
      available: 1_000,
    });
    expect(await kitchen.post('kitchen', path, { ...input, unit: 'piece' }, 422)).toMatchObject({
      code: 'unit-mismatch',
    });
    const hold = await kitchen.post('quality', '/v1/holds', { kind: 'safety', lotId: shin, note: 'Smells' });
    expect(await kitchen.post('kitchen', path, { ...input, quantity: 1 }, 409)).toMatchObject({ code: 'on-hold' });
    await kitchen.post('quality', `/v1/holds/${hold.holdId}/lift`, { note: 'It was the bin' });
    service.clock.set(Date.parse('2026-11-27T00:00:00Z'));
    expect(await kitchen.post('kitchen', path, { ...input, quantity: 1 }, 409)).toMatchObject({ code: 'past-use-by' });
    service.clock.set(Date.parse('2026-11-25T12:00:00Z'));
    await kitchen.post('kitchen', path, { ...input, quantity: 1_000 });
  });

  test('a late input brings its holds to what was made already, and a lot cannot go into its own batch', async () => {
    const first = await kitchen.shin(10_000);
    const late = await kitchen.shin(500, { allergens: ['mustard'] });
    const { batchId, lotId } = await kitchen.stew(first, 10_000, 8_000);
    const packs = await kitchen.pack(batchId, lotId, 3_000, 10);
    await kitchen.post('quality', '/v1/holds', { kind: 'awaiting-laboratory', lotId: late, note: 'Swab' });
    const path = `/v1/batches/${batchId}/inputs`;
    await kitchen.post('kitchen', path, { lotId: late, placeId: world.ckChillerId, quantity: 500, unit: 'g' });
    const after = await kitchen.get('quality', `/v1/lots/${packs}`);
    // the stew does not declare mustard: it is held for its declaration, and so are its packs, and with it
    const kinds = ['awaiting-laboratory', 'awaiting-release', 'declaration', 'declaration'];
    expect(after.holds.map((hold: Json) => hold.kind).sort()).toEqual(kinds);
    expect(after.allergens).toContain('mustard');
    const own = { lotId, placeId: world.ckChillerId, quantity: 1, unit: 'g' };
    expect(await kitchen.post('kitchen', path, own, 409)).toMatchObject({ code: 'would-make-a-loop' });
  });

  test('rework waits for what it was made from', async () => {
    const shin = await kitchen.shin(10_000);
    const gravy = await kitchen.stew(shin, 5_000, 4_000);
    const stew = await kitchen.stew(gravy.lotId, 4_000, 3_500);
    const refused = await kitchen.post('quality', `/v1/batches/${stew.batchId}/release`, {}, 409);
    expect(refused).toMatchObject({ code: 'ancestors-not-released', lots: [{ lotId: gravy.lotId }] });
    await kitchen.release(gravy.batchId);
    await kitchen.release(stew.batchId);
    expect((await kitchen.get('quality', `/v1/lots/${stew.lotId}`)).holds).toEqual([]);
  });

  test('rejection reaches the packs and stays', async () => {
    const shin = await kitchen.shin(5_000);
    const { batchId, lotId } = await kitchen.stew(shin, 5_000, 4_000);
    const packs = await kitchen.pack(batchId, lotId, 3_000, 10);
    const batch = await kitchen.post('quality', `/v1/batches/${batchId}/rejection`, { reason: 'Not hot enough' });
    expect(batch.lots.map((lot: Json) => lot.state)).toEqual(['rejected', 'rejected']);
    const used = {
      lotId: packs,
      placeId: world.ckChillerId,
      quantity: 1,
      unit: 'piece',
      occurredAt: '2026-11-25T12:00:00Z',
    };
    const answer = await kitchen.post('kitchen', '/v1/uses', used);
    expect(answer).toMatchObject({ mayUse: false, findings: [{ kind: 'used-while-held' }] });
    expect(answer.whyNot).toMatch(/do not use/i);
  });

  test('uses beyond stock make a shortfall; a late delivery settles it; counts adjust to late facts', async () => {
    const shin = await kitchen.shin(1_000);
    const use = { lotId: shin, placeId: world.ckChillerId, unit: 'g' };
    const over = await kitchen.post('kitchen', '/v1/uses', {
      ...use,
      quantity: 1_200,
      occurredAt: '2026-11-25T10:00:00Z',
    });
    expect(over.findings).toMatchObject([{ kind: 'shortfall', quantity: 200 }]);
    const count = {
      placeId: world.ckChillerId,
      occurredAt: '2026-11-25T11:00:00Z',
      lines: [{ lotId: shin, quantity: 50, unit: 'g' }],
    };
    const counted = await kitchen.post('kitchen', '/v1/stock-counts', count);
    // by event time the delivery (recorded at 12:00) came after the count at 11:00
    const line = { lotId: shin, counted: 50, booked: -1_200, variance: 1_250, used: 0, named: true };
    expect(counted.lines).toEqual([line]);
    await kitchen.post('kitchen', '/v1/uses', { ...use, quantity: 30, occurredAt: '2026-11-25T10:30:00Z' });
    const history = await kitchen.get('kitchen', `/v1/lots/${shin}/history`);
    expect(
      history.items.filter((line: Json) => line.kind === 'stock-count').map((line: Json) => line.quantity),
    ).toEqual([200, 1050, 30]);
    const stock = await kitchen.get('kitchen', `/v1/stock?placeId=${world.ckChillerId}&limit=500`);
    expect(stock.items.find((line: Json) => line.lotId === shin).quantity).toBe(1_050);
  });
});
