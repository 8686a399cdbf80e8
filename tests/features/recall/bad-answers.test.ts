/** Wrong answers to a case, and a case closed too early: each is refused whole, and says why. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { bodyOf } from '../../support/replay/recall.ts';
import { startService, type Answer, type TestService } from '../../support/service.ts';
import { warnedFood, type Warned } from '../../support/warned-food.ts';
import { buildWorld, type World } from '../../support/world.ts';

describe('in an open case', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  let food: Warned;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
    food = await warnedFood(kitchen);
  });
  afterAll(() => service.stop());

  const said = (answer: Answer) => [answer.status, answer.body.code];
  let recallId: string;
  let path: string;
  beforeAll(async () => {
    const starts = [{ kind: 'supplier-lot', supplierLotCode: 'BRK-7741' }];
    const body = { id: randomUUID(), title: 'A call', drill: true, starts };
    const recall = bodyOf(await service.as('operations').post('/v1/recalls', body), 201);
    recallId = recall.recallId as string;
    path = `/v1/recalls/${recallId}`;
  });
  const respond = (lines: readonly object[], siteId: string, ofSiteId: string = siteId) =>
    service
      .as('receiver', ofSiteId)
      .post(`${path}/responses`, { id: randomUUID(), siteId, signedBy: 'Wren Ashby', lines });
  const found = (quantity: number, more: object = {}) => ({
    lotId: food.packs,
    outcome: 'found',
    quantity,
    unit: 'piece',
    ...more,
  });
  const close = (role = 'quality') => service.as(role).post(`${path}/closing`, { id: randomUUID(), note: 'Done' });

  test("another site's people do not answer for a site; it is as if the case were not there", async () => {
    expect(said(await respond([found(4)], world.w3Id, world.ckId))).toEqual([404, 'not-found']);
    const account = bodyOf(await service.as('operations').get(`${path}/account`), 200);
    const ward = (account.sites as Json[]).find((one) => one.siteId === world.w3Id);
    expect([ward.answered, ward.lines.map((line: Json) => line.open)]).toEqual([false, [4]]);
  });

  test('nor do they read or acknowledge its notice', async () => {
    const notices = bodyOf(await service.as('operations').get(`/v1/recall-notices?recallId=${recallId}`), 200);
    const { noticeId } = (notices.items as Json[]).find((one) => one.siteId === world.w3Id);
    const stranger = service.as('receiver', world.ckId);
    expect(said(await stranger.get(`/v1/recall-notices/${noticeId}`))).toEqual([404, 'not-found']);
    const acknowledge = (siteId: string) =>
      service.as('receiver', siteId).post(`/v1/recall-notices/${noticeId}/acknowledgement`, {
        id: randomUUID(),
        name: 'Wren Ashby',
      });
    expect(said(await acknowledge(world.ckId))).toEqual([404, 'not-found']);
    expect((await acknowledge(world.w3Id)).status).toBe(201);
    expect(said(await acknowledge(world.w3Id))).toEqual([409, 'wrong-state']);
  });

  test.each<[string, () => object, number]>([
    ['a lot that is not in the scope', () => found(1, { lotId: randomUUID() }), 422],
    ['another unit', () => found(1, { unit: 'g' }), 422],
    ['destroyed with no witness', () => found(1, { outcome: 'destroyed', placeId: world.w3ChillerId }), 422],
    ['an outcome that there is not', () => found(1, { outcome: 'eaten' }), 400],
    ['less than nothing', () => found(-1), 400],
  ])('an answer with %s is refused whole', async (_what, line, status) => {
    const answer = await respond([found(4), line()], world.w3Id);
    expect([status, 404]).toContain(answer.status);
    const account = bodyOf(await service.as('operations').get(`${path}/account`), 200);
    const ward = (account.sites as Json[]).find((one) => one.siteId === world.w3Id);
    expect(ward.lines.map((one: Json) => one.open)).toEqual([4]);
  });

  test('closing with open quantities: refused, and the open lines are named', async () => {
    const answer = await close();
    expect(said(answer)).toEqual([409, 'quantities-open']);
    // 1 kg of shin, 5 kg of stew and 6 packs in the kitchen, 4 packs at the ward; by hand from what was told above
    const open = (answer.body.openLines as Json[]).map((line) => [line.lotId === food.packs, line.siteId, line.open]);
    expect(open).toHaveLength(4);
    expect(open).toContainEqual([true, world.w3Id, 4]);
    expect(open).toContainEqual([true, world.ckId, 6]);
    expect(open.map((line) => line[2]).sort()).toEqual([1_000, 4, 5_000, 6]);
    expect(bodyOf(await service.as('operations').get(path), 200).state).toBe('open');
  });

  test('only a quality lead closes', async () => {
    expect(said(await close('operations'))).toEqual([403, 'forbidden']);
  });

  test('what is closed takes nothing more until it is reopened', async () => {
    const account = bodyOf(await service.as('operations').get(`${path}/account`), 200);
    for (const site of account.sites as Json[]) {
      const lines = (site.lines as Json[])
        .filter((line) => line.open > 0)
        .map(({ lotId, open: quantity, unit }) => ({ lotId, outcome: 'not-found', quantity, unit }));
      if (lines.length > 0) bodyOf(await respond(lines, site.siteId), 201);
    }
    const office = service.as('operations');
    const quality = service.as('quality');
    const reopen = () => quality.post(`${path}/reopening`, { id: randomUUID(), note: 'A ward called' });
    expect(said(await reopen())).toEqual([409, 'wrong-state']);
    expect((await close()).status).toBe(201);
    expect(said(await close())).toEqual([409, 'wrong-state']);
    const more = { id: randomUUID(), starts: [{ kind: 'lot', lotId: food.shin }], note: 'One more' };
    expect(said(await office.post(`${path}/starts`, more))).toEqual([409, 'wrong-state']);
    expect(said(await respond([found(4)], world.w3Id))).toEqual([409, 'wrong-state']);
    // Nothing of it was found: all is answered, nothing but what the ledger itself explains is accounted for.
    const closed = bodyOf(await office.get(`${path}/account`), 200);
    expect(closed.figures.answeredShare.percent).toBe(100);
    expect(closed.figures.accountedShare.percent).toBe(0);
    expect((await reopen()).status).toBe(201);
    expect((await office.post(`${path}/starts`, { ...more, id: randomUUID() })).status).toBe(201);
  });

  test('a case that there is not, or that reaches none of your sites', async () => {
    const nowhere = randomUUID();
    for (const tail of ['', '/lots', '/revisions', '/exceptions', '/account', '/chasing', '/timeline']) {
      const answer = await service.as('operations').get(`/v1/recalls/${nowhere}${tail}`);
      expect([tail, ...said(answer)]).toEqual([tail, 404, 'not-found']);
    }
    const site = { code: 'W9', name: 'Ward 9', kind: 'satellite', timeZone: 'Europe/London', jurisdiction: 'GB-ENG' };
    const { siteId } = await kitchen.post('operations', '/v1/sites', site);
    expect(said(await service.as('quality', siteId).get(path))).toEqual([404, 'not-found']);
    expect((await service.as('quality', world.w3Id).get(path)).status).toBe(200);
  });
});
