/** The register of samples over HTTP: taken, kept, due, disposed of. Dates are counted by hand on the calendar of November 2026. */
import { afterAll, beforeAll, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { NOON_MS, startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
});
afterAll(() => service.stop());

const DAY_MS = 86_400_000;
const at = () => new Date(service.clock.nowMs()).toISOString();
const register = async (query: string): Promise<Json[]> =>
  (await kitchen.get('quality', `/v1/retained-samples?${query}`)).items;

test('a sample is in the register from when it is taken to when the last of it is discarded', async () => {
  const shin = await kitchen.shin(40_000);
  const { batchId, lotId } = await kitchen.stew(shin, 40_000, 34_000);
  const take = (more: object) =>
    kitchen.post('kitchen', '/v1/conversions', {
      kind: 'sample',
      lotId,
      placeId: world.ckChillerId,
      quantity: 150,
      unit: 'g',
      occurredAt: at(),
      ...more,
    });
  const usual = await take({});
  const short = await take({ disposeAfter: '2026-11-27', sampleFor: 'laboratory' });
  const undone = await take({});
  await kitchen.post('quality', '/v1/reversals', { entryId: undone.entryId, reason: 'Wrong pot' });

  const all = await register(`siteId=${world.ckId}`);
  expect(all.map((one) => [one.lotId, one.disposeAfter, one.sampleFor, one.daysAssumed])).toEqual([
    [short.lot.lotId, '2026-11-27', 'laboratory', false],
    [usual.lot.lotId, '2026-12-02', 'retained', true],
  ]);
  expect(all[1]).toMatchObject({
    itemName: 'Beef stew',
    quantity: 150,
    of: { lotId, batchId },
    takenBy: { name: 'Sam Dale' },
    state: 'kept',
    overdue: false,
    disposed: null,
    where: [{ placeId: world.ckChillerId, quantity: 150 }],
  });
  // the last day is the 27th: due before the 28th, not before the 27th
  expect((await register('dueBefore=2026-11-28')).map((one) => one.lotId)).toEqual([short.lot.lotId]);
  expect(await register('dueBefore=2026-11-27')).toEqual([]);

  service.clock.set(NOON_MS + 3 * DAY_MS);
  expect((await register('state=kept')).map((one) => one.overdue)).toEqual([true, false]);
  const discard = (sample: Json) =>
    kitchen.post('kitchen', '/v1/discards', {
      lotId: sample.lot.lotId,
      placeId: world.ckChillerId,
      quantity: 150,
      unit: 'g',
      reason: 'sample',
      destination: 'anaerobic-digestion',
      occurredAt: at(),
    });
  await discard(short);
  const early = await discard(usual);
  expect(await register('state=kept')).toEqual([]);
  const gone = await register('state=disposed');
  expect(gone.map((one) => [one.disposed.on, one.disposed.how, one.disposed.reason, one.disposed.tooEarly])).toEqual([
    ['2026-11-28', 'discard', 'sample', false],
    // kept three days of seven
    ['2026-11-28', 'discard', 'sample', true],
  ]);
  // a discard that is undone brings it back
  await kitchen.post('quality', '/v1/reversals', { entryId: early.entryId, reason: 'Was the other one' });
  expect((await register('state=kept')).map((one) => one.lotId)).toEqual([usual.lot.lotId]);

  const first = await kitchen.get('quality', '/v1/retained-samples?limit=1');
  const rest = await kitchen.get('quality', `/v1/retained-samples?limit=1&cursor=${first.nextCursor}`);
  expect([first, rest].map((page) => page.items[0].lotId)).toEqual([short.lot.lotId, usual.lot.lotId]);
  expect((await service.as('kitchen', world.w3Id).get('/v1/retained-samples')).body.items).toEqual([]);
});
