/** A departure that is recorded afterwards: it always posts, in any order, and says what should not have left. */
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';
import { accepted, fresh, kindsOf, openFindings, packsOf, plan, receive, whereIs } from './sites.ts';

const LEFT_AT = '2026-11-25T12:20:00.000Z';

describe('a departure recorded afterwards', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
  });
  beforeEach(() => service.clock.set(Date.parse('2026-11-25T12:00:00Z')));
  afterAll(() => service.stop());

  const later = () => service.clock.set(Date.parse('2026-11-25T14:00:00Z'));
  const left = (dispatchId: string, more: object = {}) =>
    kitchen.post('driver', `/v1/dispatches/${dispatchId}/recorded-departure`, { departedAt: LEFT_AT, ...more });
  const openHolds = async (lotId: string): Promise<Json[]> =>
    (await kitchen.get('quality', `/v1/holds?lotId=${lotId}&open=true`)).items;

  test('posts as a departure does when nothing stands against it, and once only', async () => {
    const { lotId } = await packsOf(kitchen, 60);
    const dispatchId = await plan(kitchen, world.w3Id, lotId, 40);
    later();
    const body = fresh({ departedAt: LEFT_AT, note: 'Paper sheet' });
    const path = `/v1/dispatches/${dispatchId}/recorded-departure`;
    const first = await service.as('driver').post(path, body);
    expect(first.status).toBe(201);
    expect(first.body).toMatchObject({ state: 'departed', departedAt: LEFT_AT, findings: [] });
    expect((await service.as('driver').post(path, body)).body).toEqual(first.body);
    const again = await service.as('driver').post(path, fresh({ departedAt: LEFT_AT }));
    expect([again.status, again.body.code]).toEqual([409, 'wrong-state']);
    expect(await whereIs(kitchen, lotId)).toEqual({ [world.ckChillerId]: 20, transit: 40 });
    expect(await openHolds(lotId)).toEqual([]);
  });

  test('after the receipt ends as it would have before it', async () => {
    const ends: Json[] = [];
    for (const order of ['departure first', 'receipt first']) {
      service.clock.set(Date.parse('2026-11-25T12:00:00Z'));
      const { lotId } = await packsOf(kitchen, 60);
      const dispatchId = await plan(kitchen, world.w3Id, lotId, 40);
      later();
      const arrive = () => receive(kitchen, dispatchId, '2026-11-25T13:00:00Z', [accepted(lotId, 37)]);
      if (order === 'departure first') await left(dispatchId);
      await arrive();
      if (order === 'receipt first') {
        expect(await whereIs(kitchen, lotId)).toEqual({
          [world.ckChillerId]: 60,
          [world.w3ReceivingId]: 37,
          transit: -37,
        });
        const asked = await service.as('driver').post(`/v1/dispatches/${dispatchId}/departure`, fresh({}));
        expect([asked.status, asked.body.code]).toEqual([409, 'wrong-state']);
        expect(kindsOf((await left(dispatchId)).findings)).toEqual(['missing-in-transit']);
      }
      const { state, departedAt, lots } = await kitchen.get('driver', `/v1/dispatches/${dispatchId}`);
      const missing = (await openFindings(kitchen, 'missing-in-transit')).filter((one) => one.lotId === lotId);
      const short = (await openFindings(kitchen, 'shortfall')).filter((one) => one.lotId === lotId);
      const { lotId: _lot, lotCode: _code, ...found } = lots[0];
      ends.push({
        where: await whereIs(kitchen, lotId),
        state,
        departedAt,
        found,
        missing: missing.map((one) => one.quantity),
        short: short.length,
      });
    }
    expect(ends[0]).toMatchObject({
      state: 'closed',
      departedAt: LEFT_AT,
      found: { sent: 40, accepted: 37, refused: 0, inTransit: 3, missing: 3 },
      missing: [3],
      short: 0,
    });
    expect(ends[1]).toEqual(ends[0]);
  });

  test('takes what is there and finds the rest short', async () => {
    const { lotId } = await packsOf(kitchen, 60);
    const dispatchId = await plan(kitchen, world.w3Id, lotId, 75);
    later();
    const answer = await left(dispatchId);
    expect(answer.findings).toMatchObject([{ kind: 'shortfall', quantity: 15 }]);
    expect((await openFindings(kitchen, 'shortfall')).map((one) => one.quantity)).toContain(15);
    expect(await whereIs(kitchen, lotId)).toEqual({ [world.ckChillerId]: -15, transit: 75 });
  });

  test('unreleased food that left is a finding; the hold itself tells the receiver, so there is no other', async () => {
    const { lotId, batchId } = await packsOf(kitchen, 60, { released: false });
    const dispatchId = await plan(kitchen, world.w3Id, lotId, 10);
    later();
    const answer = await left(dispatchId);
    expect(kindsOf(answer.findings)).toEqual(['left-while-held']);
    expect(answer.findings[0].detail).toMatchObject({ dispatchId, holds: [{ kind: 'awaiting-release' }] });
    expect((await openHolds(lotId)).map((hold) => hold.kind)).toEqual(['awaiting-release']);
    await kitchen.release(batchId);
    expect(await openHolds(lotId)).toEqual([]);
  });

  test('a hold of the place that it left, a past date and quarantine follow it to where it went', async () => {
    const { lotId } = await packsOf(kitchen, 200);
    const hold = { kind: 'quality', lotId, accountId: world.ckChillerId, note: 'Lid open all night' };
    await kitchen.post('quality', '/v1/holds', hold);
    const dispatchId = await plan(kitchen, world.w3Id, lotId, 10);
    later();
    expect(kindsOf((await left(dispatchId)).findings)).toEqual(['left-while-held']);
    const placed = (await openHolds(lotId)).filter((one) => one.siteId === world.w3Id);
    expect(placed).toMatchObject([{ kind: 'quality', accountId: null, propagates: false }]);
    expect(placed[0].note).toContain('on hold');

    const moved = {
      lotId,
      fromPlaceId: world.ckChillerId,
      toPlaceId: world.ckQuarantineId,
      quantity: 5,
      unit: 'piece',
    };
    await kitchen.post('kitchen', '/v1/moves', moved);
    const fromQuarantine = await plan(kitchen, world.w3Id, lotId, 5, { placeId: world.ckQuarantineId });
    const late = await left(fromQuarantine, { departedAt: '2026-11-25T13:00:00Z' });
    expect(kindsOf(late.findings)).toEqual(['left-from-quarantine']);

    const old = await packsOf(kitchen, 20);
    const tired = await plan(kitchen, world.w3Id, old.lotId, 5);
    service.clock.set(Date.parse('2026-12-24T12:00:00Z'));
    const past = await left(tired, { departedAt: '2026-12-20T08:00:00Z' });
    expect(kindsOf(past.findings)).toEqual(['left-past-use-by']);
    expect(await openHolds(old.lotId)).toMatchObject([{ kind: 'quality', siteId: world.w3Id }]);
  });

  test('undone, nothing of it left; recorded anew, all of it did', async () => {
    const { lotId } = await packsOf(kitchen, 60, { released: false });
    const dispatchId = await plan(kitchen, world.w3Id, lotId, 10);
    later();
    await receive(kitchen, dispatchId, '2026-11-25T13:00:00Z', [accepted(lotId, 8)]);
    const body = fresh({ departedAt: LEFT_AT });
    await kitchen.post('driver', `/v1/dispatches/${dispatchId}/recorded-departure`, body);
    const of = async (kind: string) => (await openFindings(kitchen, kind)).filter((one) => one.lotId === lotId).length;
    expect([await of('left-while-held'), await of('missing-in-transit')]).toEqual([1, 1]);
    await kitchen.post('operations', '/v1/reversals', { entryId: (body as Json).id, reason: 'Another van' });
    expect([await of('left-while-held'), await of('missing-in-transit')]).toEqual([0, 0]);
    const again = await left(dispatchId);
    expect(again).toMatchObject({ state: 'closed', lots: [{ sent: 10, missing: 2 }] });
    expect([await of('left-while-held'), await of('missing-in-transit')]).toEqual([1, 1]);
  });

  test('what goes to be destroyed may be held: it leaves, by request or recorded afterwards', async () => {
    const { lotId } = await packsOf(kitchen, 60);
    await kitchen.post('quality', '/v1/holds', { kind: 'safety', lotId, note: 'Glass' });
    const delivery = await plan(kitchen, world.w3Id, lotId, 5);
    const refused = await service.as('driver').post(`/v1/dispatches/${delivery}/departure`, fresh({}));
    expect([refused.status, refused.body.code]).toEqual([409, 'on-hold']);
    for (const purpose of ['return', 'destruction']) {
      const asked = await plan(kitchen, world.w3Id, lotId, 5, { purpose });
      await kitchen.post('driver', `/v1/dispatches/${asked}/departure`, {});
      const told = await plan(kitchen, world.w3Id, lotId, 5, { purpose });
      later();
      expect((await left(told)).findings).toEqual([]);
      service.clock.set(Date.parse('2026-11-25T12:00:00Z'));
      // and what nobody puts elsewhere is set aside where it comes to
      const { lots } = await receive(kitchen, asked, '2026-11-25T11:59:00Z', [accepted(lotId, 5)]);
      expect(lots).toMatchObject([{ accepted: 0, setAside: 5, missing: 0 }]);
    }
  });

  test('somebody else’s dispatch is not found', async () => {
    const { lotId } = await packsOf(kitchen, 20);
    const dispatchId = await plan(kitchen, world.w3Id, lotId, 5);
    const body = fresh({ departedAt: LEFT_AT });
    const answer = await service.as('driver', world.w3Id).post(`/v1/dispatches/${dispatchId}/recorded-departure`, body);
    expect(answer.status).toBe(404);
  });
});
