/** One call of the receiver: the food has moved, the lender is not asked and not shown. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';
import { accepted, addSite, fresh, kindsOf, packsOf, plan, receive, whereIs, type Site } from './sites.ts';

const AT = '2026-11-25T12:00:00.000Z';

describe('borrowing', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  let lender: Site;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
    lender = await addSite(kitchen, 'W7');
  });
  afterAll(() => service.stop());

  const ask = (lines: object[], more: object = {}) => ({
    ...fresh({ fromSiteId: lender.siteId, toSiteId: world.w3Id, occurredAt: AT, reason: 'Late admissions', lines }),
    ...more,
  });
  const borrow = (body: object) => service.as('receiver', world.w3Id).post('/v1/borrowings', body);
  const of = (lotId: string, quantity: number, more: object = {}) => ({ lotId, quantity, unit: 'piece', ...more });
  const openOf = async (role: string, siteId: string | null, lotId: string): Promise<Json[]> =>
    (await service.as(role, siteId).get(`/v1/findings?lotId=${lotId}&limit=500`)).body.items;

  /** packs of which the lender has twelve in its chiller and three at its door */
  async function lent(): Promise<string> {
    const { lotId } = await packsOf(kitchen, 60);
    const dispatchId = await plan(kitchen, lender.siteId, lotId, 15);
    await kitchen.post('driver', `/v1/dispatches/${dispatchId}/departure`, {});
    await receive(kitchen, dispatchId, AT, [accepted(lotId, 12, { placeId: lender.chillerId }), accepted(lotId, 3)]);
    return lotId;
  }

  test('takes it from where most of it is, and answers whether it may be used', async () => {
    const lotId = await lent();
    const body = ask([of(lotId, 5)], { toPlaceId: world.w3ChillerId });
    const answer = await borrow(body);
    expect(answer.status).toBe(201);
    expect(answer.body).toMatchObject({
      findings: [],
      lines: [{ lotId, quantity: 5, toPlaceId: world.w3ChillerId, mayUse: true, whyNot: null }],
    });
    expect(answer.text).not.toContain(lender.chillerId);
    expect((await borrow(body)).body).toEqual(answer.body);
    expect(await whereIs(kitchen, lotId)).toEqual({
      [world.ckChillerId]: 45,
      [lender.chillerId]: 7,
      [lender.receivingId]: 3,
      [world.w3ChillerId]: 5,
    });
    const dispatch = await service.as('receiver', world.w3Id).get(`/v1/dispatches/${answer.body.dispatchId}`);
    expect(dispatch.body).toMatchObject({
      borrowed: true,
      state: 'closed',
      purpose: 'delivery',
      lines: [{ placeId: null, quantity: 5 }],
      lots: [{ sent: 5, accepted: 5, missing: 0 }],
    });
    expect(dispatch.text).not.toContain(lender.chillerId);
  });

  test('more than the lender has: it is short there, and the borrower is not told', async () => {
    const lotId = await lent();
    const answer = await borrow(ask([of(lotId, 14, { fromPlaceId: lender.chillerId })]));
    expect(answer.body.findings).toEqual([]);
    expect(await whereIs(kitchen, lotId)).toMatchObject({ [lender.chillerId]: -2, [world.w3ReceivingId]: 14 });
    // the three at its door are where nobody put them by hand
    expect(kindsOf(await openOf('receiver', lender.siteId, lotId))).toEqual(['place-presumed', 'shortfall']);
    expect(kindsOf(await openOf('receiver', world.w3Id, lotId))).toEqual(['place-presumed']);
    // a lot that the lender never had
    const { lotId: other } = await packsOf(kitchen, 20);
    expect((await borrow(ask([of(other, 2)]))).status).toBe(201);
    expect(await whereIs(kitchen, other)).toMatchObject({ [lender.receivingId]: -2, [world.w3ReceivingId]: 2 });
  });

  test('what should not have left is told and held where it is now', async () => {
    const { lotId } = await packsOf(kitchen, 30, { released: false });
    const fromKitchen = ask([of(lotId, 3)], { fromSiteId: world.ckId });
    const unreleased = await borrow(fromKitchen);
    expect(unreleased.body.lines).toMatchObject([{ mayUse: false }]);
    expect(unreleased.body.lines[0].whyNot).toContain('until it is released');
    expect(kindsOf(unreleased.body.findings)).toEqual(['left-while-held']);

    const lot = await lent();
    await kitchen.post('quality', '/v1/holds', {
      kind: 'quality',
      lotId: lot,
      accountId: lender.chillerId,
      note: 'Chiller was off',
    });
    const held = await borrow(ask([of(lot, 2)]));
    expect(held.body.lines).toMatchObject([{ mayUse: false }]);
    expect(kindsOf(held.body.findings)).toEqual(['left-while-held']);
    const holds = (await kitchen.get('quality', `/v1/holds?lotId=${lot}&open=true`)).items;
    expect(holds.map((one: Json) => one.siteId ?? one.accountId).sort()).toEqual([world.w3Id, lender.chillerId].sort());
  });

  test('is told by the site that has it, of another site, in the unit of the lot', async () => {
    const lotId = await lent();
    const line = of(lotId, 1);
    const tries: [object, number][] = [
      [ask([line], { toSiteId: lender.siteId, fromSiteId: world.w3Id }), 404],
      [ask([line], { fromSiteId: randomUUID() }), 404],
      [ask([line], { fromSiteId: world.w3Id }), 422],
      [ask([line], { toPlaceId: lender.chillerId }), 404],
      [ask([of(lotId, 1, { fromPlaceId: world.w3ChillerId })]), 404],
      [ask([of(randomUUID(), 1)]), 404],
      [ask([{ ...line, unit: 'g' }]), 422],
      [ask([of(lotId, 1, { serials: ['1'] })]), 422],
    ];
    for (const [body, status] of tries) expect((await borrow(body)).status).toBe(status);
    expect((await service.as('driver', world.w3Id).post('/v1/borrowings', ask([line]))).status).toBe(403);
  });
});
