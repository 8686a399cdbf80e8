/**
 * A part with a use-by of its own. Times by hand: stew that is cooked on 25 November keeps five days with that day, so until the night to the
 * 30th (London, no summer time); the warm chiller takes it back to the evening of the 26th.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { findPastDateStock, loosenPart, tightenPart } from '../../../src/features/ledger/index.ts';
import { exampleId } from '../../../src/platform/ids.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { NOON_MS, startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const PRINTED = '2026-11-30T00:00:00.000Z';
const EARLIER = '2026-11-26T18:00:00.000Z';

let service: TestService;
let world: World;
let kitchen: Kitchen;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
});
afterAll(() => service.stop());

const change = (lotId: string, accountId: string, useByAt: string) => ({
  lotId,
  accountId,
  useByAtMs: Date.parse(useByAt),
  ruling: 'cook-chill-10-c',
  reason: 'The chiller was at 11 °C from 02:00 to 04:00.',
  resultId: null,
});

function tighten(lotId: string, accountId: string, useByAt: string): Promise<string | null> {
  return service.db.inGroup(service.groupId, 'write', (tx) =>
    tightenPart(tx, change(lotId, accountId, useByAt), exampleId('person/quality'), service.clock.nowMs()),
  );
}

const stockOf = async (lotId: string): Promise<Json[]> =>
  (await kitchen.get('quality', '/v1/stock?limit=500')).items.filter((one: Json) => one.lotId === lotId);
const datesOf = async (lotId: string): Promise<Record<string, string>> =>
  Object.fromEntries((await stockOf(lotId)).map((one: Json) => [one.placeId, one.useByAt]));
const labelFindings = async (lotId: string): Promise<Json[]> =>
  (await kitchen.get('quality', `/v1/findings?kind=label-outlives-use-by&lotId=${lotId}`)).items;

async function packs(howMany: number): Promise<string> {
  const { batchId, lotId } = await kitchen.stew(await kitchen.shin(10_000), 10_000, 8_000);
  const packed = await kitchen.pack(batchId, lotId, howMany * 300, howMany);
  await kitchen.release(batchId);
  return packed;
}

const move = (lotId: string, quantity: number, fromPlaceId: string, toPlaceId: string) =>
  kitchen.post('kitchen', '/v1/moves', { lotId, quantity, unit: 'piece', fromPlaceId, toPlaceId });

test('only tightens, is told with the lot and the stock, and is no hold that anybody could lift', async () => {
  const { ckChillerId, ckPrepId } = world;
  const lotId = await packs(6);
  await move(lotId, 2, ckChillerId, ckPrepId);
  const holdId = await tighten(lotId, ckChillerId, EARLIER);
  expect(await tighten(lotId, ckChillerId, EARLIER)).toBeNull();
  expect(await tighten(lotId, ckChillerId, '2026-11-27T00:00:00.000Z')).toBeNull();
  expect(await tighten(lotId, ckPrepId, PRINTED)).toBeNull();
  // the earliest first, and only in that place
  expect((await stockOf(lotId)).map((one) => [one.placeId, one.useByAt, one.useByDate, one.holds])).toEqual([
    [ckChillerId, EARLIER, null, []],
    [ckPrepId, PRINTED, '2026-11-29', []],
  ]);
  const lot = await kitchen.get('quality', `/v1/lots/${lotId}`);
  expect([lot.useByAt, lot.earlierUseBys, lot.holds]).toEqual([
    PRINTED,
    [{ accountId: ckChillerId, useByAt: EARLIER }],
    [],
  ]);
  expect(await kitchen.get('quality', `/v1/holds/${holdId}`)).toMatchObject({ kind: 'use-by', useByAt: EARLIER });
  expect(await kitchen.post('quality', `/v1/holds/${holdId}/lift`, { note: 'Looks fine' }, 409)).toMatchObject({
    code: 'wrong-state',
  });
  expect(await labelFindings(lotId)).toMatchObject([
    { quantity: 4, detail: { useByAt: EARLIER, printedUseByAt: PRINTED } },
  ]);
  // still earlier: one finding, with the date that holds
  const sooner = '2026-11-26T06:00:00.000Z';
  await tighten(lotId, ckChillerId, sooner);
  expect(await labelFindings(lotId)).toMatchObject([{ quantity: 4, detail: { useByAt: sooner } }]);
});

test('a decision makes it later, and never later than the lot', async () => {
  const { ckChillerId } = world;
  const lotId = await packs(2);
  await tighten(lotId, ckChillerId, EARLIER);
  const loosen = (useByAt: string) =>
    service.db.inGroup(service.groupId, 'write', (tx) =>
      loosenPart(tx, change(lotId, ckChillerId, useByAt), exampleId('person/quality'), service.clock.nowMs()),
    );
  expect(await loosen('2026-11-26T00:00:00.000Z')).toBeNull();
  expect(await datesOf(lotId)).toEqual({ [ckChillerId]: EARLIER });
  expect(await loosen('2026-11-28T00:00:00.000Z')).not.toBeNull();
  expect(await datesOf(lotId)).toEqual({ [ckChillerId]: '2026-11-28T00:00:00.000Z' });
  expect(await loosen('2026-12-05T00:00:00.000Z')).toBeNull();
  expect(await datesOf(lotId)).toEqual({ [ckChillerId]: PRINTED });
  expect(await labelFindings(lotId)).toEqual([]);
});

describe('moves along with the food', () => {
  test('within a site, joining the earlier date; and an undo takes nothing back', async () => {
    const { ckChillerId, ckPrepId, ckReceivingId } = world;
    const lotId = await packs(6);
    await move(lotId, 3, ckChillerId, ckPrepId);
    await tighten(lotId, ckChillerId, EARLIER);
    const moved = await move(lotId, 1, ckChillerId, ckReceivingId);
    await move(lotId, 1, ckReceivingId, ckPrepId);
    // two that join cannot be told apart
    expect(await datesOf(lotId)).toEqual({ [ckChillerId]: EARLIER, [ckPrepId]: EARLIER });
    expect((await labelFindings(lotId)).map((one) => [one.detail.placeId, one.quantity])).toEqual(
      expect.arrayContaining([
        [ckChillerId, 2],
        [ckPrepId, 4],
      ]),
    );
    await kitchen.post('kitchen', '/v1/reversals', { entryId: moved.entryId, reason: 'Wrong beep' });
    expect((await datesOf(lotId))[ckChillerId]).toBe(EARLIER);
  });

  test('onto the road and into the ward by scan, where it is told at once; what stayed cool keeps its date', async () => {
    const { ckChillerId, ckPrepId, w3ReceivingId, w3ChillerId, ckId, w3Id } = world;
    const lotId = await packs(5);
    await move(lotId, 1, ckChillerId, ckPrepId);
    await tighten(lotId, ckChillerId, EARLIER);
    const lines = [{ lotId, placeId: ckChillerId, quantity: 4, unit: 'piece' }];
    const plan = { fromSiteId: ckId, toSiteId: w3Id, purpose: 'delivery', lines };
    const { dispatchId } = await kitchen.post('kitchen', '/v1/dispatches', plan);
    await kitchen.post('kitchen', `/v1/dispatches/${dispatchId}/departure`, {});
    const { code } = await kitchen.get('kitchen', `/v1/lots/${lotId}`);
    const scan = (serial: string, kind: string, more: object = {}) => ({
      id: randomUUID(),
      kind,
      code: `${code}/${serial}`,
      occurredAt: new Date(service.clock.nowMs()).toISOString(),
      ...more,
    });
    const send = async (scans: object[]) =>
      (await service.as('receiver').post('/v1/scans', { siteId: w3Id, scans })).body.results as Json[];
    expect((await send([scan('1', 'arrival'), scan('2', 'arrival')])).map((one) => one.mayUse)).toEqual([true, true]);
    expect(await datesOf(lotId)).toEqual({ [ckPrepId]: PRINTED, [w3ReceivingId]: EARLIER });
    service.clock.set(Date.parse('2026-11-26T18:00:00.000Z'));
    // came late: the date of the van is the date of the pack
    expect(await send([scan('3', 'arrival', { placeId: w3ChillerId })])).toMatchObject([{ mayUse: false }]);
    const [used] = await send([scan('1', 'use')]);
    expect(used.findings.map((one: Json) => [one.kind, one.detail.useByAt])).toEqual([['past-use-by', EARLIER]]);
    expect(await send([scan('5', 'use', { placeId: w3ReceivingId })])).toMatchObject([{ mayUse: false }]);
    // a request is refused from the warm place alone
    const again = (placeId: string) =>
      kitchen.post('kitchen', '/v1/dispatches', { ...plan, lines: [{ lotId, placeId, quantity: 1, unit: 'piece' }] });
    const fromCool = await again(ckPrepId);
    await kitchen.post('kitchen', `/v1/dispatches/${fromCool.dispatchId}/departure`, {});
    service.clock.set(NOON_MS);
  });
});

test('what is made from it is born with it: packs, and what is opened', async () => {
  const { ckChillerId, ckPrepId } = world;
  const { batchId, lotId } = await kitchen.stew(await kitchen.shin(10_000), 10_000, 8_000);
  await tighten(lotId, ckChillerId, EARLIER);
  const packed = await kitchen.pack(batchId, lotId, 600, 2, { toPlaceId: ckPrepId });
  expect(await kitchen.get('kitchen', `/v1/lots/${packed}`)).toMatchObject({
    printedUseByAt: EARLIER,
    useByAt: EARLIER,
  });
  await kitchen.release(batchId);
  // opened it keeps a day, to the 26th at noon; the part ends at six
  const sooner = '2026-11-26T06:00:00.000Z';
  await tighten(packed, ckPrepId, sooner);
  const at = new Date(service.clock.nowMs()).toISOString();
  const body = { kind: 'open', lotId: packed, placeId: ckPrepId, quantity: 1, unit: 'piece', occurredAt: at };
  expect((await kitchen.post('receiver', '/v1/conversions', body)).lot.useByAt).toBe(sooner);
});

test('past its own date on the shelf it is found, and a request is refused', async () => {
  const { ckChillerId, ckPrepId } = world;
  const lotId = await packs(3);
  await move(lotId, 1, ckChillerId, ckPrepId);
  await tighten(lotId, ckChillerId, EARLIER);
  service.clock.set(Date.parse(EARLIER));
  await findPastDateStock(service).run({ groupId: service.groupId });
  const late = (await kitchen.get('quality', `/v1/findings?kind=past-use-by-in-stock&lotId=${lotId}`)).items;
  expect(late.map((one: Json) => [one.detail.placeId, one.quantity, one.occurredAt])).toEqual([
    [ckChillerId, 2, EARLIER],
  ]);
  const stock = await stockOf(lotId);
  expect(stock.map((one) => [one.placeId, one.mayUse])).toEqual([
    [ckChillerId, false],
    [ckPrepId, true],
  ]);
  const lines = [{ lotId, placeId: ckChillerId, quantity: 1, unit: 'piece' }];
  const plan = { fromSiteId: world.ckId, toSiteId: world.w3Id, purpose: 'delivery', lines };
  const { dispatchId } = await kitchen.post('kitchen', '/v1/dispatches', plan);
  expect(await kitchen.post('kitchen', `/v1/dispatches/${dispatchId}/departure`, {}, 409)).toMatchObject({
    code: 'past-use-by',
  });
  const morning = await kitchen.get('quality', `/v1/sites/${world.ckId}/morning-list?format=json`);
  const mine = morning.pastDate.filter((one: Json) => one.lotId === lotId);
  expect(mine.map((one: Json) => [one.placeId, one.useByAt])).toEqual([[ckChillerId, EARLIER]]);
  // once it is gone, its date goes too, but not before the lot is a month past its own: an undo would bring the food back
  const at = new Date(service.clock.nowMs()).toISOString();
  const thrown = { quantity: 2, unit: 'piece', reason: 'past-use-by', destination: 'anaerobic-digestion' };
  await kitchen.post('kitchen', '/v1/discards', { lotId, placeId: ckChillerId, occurredAt: at, ...thrown });
  expect(await labelFindings(lotId)).toEqual([]);
  const stands = async (when: string) => {
    service.clock.set(Date.parse(when));
    await findPastDateStock(service).run({ groupId: service.groupId });
    return (await kitchen.get('quality', `/v1/lots/${lotId}`)).earlierUseBys.length;
  };
  expect([await stands('2026-12-29T23:00:00Z'), await stands('2026-12-30T01:00:00Z')]).toEqual([1, 0]);
  service.clock.set(NOON_MS);
});
