/** Rules 18 and 19: opening stock, entry units, lines and lots, cash; shared tablets with a PIN or badge, and a deputy. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Json } from '../support/kitchen.ts';
import { startKit, type Kit } from './kit.ts';

let kit: Kit;
let tinned: string;
beforeAll(async () => {
  kit = await startKit();
  const units = { storage: 'ambient', entryUnits: [{ code: 'case', quantity: 12 }] };
  tinned = await kit.item('TOMATO', { kind: 'ingredient', ...units });
});
afterAll(() => kit.stop());

const onHand = async (): Promise<number> =>
  (await kit.get('operations', `/v1/stock?itemId=${tinned}&limit=500`)).items.length as number;
const opening = (more: object) =>
  kit.try('kitchen', '/v1/opening-stock', { siteId: kit.world.ckId, occurredAt: kit.now(), ...more });

describe('rule 18: going live', () => {
  test('a table in cases: a lot of unknown origin, and said so', async () => {
    const csv = 'item,place,quantity,unit,use-by\nTOMATO,DRY,2.5,case,2027-05-31\n';
    const before = await onHand();
    const check = { siteId: kit.world.ckId, occurredAt: kit.now(), csv };
    const looked = await kit.service.as('kitchen').post('/v1/opening-stock-checks', check);
    expect([looked.status, looked.body.refused, await onHand()]).toEqual([200, [], before]);
    const answer = await opening({ csv });
    // two and a half cases of twelve
    expect([answer.status, answer.body.taken[0].quantity]).toEqual([201, 30]);
    const lot = await kit.lot(answer.body.taken[0].lotId);
    expect([lot.origin, lot.supplierId]).toEqual(['opening', null]);
    const trace = await kit.get('quality', `/v1/lots/${lot.lotId}/trace?direction=back`);
    expect(trace.lots).toHaveLength(1);
    expect(trace.lots[0]).toMatchObject({ origin: 'opening', supplierId: null });
  });

  test.each([
    ['a column missing', 'item,place,quantity,unit\nTOMATO,DRY,1,case\n'],
    ['a column unknown', 'item,place,quantity,unit,use-by,colour\nTOMATO,DRY,1,case,2027-05-31,red\n'],
  ])('%s: the table is refused with what is wrong, and nothing is recorded', async (_name, csv) => {
    const before = await onHand();
    const answer = await opening({ csv });
    expect([answer.status, answer.body.code]).toEqual([422, 'csv-unreadable']);
    expect(await onHand()).toBe(before);
  });

  test('a bad row: nothing of the table is recorded; with takeGood the others are', async () => {
    const rows = ['TOMATO,DRY,1,case,2027-06-30', 'NO-SUCH,DRY,1,case,2027-06-30'];
    const csv = ['item,place,quantity,unit,use-by', ...rows].join('\n');
    const before = await onHand();
    const answer = await opening({ csv });
    expect([answer.status >= 400, await onHand()]).toEqual([true, before]);
    const good = await opening({ csv, takeGood: true });
    expect([good.status, good.body.taken.length, good.body.refused.map((one: Json) => one.row)]).toEqual([201, 1, [3]]);
  });

  test('an exact repeat of a row is recorded once, and shown', async () => {
    const row = 'TOMATO,DRY,3,piece,2027-07-31';
    const answer = await opening({ csv: ['item,place,quantity,unit,use-by', row, row].join('\n') });
    expect(answer.status).toBe(201);
    expect(answer.body.taken.map((one: Json) => one.quantity)).toEqual([3]);
    expect(answer.body.doubtful).toMatchObject([{ row: 3, taken: false }]);
  });

  test('two lots on one line of the note; one supplier lot twice; cash at a satellite; a unit not known', async () => {
    const line = { itemId: tinned, placeId: kit.world.ckDryId, deliveryLineNo: 1, entryUnit: 'case', entryQuantity: 2 };
    const a = { ...line, supplierLotCode: 'T-1', useByDate: '2027-05-31' };
    const ids = await kit.deliver([a, { ...a, supplierLotCode: 'T-2' }]);
    const again = await kit.deliver([a]);
    expect(new Set([...ids, ...again]).size).toBe(3);
    const list = await kit.get('operations', '/v1/lots?supplierLotCode=T-1');
    expect(list.items.map((one: Json) => one.quantity)).toEqual([24, 24]);
    const cash = { siteId: kit.world.w3Id, occurredAt: kit.now(), cashPurchase: { shopName: 'Corner shop' } };
    const bought = { itemId: tinned, quantity: 2, unit: 'piece', useByDate: '2027-05-31' };
    const receipt = await kit.post('receiver', '/v1/goods-receipts', { ...cash, lines: [bought] });
    const lot = await kit.lot(receipt.lines[0].lotId);
    expect([lot.supplierId, lot.shopName]).toEqual([null, 'Corner shop']);
    const odd = await kit.try('receiver', '/v1/goods-receipts', {
      ...cash,
      lines: [{ itemId: tinned, entryUnit: 'barrel', entryQuantity: 1 }],
    });
    expect([odd.status, odd.body.code]).toEqual([422, 'entry-unit-unknown']);
  });
});

describe('rule 19: shared tablets', () => {
  test('a tablet and a PIN: the person is named and the tablet too; a PIN guessed five times is locked', async () => {
    const { world, service } = kit;
    const device = await kit.post('admin', '/v1/devices', { name: 'Ward tablet', siteId: world.w3Id });
    const { deviceToken } = await kit.post('admin', `/v1/devices/${device.deviceId}/token`, {}, 200);
    const tablet = await service.anonymous.post('/v1/device-sign-ins', { deviceToken });
    expect(tablet.status).toBe(200);
    const person = { name: 'Pat Hill', signInName: 'pat', password: 'three-trays-of-gravy' };
    const grants = [
      { role: 'receiver', siteId: world.w3Id },
      { role: 'kitchen', siteId: world.ckId },
    ];
    const { personId } = await kit.post('admin', '/v1/people', { ...person, grants });
    await kit.post('admin', `/v1/people/${personId}/pin`, { pin: '4826' });
    const device1 = service.bearer(tablet.body.accessToken);
    const enter = (pin: string) => device1.post('/v1/tablet-sign-ins', { personal: { signInName: 'pat', pin } });
    const signed = await enter('4826');
    expect(signed.status).toBe(200);
    // only what holds at the tablet's site
    expect(signed.body.person.grants).toMatchObject([{ role: 'receiver', siteId: world.w3Id }]);
    const placeId = world.w3ChillerId;
    const [lotId = ''] = await kit.deliver(
      [{ itemId: tinned, placeId, quantity: 5, unit: 'piece', useByDate: '2027-05-31' }],
      world.w3Id,
    );
    const use = { id: crypto.randomUUID(), lotId, placeId, quantity: 1, unit: 'piece', occurredAt: kit.now() };
    const recorded = await service.bearer(signed.body.accessToken).post('/v1/uses', use);
    expect(recorded.status).toBe(201);
    const fact = await kit.get('quality', `/v1/facts/${use.id}`);
    expect([fact.actorId, fact.deviceId]).toEqual([personId, device.deviceId]);
    for (let round = 0; round < 5; round += 1) expect((await enter(`900${round}`)).status).toBe(401);
    // the right one lets nobody in while it is locked
    expect([401, 429]).toContain((await enter('4826')).status);
    kit.after(16);
    const renewed = await service.anonymous.post('/v1/device-sign-ins', { deviceToken });
    const personal = { signInName: 'pat', pin: '4826' };
    const later = await service.bearer(renewed.body.accessToken).post('/v1/tablet-sign-ins', { personal });
    expect(later.status).toBe(200);
  });

  test('a deputy releases at the weekend, and not after it', async () => {
    const { world, service } = kit;
    const person = { name: 'Kim Ash', signInName: 'kim', password: 'three-trays-of-gravy' };
    const grants = [{ role: 'kitchen', siteId: null }];
    const { personId } = await kit.post('admin', '/v1/people', { ...person, grants });
    const from = kit.now();
    const to = new Date(service.clock.nowMs() + 48 * 3_600_000).toISOString();
    const term = { personId, role: 'quality', siteId: world.ckId, from, to, reason: 'Weekend' };
    await kit.post('quality', '/v1/deputies', term);
    const signIn = async () => {
      const body = { group: 'ostermere', signInName: 'kim', password: person.password };
      const answer = await service.anonymous.post('/v1/sign-ins', body);
      expect(answer.status).toBe(200);
      return service.bearer(answer.body.accessToken);
    };
    const release = async () => {
      const { batchId } = await kit.stew(await kit.shin(500), 500, 500);
      const client = await signIn();
      return client.post(`/v1/batches/${batchId}/release`, { id: crypto.randomUUID() });
    };
    kit.after(1);
    const done = await release();
    expect(done.status).toBe(201);
    expect(done.body.decisions[0].deputyId).not.toBeNull();
    kit.after(49 * 60);
    expect((await release()).status).toBe(403);
  });
});
