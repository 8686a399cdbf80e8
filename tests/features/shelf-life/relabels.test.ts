/** Relabelling: the list of a site, scanned or written on and witnessed, and how it closes. Counts and times by hand, as in part-dates.test.ts. */
import { afterAll, beforeAll, beforeEach, expect, test } from 'vitest';
import { tightenPart } from '../../../src/features/ledger/index.ts';
import { exampleId } from '../../../src/platform/ids.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const EARLIER = '2026-11-26T18:00:00.000Z';
const WITNESS = exampleId('person/admin');

let service: TestService;
let world: World;
let kitchen: Kitchen;
let lotId: string;
let relabelId: string;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
});
afterAll(() => service.stop());

async function tighten(useByAt: string): Promise<string> {
  const change = {
    lotId,
    accountId: world.ckChillerId,
    useByAtMs: Date.parse(useByAt),
    ruling: 'cook-chill-10-c',
    reason: 'The chiller was at 11 °C from 02:00 to 04:00.',
    resultId: null,
  };
  const id = await service.db.inGroup(service.groupId, 'write', (tx) =>
    tightenPart(tx, change, exampleId('person/quality'), service.clock.nowMs()),
  );
  if (id === null) throw new Error('nothing became earlier');
  return id;
}

/** Five packs with serials in a chiller that was warm, and two that were not in it. */
beforeEach(async () => {
  const { batchId, lotId: load } = await kitchen.stew(await kitchen.shin(10_000), 10_000, 8_000);
  lotId = await kitchen.pack(batchId, load, 2_100, 7);
  await kitchen.release(batchId);
  await move(2, world.ckChillerId, world.ckPrepId);
  service.clock.set(service.clock.nowMs() + 60_000);
  relabelId = await tighten(EARLIER);
});

const move = (quantity: number, fromPlaceId: string, toPlaceId: string) =>
  kitchen.post('kitchen', '/v1/moves', { lotId, quantity, unit: 'piece', fromPlaceId, toPlaceId });
const read = (id = relabelId) => kitchen.get('kitchen', `/v1/relabels/${id}`);
const done = (body: object, status = 201) => kitchen.post('kitchen', `/v1/relabels/${relabelId}/done`, body, status);
const listed = async (): Promise<Json[]> =>
  (await kitchen.get('kitchen', `/v1/relabels?siteId=${world.ckId}&open=true&limit=500`)).items.filter(
    (one: Json) => one.lotId === lotId,
  );
const found = async (): Promise<number> =>
  (await kitchen.get('quality', `/v1/findings?kind=label-outlives-use-by&lotId=${lotId}`)).items.length;

test('pack by pack by scan: one that is scanned twice is one; the last one closes it', async () => {
  expect(await listed()).toMatchObject([
    {
      relabelId,
      placeId: world.ckChillerId,
      quantity: 5,
      left: 5,
      printedUseByDate: '2026-11-29',
      newUseByAt: EARLIER,
      newUseByText: '2026-11-26 18:00',
      ruling: 'cook-chill-10-c',
      state: 'open',
    },
  ]);
  expect(await done({ how: 'scanned', serials: ['1', '2', '2'] })).toMatchObject({ left: 3, state: 'open' });
  expect(await done({ how: 'scanned', serials: ['2', '3'] })).toMatchObject({ left: 2 });
  expect(await found()).toBe(1);
  expect(await done({ how: 'scanned', serials: ['4', '5'] })).toMatchObject({ left: 0, state: 'done' });
  expect([await found(), await listed()]).toEqual([0, []]);
  // relabelled packs take their date and their label along
  await move(1, world.ckChillerId, world.ckReceivingId);
  expect([await found(), await listed()]).toEqual([0, []]);
  // two come in under the old label: five that were relabelled, one gone, two not
  await move(2, world.ckPrepId, world.ckChillerId);
  expect(await listed()).toMatchObject([{ relabelId, quantity: 6, left: 2, state: 'open' }]);
  expect(await found()).toBe(1);
});

test('written on by hand needs somebody else who looked; what was used since was not relabelled for sure', async () => {
  const byHand = { how: 'written-witnessed', quantity: 3, witnessId: WITNESS };
  expect(await done({ ...byHand, witnessId: exampleId('person/kitchen') }, 422)).toMatchObject({ code: 'rule-broken' });
  expect(await done({ how: 'written-witnessed', quantity: 3 }, 422)).toMatchObject({ code: 'rule-broken' });
  expect(await done({ ...byHand, witnessId: exampleId('person/nobody') }, 404)).toMatchObject({ code: 'not-found' });
  expect(await done({ how: 'scanned', quantity: 3 }, 422)).toMatchObject({ code: 'serials-do-not-fit' });
  expect(await done({ how: 'scanned', serials: ['8'] }, 422)).toMatchObject({ code: 'serials-do-not-fit' });
  expect(await done(byHand)).toMatchObject({ left: 2 });
  const at = new Date(service.clock.nowMs()).toISOString();
  const use = { lotId, placeId: world.ckChillerId, quantity: 3, unit: 'piece', occurredAt: at };
  await kitchen.post('receiver', '/v1/uses', { ...use, servicePoint: 'Canteen', meal: 'lunch' });
  // were the three used the three relabelled ones? two are left that may carry the old date
  expect(await read()).toMatchObject({ quantity: 2, left: 2, state: 'open' });
  expect(await done({ ...byHand, quantity: 1, nothingLeft: true })).toMatchObject({ left: 0, state: 'done' });
  expect((await read()).done.map((one: Json) => [one.quantity, one.witnessId])).toEqual([
    [3, WITNESS],
    [1, WITNESS],
  ]);
});

test('it closes by itself where the food is gone, and gives way to an earlier date', async () => {
  const sooner = await tighten('2026-11-26T06:00:00.000Z');
  expect(await read()).toMatchObject({ state: 'replaced', left: 0 });
  expect(await done({ how: 'scanned', serials: ['1'] }, 409)).toMatchObject({ code: 'wrong-state' });
  expect((await listed()).map((one) => one.relabelId)).toEqual([sooner]);
  await move(5, world.ckChillerId, world.ckReceivingId);
  expect((await read(sooner)).state).toBe('gone');
  expect((await listed()).map((one) => [one.placeId, one.left])).toEqual([[world.ckReceivingId, 5]]);
  expect(await found()).toBe(1);
});

test('prints for one site', async () => {
  const answer = await service.as('kitchen').get(`/v1/relabels?siteId=${world.ckId}&format=pdf`);
  expect([answer.status, answer.raw.subarray(0, 5).toString()]).toEqual([200, '%PDF-']);
  expect((await service.as('kitchen').get('/v1/relabels?format=pdf')).body.code).toBe('rule-broken');
});
