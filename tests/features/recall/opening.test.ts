/** Opening a case: everything it reaches is on hold at once, on the road as well; a drill freezes nothing; bad input changes nothing. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Json } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { accepted, plan, receive } from '../distribution/sites.ts';
import { at, beginRecallStory, type RecallStory } from './story.ts';

describe('opening a case', () => {
  let service: TestService;
  let story: RecallStory;
  let shin: string;
  let food: { batchId: string; loadId: string; packsId: string };
  let onTheRoad: string;
  let recall: Json;

  beforeAll(async () => {
    service = await startService({ nowMs: Date.parse(at('06:00')) });
    story = await beginRecallStory(service);
    shin = await story.deliver('07:00', 'BF-100');
    food = await story.cook('08:00', shin, 20);
    onTheRoad = await story.send('09:00', food.packsId, 8);
    story.setTime('10:00');
  });
  afterAll(() => service.stop());

  const use = (lotId: string, placeId: string, quantity: number, unit: string, time: string) =>
    story.kitchen.post('receiver', '/v1/uses', { lotId, placeId, quantity, unit, occurredAt: at(time) });

  test('bad input leaves nothing behind', async () => {
    const start = { kind: 'lot', lotId: shin };
    const wrong = { kind: 'item-period', itemId: story.kitchen.world.beefShinId, from: at('09:00'), to: at('08:00') };
    const nothing = { kind: 'supplier-lot', supplierLotCode: 'NEVER-CAME' };
    for (const starts of [
      [start, wrong],
      [start, nothing],
    ]) {
      const answer = await service.as('quality').post('/v1/recalls', { id: randomUUID(), title: 'x', starts });
      expect(answer.status).toBe(422);
    }
    const one = service.as('quality', story.kitchen.world.ckId);
    const refused = await one.post('/v1/recalls', { id: randomUUID(), title: 'x', starts: [start] });
    expect([refused.status, refused.body.code]).toEqual([422, 'rule-broken']);
    expect((await story.kitchen.get('quality', '/v1/recalls')).items).toEqual([]);
    expect((await story.kitchen.get('quality', '/v1/holds?open=true')).items).toEqual([]);
    expect((await story.kitchen.get('quality', `/v1/lots/${shin}`)).holds).toEqual([]);
  });

  test('a drill walks and counts, and freezes nothing', async () => {
    const drill = await story.open([{ kind: 'lot', lotId: shin }], { drill: true, title: 'Practice' });
    expect(drill).toMatchObject({ code: 'DR-0001', drill: true, state: 'open', lotCount: 3, revision: 1 });
    const taken = await use(food.packsId, story.kitchen.world.ckChillerId, 1, 'piece', '10:00');
    expect(taken).toMatchObject({ mayUse: true, findings: [] });
    await story.kitchen.stew(shin, 1_000, 800);
    expect((await story.recall(drill.recallId, '/exceptions')).items).toEqual([]);
    // what was cooked of it meanwhile is in the drill's scope all the same
    expect((await story.recall(drill.recallId)).lotCount).toBe(4);
  });

  test('two who open the same case at once open one', async () => {
    story.setTime('10:30');
    const starts = [{ kind: 'supplier-lot', supplier: 'BROOK', supplierLotCode: 'BF-100' }];
    const statement = { class: 'II', reason: 'foreign-body', leadName: 'Nora Pell' };
    const send = (note: string) =>
      service.as('quality').post('/v1/recalls', {
        id: randomUUID(),
        title: 'Brook Farm called',
        starts: starts.map((start) => ({ ...start, note })),
        statement,
      });
    const answers = await Promise.all([send('told by phone'), send('told by mail')]);
    const opened = answers.find((answer) => answer.status === 201);
    const refused = answers.find((answer) => answer.status === 409);
    recall = opened?.body;
    expect(refused?.body).toMatchObject({ code: 'recall-open-already', recallId: recall.recallId });
    // shin, two loads and the packs; the ward has none yet, but some is on the way
    expect(recall).toMatchObject({ code: 'RC-0001', drill: false, state: 'open', lotCount: 4, revision: 1, statement });
    expect(recall.onTheRoad).toMatchObject([{ dispatchId: onTheRoad, quantity: 8 }]);
    expect(recall.sites.map((site: Json) => [site.siteName, site.lotCount])).toEqual([
      ['Central kitchen', 4],
      ['Ward 3 pantry', 1],
    ]);
    const besides = await story.open(starts, { besides: true });
    expect(besides.code).toBe('RC-0002');
  });

  test('every lot of it is on hold: no batch, no departure; the receipt of what was on the road arrives into the hold', async () => {
    const { kitchen } = story;
    const { world } = kitchen;
    for (const lotId of [shin, food.loadId, food.packsId]) {
      const lot = await kitchen.get('quality', `/v1/lots/${lotId}`);
      expect(lot.holds.filter((hold: Json) => hold.kind === 'recall')).toHaveLength(2);
    }
    const batch = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: world.recipeId });
    const input = { lotId: shin, placeId: world.ckChillerId, quantity: 1_000, unit: 'g' };
    const cooked = await kitchen.post('kitchen', `/v1/batches/${batch.batchId}/inputs`, input, 409);
    expect(cooked.code).toBe('on-hold');
    const van = await plan(kitchen, world.w3Id, food.packsId, 2);
    const left = await kitchen.post('driver', `/v1/dispatches/${van}/departure`, { departedAt: at('10:30') }, 409);
    expect(left.code).toBe('on-hold');
    const line = accepted(food.packsId, 8, { placeId: world.w3ChillerId });
    await receive(kitchen, onTheRoad, at('10:30'), [line]);
    const served = await use(food.packsId, world.w3ChillerId, 1, 'piece', '10:30');
    expect(served.mayUse).toBe(false);
    expect(served.whyNot).toMatch(/^Recalled: do not use, serve or taste it\./);
    const exceptions = (await story.recall(recall.recallId, '/exceptions')).items;
    expect(exceptions).toMatchObject([
      { kind: 'use', lotId: food.packsId, siteId: world.w3Id, quantity: 1, unit: 'piece', occurredAt: at('10:30') },
    ]);
  });

  test('whoever acts at a site sees the cases that reach it, and no others', async () => {
    const { kitchen } = story;
    const own = service.as('quality', kitchen.world.w3Id);
    expect((await own.get(`/v1/recalls/${recall.recallId}`)).status).toBe(200);
    story.setTime('11:00');
    const other = await story.deliver('11:00', 'BF-900', 1_000);
    const elsewhere = await story.open([{ kind: 'lot', lotId: other }]);
    expect((await own.get(`/v1/recalls/${elsewhere.recallId}`)).status).toBe(404);
    const codes = (await own.get('/v1/recalls?drill=false')).body.items.map((one: Json) => one.code);
    expect(codes).not.toContain(elsewhere.code);
    expect(codes).toContain('RC-0001');
  });

  test('a drill on a lot drawn by chance can be drawn again', async () => {
    const id = randomUUID();
    const drill = await story.kitchen.post('quality', '/v1/recall-drills', { id, days: 1 });
    expect(drill).toMatchObject({ drill: true, state: 'open' });
    expect(drill.drawnWith).toContain(id);
    const again = await service.as('quality').post('/v1/recall-drills', { id, days: 1 });
    expect(again.body).toEqual(drill);
  });
});
