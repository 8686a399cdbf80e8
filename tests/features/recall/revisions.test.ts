/** What is recorded after the opening: it joins the case with the fact that brought it in, and what happened against the hold is listed. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { reviseCases } from '../../../src/features/recall/index.ts';
import type { Json } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { accepted, receive } from '../distribution/sites.ts';
import { at, beginRecallStory, type RecallStory } from './story.ts';

describe('revisions of a case', () => {
  let service: TestService;
  let story: RecallStory;
  let shin: string;
  let food: { batchId: string; loadId: string; packsId: string };
  let other: { batchId: string; loadId: string; packsId: string };
  let recall: Json;

  // BF-100 was cooked at 08:00, BF-200 at 08:30; four packs of each are on ward 3 when BF-100 is recalled at 10:00
  beforeAll(async () => {
    service = await startService({ nowMs: Date.parse(at('06:00')) });
    story = await beginRecallStory(service);
    shin = await story.deliver('07:00', 'BF-100');
    const second = await story.deliver('07:00', 'BF-200');
    food = await story.cook('08:00', shin, 20);
    other = await story.cook('08:30', second, 20);
    for (const { packsId } of [food, other]) {
      const dispatchId = await story.send('09:00', packsId, 4);
      story.setTime('09:30');
      const line = accepted(packsId, 4, { placeId: story.kitchen.world.w3ChillerId });
      await receive(story.kitchen, dispatchId, at('09:30'), [line]);
    }
    story.setTime('10:00');
    recall = await story.open([{ kind: 'supplier-lot', supplier: 'BROOK', supplierLotCode: 'BF-100' }]);
  });
  afterAll(() => service.stop());

  const revisions = async (): Promise<Json[]> => (await story.recall(recall.recallId, '/revisions')).revisions;
  const lotIds = (lots: Json): string[] => lots.map((lot: Json) => lot.lotId).sort();

  test('the opening: three lots, each with the way to it and where all of it is', async () => {
    const first = await revisions();
    expect(first).toMatchObject([{ revision: 1, at: at('10:00'), factId: null, operation: null, addedLotCount: 3 }]);
    expect(lotIds(first[0].addedLots)).toEqual([shin, food.loadId, food.packsId].sort());
    const lots = (await story.recall(recall.recallId, '/lots')).items;
    const packs = lots.find((lot: Json) => lot.lotId === food.packsId);
    const batch = await story.kitchen.get('quality', `/v1/batches/${food.batchId}`);
    expect(packs.reasonPath.map((step: Json) => [step.lotId, step.via, step.processCode])).toEqual([
      [shin, 'start', null],
      [food.loadId, 'batch', batch.code],
      [food.packsId, 'packing-run', batch.code],
    ]);
    expect(packs.quantities).toMatchObject({ produced: 20, onHand: 20, inTransit: 0, served: 0, balanced: true });
    const where = packs.where.map((one: Json) => [one.placeId, one.quantity]);
    expect(where.sort()).toEqual(
      [
        [story.kitchen.world.ckChillerId, 16],
        [story.kitchen.world.w3ChillerId, 4],
      ].sort(),
    );
    const ward = await story.recall(recall.recallId, `/lots?siteId=${story.kitchen.world.w3Id}`);
    expect(lotIds(ward.items)).toEqual([food.packsId]);
  });

  test('an input that is told later brings the batch and its packs in, with the fact; it happened before, so it is no exception', async () => {
    story.setTime('10:20');
    const input = {
      lotId: shin,
      placeId: story.kitchen.world.ckChillerId,
      quantity: 500,
      unit: 'g',
      occurredAt: at('08:20'),
    };
    const entry = await story.kitchen.post('kitchen', `/v1/batches/${other.batchId}/recorded-inputs`, input);
    const second = (await revisions())[1];
    expect(second).toMatchObject({
      revision: 2,
      at: at('10:20'),
      factId: entry.entryId,
      operation: 'createRecordedBatchInput',
      actorName: 'Sam Dale',
      addedLotCount: 2,
    });
    expect(lotIds(second.addedLots)).toEqual([other.loadId, other.packsId].sort());
    expect((await story.recall(recall.recallId, '/exceptions')).items).toEqual([]);
    const served = await story.kitchen.post('receiver', '/v1/uses', {
      lotId: other.packsId,
      placeId: story.kitchen.world.w3ChillerId,
      quantity: 1,
      unit: 'piece',
      occurredAt: at('10:10'),
    });
    // at 10:10 nobody could know: it came under the hold at 10:20
    expect(served.entryId).toBeDefined();
    expect((await story.recall(recall.recallId, '/exceptions')).items).toEqual([]);
  });

  test('a pack opened while the tablet was offline: the new lot joins, and the opening is an exception', async () => {
    story.setTime('11:00');
    const { code } = await story.kitchen.get('quality', `/v1/lots/${food.packsId}`);
    const { w3Id, w3ChillerId } = story.kitchen.world;
    await story.kitchen.post('receiver', '/v1/conversions', {
      kind: 'open',
      toItemId: story.kitchen.world.beefStewId,
      siteId: w3Id,
      code,
      placeId: w3ChillerId,
      quantity: 2,
      occurredAt: at('10:40'),
    });
    const third = (await revisions())[2];
    expect(third).toMatchObject({ revision: 3, at: at('11:00'), operation: 'createConversion', addedLotCount: 1 });
    expect((await story.recall(recall.recallId, '/exceptions')).items).toMatchObject([
      {
        kind: 'conversion',
        lotId: food.packsId,
        siteId: w3Id,
        quantity: 2,
        occurredAt: at('10:40'),
        recordedAt: at('11:00'),
      },
    ]);
    const lots = (await story.recall(recall.recallId, '/lots')).items;
    const made = lots.find((lot: Json) => lot.lotId === third.addedLots[0].lotId);
    expect(made.reasonPath.map((step: Json) => step.via)).toEqual(['start', 'batch', 'packing-run', 'conversion']);
    expect(made.revision).toBe(3);
  });

  test('a delivery of the recalled code, however it is written, arrives into the hold', async () => {
    const late = await story.deliver('11:30', 'bf/100', 4_000);
    const lot = await story.kitchen.get('quality', `/v1/lots/${late}`);
    expect(lot.holds).toMatchObject([{ holdId: recall.holdId, kind: 'recall', rootLotId: shin }]);
    const fourth = (await revisions())[3];
    expect(fourth).toMatchObject({ revision: 4, operation: 'createGoodsReceipt', addedLotCount: 1 });
    expect(fourth.addedLots).toMatchObject([{ lotId: late, supplierLotCode: 'bf/100' }]);
    // the sweep notes that the starting point names it now, and adds nothing
    await reviseCases(service).run({ groupId: service.groupId });
    const now = await story.recall(recall.recallId);
    expect(now).toMatchObject({ revision: 4, lotCount: 7, starts: [{ lotCount: 2 }] });
  });

  test('a period is matched again: what is told later of it comes in with the next sweep', async () => {
    story.setTime('12:00');
    const period = { from: at('06:30'), to: at('07:30') };
    const start = { kind: 'supplier-period', supplierId: story.kitchen.world.supplierId, ...period, walk: 'none' };
    const second = await story.open([start]);
    expect(second).toMatchObject({ lotCount: 2, starts: [{ lotCount: 2 }] });
    story.setTime('12:30');
    const { world } = story.kitchen;
    const line = {
      itemId: world.beefShinId,
      placeId: world.ckChillerId,
      quantity: 100,
      unit: 'g',
      supplierLotCode: 'BF-300',
    };
    const receipt = { siteId: world.ckId, supplierId: world.supplierId, occurredAt: at('07:15'), lines: [line] };
    const told = await story.kitchen.post('kitchen', '/v1/goods-receipts', receipt);
    story.setTime('12:31');
    await reviseCases(service).run({ groupId: service.groupId });
    const after = (await story.recall(second.recallId, '/revisions')).revisions;
    expect(after).toMatchObject([
      { revision: 1, addedLotCount: 2 },
      { revision: 2, at: at('12:31'), factId: told.goodsReceiptId, operation: 'createGoodsReceipt', addedLotCount: 1 },
    ]);
    expect(lotIds(after[1].addedLots)).toEqual([told.lines[0].lotId]);
  });

  test('starting points that are added are a revision of their own', async () => {
    story.setTime('13:00');
    const lone = await story.deliver('13:00', 'BF-400', 1_000);
    story.setTime('13:10');
    const before = (await revisions()).length;
    const more = { starts: [{ kind: 'lot', lotId: lone }], note: 'The supplier names a second code' };
    const answer = await story.kitchen.post('quality', `/v1/recalls/${recall.recallId}/starts`, more);
    expect(answer).toMatchObject({
      revision: before + 1,
      starts: [{ position: 1 }, { position: 2, kind: 'lot', lotCount: 1 }],
    });
    expect((await revisions()).at(-1)).toMatchObject({
      operation: 'addRecallStarts',
      addedLotCount: 1,
      at: at('13:10'),
    });
  });
});
