/**
 * A case counted by hand. 10 kg of shin came; 9 kg of it became 8 kg of stew, of which 3 kg became ten packs of 300 g; four packs are at the ward.
 * To account for: 1 kg of shin, 5 kg of stew, ten packs (3 kg): 9 kg. What went on is counted where it went, once.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { bodyOf } from '../../support/replay/recall.ts';
import { startService, type TestService } from '../../support/service.ts';
import { warnedFood, type Warned } from '../../support/warned-food.ts';
import { buildWorld, type World } from '../../support/world.ts';

describe('a case counted by hand', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  let food: Warned;
  let stew: string;
  let path: string;
  let destroyed: string;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
    food = await warnedFood(kitchen);
    service.clock.set(service.clock.nowMs() + 60_000);
    const starts = [{ kind: 'supplier-lot', supplierLotCode: 'BRK-7741' }];
    const recall = await kitchen.post('operations', '/v1/recalls', { title: 'Glass in the shin', starts });
    path = `/v1/recalls/${recall.recallId}`;
    const lots = bodyOf(await service.as('operations').get(`${path}/lots`), 200).items as Json[];
    stew = lots.find((lot) => lot.lotId !== food.shin && lot.lotId !== food.packs)?.lotId as string;
  });
  // Each step takes a minute.
  beforeEach(() => service.clock.set(service.clock.nowMs() + 60_000));
  afterAll(() => service.stop());

  const account = (): Promise<Json> => kitchen.get('operations', `${path}/account`);
  const standing = async () => {
    const { figures, openLines } = await account();
    const shares = [figures.answeredShare.percent, figures.accountedShare.percent];
    return { toAccountForG: Number(figures.toAccountForG), shares, openLines };
  };
  const line = (lotId: string, outcome: string, quantity: number, more: object = {}) => ({
    lotId,
    outcome,
    quantity,
    unit: lotId === food.packs ? 'piece' : 'g',
    ...more,
  });
  const answer = (siteId: string, lines: readonly object[], id = randomUUID()) =>
    service.as('receiver', siteId).post(`${path}/responses`, { id, siteId, signedBy: 'Wren Ashby', lines });
  const whereAre = async (lotId: string): Promise<Record<string, number>> => {
    const trace = await kitchen.get('operations', `/v1/lots/${lotId}/trace`);
    const lot = (trace.lots as Json[]).find((one) => one.lotId === lotId);
    return Object.fromEntries(
      (lot?.whereNow as Json[])
        .filter((one) => one.quantity !== 0)
        .map((one) => [one.placeId ?? `${one.kind} ${one.siteId === world.w3Id ? 'w3' : 'ck'}`, one.quantity]),
    );
  };

  test('at the opening nothing is answered, and four lines are open', async () => {
    expect(await standing()).toEqual({ toAccountForG: 9_000, shares: [0, 0], openLines: 4 });
  });

  test('the ward answers: what was destroyed, set aside and served is in the books; what nobody found is answered only', async () => {
    const at = { placeId: world.w3ChillerId };
    const lines = [
      line(food.packs, 'destroyed', 1, { ...at, witness: 'Nora Pell' }),
      line(food.packs, 'quarantined', 1, at),
      line(food.packs, 'already-served', 1, at),
      line(food.packs, 'not-found', 1),
    ];
    const id = randomUUID();
    const first = await answer(world.w3Id, lines, id);
    expect(first.status, first.text).toBe(201);
    destroyed = (first.body.lines as Json[]).find((one) => one.outcome === 'destroyed').entryId;
    const books = {
      [world.ckChillerId]: 6,
      [world.w3ChillerId]: 1,
      [world.w3QuarantineId]: 1,
      'waste w3': 1,
      'served w3': 1,
    };
    expect(await whereAre(food.packs)).toEqual(books);
    // 4 packs are 1.2 of 9 kg; 3 of them are accounted for: 13.33 and 10 in a hundred
    expect(await standing()).toEqual({ toAccountForG: 9_000, shares: [13.3, 10], openLines: 3 });
    // Sent again, it is the same answer, and nothing is thrown away twice.
    const again = await answer(world.w3Id, lines, id);
    expect([again.status, again.body.responseId]).toEqual([201, first.body.responseId]);
    expect(await whereAre(food.packs)).toEqual(books);
  });

  test('the kitchen answers all of the rest: all is answered, and what nobody found is still missing', async () => {
    const at = { placeId: world.ckChillerId };
    const lines = [
      line(food.packs, 'found', 5),
      line(food.packs, 'returned', 1),
      line(stew, 'destroyed', 5_000, { ...at, witness: 'Nora Pell' }),
      line(food.shin, 'quarantined', 400, at),
      line(food.shin, 'not-found', 600),
    ];
    const first = await answer(world.ckId, lines);
    expect(first.status, first.text).toBe(201);
    // 300 g at the ward and 600 g here: 8.1 of 9 kg
    expect(await standing()).toEqual({ toAccountForG: 9_000, shares: [100, 90], openLines: 0 });
    expect(await whereAre(food.shin)).toEqual({
      [world.ckChillerId]: 600,
      [world.ckQuarantineId]: 400,
      'consumed ck': 9_000,
    });
  });

  test('the ward finds its pack after all: the newer answer stands for what was only said, what was done stays', async () => {
    const second = await answer(world.w3Id, [line(food.packs, 'found', 1)]);
    expect(second.status, second.text).toBe(201);
    // 8.4 of 9 kg
    expect(await standing()).toEqual({ toAccountForG: 9_000, shares: [100, 93.3], openLines: 0 });
  });

  test('what was destroyed was another pack: undone in the books, the line is open again, and the case cannot be closed', async () => {
    await kitchen.post('quality', '/v1/reversals', { entryId: destroyed, reason: 'It was of another lot' });
    const { openLines, shares } = await standing();
    // 8.7 and 8.1 of 9 kg
    expect([openLines, shares]).toEqual([1, [96.6, 90]]);
    const early = await service.as('quality').post(`${path}/closing`, { id: randomUUID(), note: 'Done' });
    expect([early.status, early.body.code]).toEqual([409, 'quantities-open']);
    expect(early.body.openLines).toMatchObject([{ lotId: food.packs, siteId: world.w3Id, open: 1 }]);
    const third = await answer(world.w3Id, [line(food.packs, 'found', 2)]);
    expect(third.status, third.text).toBe(201);
    expect(await standing()).toEqual({ toAccountForG: 9_000, shares: [100, 93.3], openLines: 0 });
    await kitchen.post('quality', `${path}/closing`, { note: 'All is typed' });
  });

  test('the timeline tells it in order, with who did it', async () => {
    const { events } = await kitchen.get('operations', `${path}/timeline`);
    const kinds = (events as Json[]).map((one) => one.kind as string);
    expect(kinds[0]).toBe('opened');
    expect(kinds.filter((kind) => kind === 'response')).toHaveLength(4);
    expect(kinds.at(-1)).toBe('closed');
    const times = (events as Json[]).map((one) => Date.parse(one.at));
    expect(times).toEqual([...times].sort((a, b) => a - b));
  });
});
