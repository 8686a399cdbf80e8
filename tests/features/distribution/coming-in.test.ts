/** Where food is put that comes in, and what comes back from the ward. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { asAdmin } from '../../support/test-server.ts';
import { buildWorld, type World } from '../../support/world.ts';
import { accepted, kindsOf, openFindings, packsOf, plan, receive, whereIs } from './sites.ts';

const AT = '2026-11-25T12:00:00Z';

describe('food that comes in', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
  });
  afterAll(() => service.stop());

  async function sent(lotId: string, quantity: number): Promise<string> {
    const dispatchId = await plan(kitchen, world.w3Id, lotId, quantity);
    await kitchen.post('driver', `/v1/dispatches/${dispatchId}/departure`, {});
    return dispatchId;
  }
  const openHolds = async (lotId: string): Promise<Json[]> =>
    (await kitchen.get('quality', `/v1/holds?lotId=${lotId}&open=true`)).items;
  const comeBack = (lotId: string, quantity: number, more: object = {}) =>
    kitchen.post('receiver', '/v1/returns', {
      direction: 'from-service',
      lotId,
      placeId: world.w3ChillerId,
      quantity,
      unit: 'piece',
      occurredAt: AT,
      reason: 'Trolley came back',
      ...more,
    });
  const serve = (lotId: string, quantity: number) =>
    kitchen.post('receiver', '/v1/uses', {
      lotId,
      placeId: world.w3ReceivingId,
      quantity,
      unit: 'piece',
      occurredAt: '2026-11-25T11:50:00Z',
    });

  test('one pack that comes back from the ward is held, and not the two hundred that stayed', async () => {
    const { lotId } = await packsOf(kitchen, 240);
    await receive(kitchen, await sent(lotId, 210), AT, [accepted(lotId, 210)]);
    await serve(lotId, 5);
    const back = await comeBack(lotId, 1);
    expect(back).toMatchObject({ findings: [], mayUse: false });
    expect(await openHolds(lotId)).toMatchObject([
      { kind: 'quality', siteId: null, accountId: world.w3QuarantineId, propagates: false },
    ]);
    // the next one is under the same hold
    await comeBack(lotId, 1);
    expect(await openHolds(lotId)).toHaveLength(1);
    const [hold] = await openHolds(lotId);
    await kitchen.post('quality', `/v1/holds/${hold.holdId}/lift`, { note: 'Never left the trolley, 3 °C' });
    await comeBack(lotId, 1);
    expect((await openHolds(lotId)).map((one) => one.holdId)).not.toContain(hold.holdId);
    // what stayed is served and sent as before
    expect(await serve(lotId, 100)).toMatchObject({ mayUse: true, whyNot: null, findings: [] });
    await sent(lotId, 20);
    expect(await whereIs(kitchen, lotId)).toEqual({
      [world.ckChillerId]: 10,
      [world.w3ReceivingId]: 105,
      [world.w3QuarantineId]: 3,
      served: 102,
      transit: 20,
    });
  });

  test('a pack that comes back and never left is a finding, until it is known to have left', async () => {
    const { lotId } = await packsOf(kitchen, 40);
    await receive(kitchen, await sent(lotId, 20), AT, [accepted(lotId, 20)]);
    const back = await comeBack(lotId, 3);
    expect(back.findings).toMatchObject([{ kind: 'returned-not-served', quantity: 3 }]);
    const open = async () => (await openFindings(kitchen, 'returned-not-served')).map((one) => one.quantity);
    expect(await open()).toEqual([3]);
    expect((await comeBack(lotId, 1)).findings).toMatchObject([{ quantity: 4 }]);
    expect(await open()).toEqual([4]);
    await serve(lotId, 6);
    expect((await comeBack(lotId, 1)).findings).toEqual([]);
    expect(await open()).toEqual([]);
  });

  test('is put where the site says, and the entry notes that nobody said so', async () => {
    const noted = async (dispatchId: string): Promise<Json> =>
      asAdmin(service.databaseUrl, async (owner) => {
        const found = await owner.query("select note from entry where dispatch_id = $1 and kind = 'receipt'", [
          dispatchId,
        ]);
        return found.rows.map((row: { note: Json }) => row.note);
      });
    const { lotId } = await packsOf(kitchen, 40);
    const before = await sent(lotId, 10);
    await receive(kitchen, before, AT, [accepted(lotId, 10)]);
    expect(await noted(before)).toEqual([{ presumed: [{ lotId, placeId: world.w3ReceivingId }] }]);
    const site = await service.as('operations').get(`/v1/sites/${world.w3Id}`);
    const putAway = { chilled: world.w3ChillerId, frozen: null, ambient: null };
    const changed = await service
      .as('operations')
      .patch(`/v1/sites/${world.w3Id}`, { putAway }, { 'if-match': site.headers.etag ?? '' });
    expect(changed.status).toBe(200);
    const after = await sent(lotId, 12);
    await receive(kitchen, after, AT, [
      accepted(lotId, 8),
      accepted(lotId, 1, { placeId: world.w3ReceivingId }),
      { ...accepted(lotId, 2), condition: 'damaged' },
    ]);
    expect(await noted(after)).toEqual([{ presumed: [{ lotId, placeId: world.w3ChillerId }] }]);
    expect(await whereIs(kitchen, lotId)).toMatchObject({
      [world.w3ReceivingId]: 11,
      [world.w3ChillerId]: 8,
      [world.w3QuarantineId]: 2,
      transit: 1,
    });
    expect(kindsOf(await openFindings(kitchen, 'damaged-on-arrival'))).toEqual(['damaged-on-arrival']);
  });
});
