/** A kitchen's two batches, small enough to add up by hand, and what the month says of their losses. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { exampleId } from '../../../src/platform/ids.ts';
import { kitchenOf, type Json } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

describe('what was lost in the batches of a month', () => {
  let service: TestService;
  let world: World;
  beforeAll(async () => {
    service = await startService();
    service.clock.set(Date.parse('2026-11-02T08:00:00Z'));
    world = await buildWorld(service);
    const kitchen = kitchenOf(service, world);
    const shin = await kitchen.shin(12_000, { lotId: exampleId('lot/shin-l'), supplierLotCode: 'BRK-9' });
    const make = async (lot: string, quantity: number, losses: object[]): Promise<void> => {
      const { batchId } = await kitchen.post('kitchen', '/v1/batches', {
        siteId: world.ckId,
        recipeId: world.recipeId,
      });
      const path = `/v1/batches/${batchId}`;
      const at = { placeId: world.ckChillerId, unit: 'g' };
      await kitchen.post('kitchen', `${path}/inputs`, { ...at, lotId: shin, quantity: 5_000 });
      const load = { ...at, lotId: exampleId(lot), quantity, cookEndedAt: '2026-11-02T07:30:00Z' };
      await kitchen.post('kitchen', `${path}/outputs`, { loads: [load] });
      await kitchen.post('kitchen', `${path}/completion`, { losses });
    };
    await make('lot/stew-l1', 4_200, [
      { kind: 'cooking-loss', massG: 400 },
      { kind: 'trim', massG: 300, destination: 'composting', inedibleMassG: 210 },
      { kind: 'drip-loss', massG: 40, destination: 'sewer' },
    ]);
    await make('lot/stew-l2', 4_500, [{ kind: 'trim', massG: 100 }]);
    const thrown = { lotId: shin, placeId: world.ckChillerId, unit: 'g', reason: 'trim', destination: 'composting' };
    await kitchen.post('kitchen', '/v1/discards', { ...thrown, quantity: 500, occurredAt: '2026-11-02T08:00:00Z' });
  });
  afterAll(() => service.stop());

  const report = async (query: string): Promise<Json> => {
    const answer = await service.as('finance').get(`/v1/reports/waste-and-yield?${query}`);
    expect(answer.status).toBe(200);
    return answer.body;
  };

  test('by destination, food and inedible parts apart, beside the discards and in no row of stock', async () => {
    const body = await report('month=2026-11');
    const made = { siteId: world.ckId, itemId: world.beefStewId, stage: 'processing-and-manufacturing' };
    const row = (kind: string, destination: string | null, foodG: number, inediblePartsG: number) =>
      expect.objectContaining({ ...made, kind, destination, foodG, inediblePartsG, batches: 1 });
    expect(body.batchLosses).toEqual([
      row('cooking-loss', null, 400, 0),
      row('trim', 'composting', 90, 210),
      row('trim', null, 100, 0),
      row('drip-loss', 'sewer', 40, 0),
    ]);
    expect(body.batchLosses.map((one: Json) => one.leavesAsWater)).toEqual([true, false, false, false]);
    const sums = (by: string, code: string) => {
      const one = body.wasteBy[by].find((sum: Json) => sum.code === code);
      return [one.foodG, one.inediblePartsG, one.inBatchesFoodG, one.inBatchesInediblePartsG];
    };
    expect(sums('destination', 'composting')).toEqual([500, 0, 90, 210]);
    expect(sums('destination', 'sewer')).toEqual([0, 0, 40, 0]);
    // the cooking loss said no destination either, and is not here
    expect(sums('destination', 'not-said')).toEqual([0, 0, 100, 0]);
    expect(sums('reason', 'trim')).toEqual([500, 0, 190, 210]);
    expect(sums('reason', 'cooking-loss')).toEqual([0, 0, 0, 0]);
    expect(sums('stage', 'processing-and-manufacturing')).toEqual([500, 0, 230, 210]);
    // 500 g were discarded; what was lost in batches is in the 10 000 g that went in
    expect(body.summary.wastedG).toBe(500);
    expect(body.totals.inGrams).toMatchObject({ consumed: 10_000, wasted: 500 });
    const printed = body.batches.map((one: Json) => one.lossesG.trim);
    expect(printed.sort()).toEqual([100, 300]);
  });

  test('another site and another month have none', async () => {
    expect((await report(`month=2026-11&siteId=${world.w3Id}`)).batchLosses).toEqual([]);
    expect((await report('month=2026-10')).batchLosses).toEqual([]);
  });
});
