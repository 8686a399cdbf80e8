/** What a packing machine leaves behind, in whatever order it is recorded. */
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Json, Kitchen } from '../../support/kitchen.ts';
import { packersOf, type Packers } from '../../support/packers.ts';
import { startService, type TestService } from '../../support/service.ts';
import type { World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let machine: Packers['machine'];

beforeAll(async () => {
  service = await startService();
  ({ world, kitchen, machine } = await packersOf(service));
});
afterAll(() => service.stop());

const against = async (lotId: string): Promise<Json[]> =>
  (await kitchen.get('quality', `/v1/findings?lotId=${lotId}&limit=500`)).items;
const kinds = async (lotId: string) => (await against(lotId)).map((one) => one.kind).sort();

test('food without an allergen after food with it: found, and the packer is told; nothing is added to what it may contain', async () => {
  const packer = await machine();
  const stew = await packer.seal('stew', 10);
  const rice = await packer.seal('rice', 20);
  expect(stew.told).toEqual([]);
  expect(rice.told).toEqual(['allergen-carry-over']);
  expect(await against(rice.lotId)).toMatchObject([
    {
      kind: 'allergen-carry-over',
      detail: {
        allergens: ['celery', 'gluten-cereals:wheat'],
        earlierPackingRunId: stew.runId,
        equipmentId: packer.equipmentId,
      },
    },
  ]);
  const lot = await kitchen.get('quality', `/v1/lots/${rice.lotId}`);
  expect(lot.mayContain).toEqual([]);
  expect(lot.holds.map((hold: Json) => hold.kind)).toEqual(['awaiting-release']);
  // it has been on the machine since: the next food finds it too
  expect((await packer.seal('rice', 30)).told).toEqual(['allergen-carry-over']);
});

test('a full clean-down between is enough, a rinse is not; one that is entered late clears what was found', async () => {
  const packer = await machine();
  await packer.seal('stew', 10);
  await packer.clean(15, 'rinse');
  const rice = await packer.seal('rice', 20);
  expect(await kinds(rice.lotId)).toEqual(['allergen-carry-over']);
  // before it was dirty, and after it was used
  await packer.clean(5);
  await packer.clean(25);
  expect(await kinds(rice.lotId)).toEqual(['allergen-carry-over']);
  await packer.clean(15);
  expect(await kinds(rice.lotId)).toEqual([]);
  const list = await kitchen.get('quality', `/v1/equipment/${packer.equipmentId}/clean-downs`);
  expect(list.items.map((one: Json) => `${one.occurredAt.slice(11, 16)} ${one.kind}`).sort()).toEqual([
    '11:05 full',
    '11:15 full',
    '11:15 rinse',
    '11:25 full',
  ]);
  const ahead = { occurredAt: '2026-11-25T12:00:01Z', kind: 'full' };
  const path = `/v1/equipment/${packer.equipmentId}/clean-downs`;
  expect((await kitchen.post('kitchen', path, ahead, 422)).code).toBe('time-in-future');
});

test('raw before ready-to-eat: what is sealed already is found', async () => {
  const packer = await machine();
  await packer.seal('raw', 10);
  expect((await packer.seal('raw', 20)).told).toEqual([]);
  expect((await packer.seal('rice', 30, 'recorded-packing-runs')).told).toEqual(['raw-before-ready-to-eat']);
  await packer.clean(35);
  expect((await packer.seal('rice', 40)).told).toEqual([]);
});

test('whatever the order of entry, the same is found', async () => {
  const steps = ['stew', 'raw', 'clean', 'rice', 'stew', 'rice'] as const;
  const tell = async (order: readonly number[]) => {
    const packer = await machine();
    const lots = new Map<number, string>();
    for (const step of order) {
      const what = steps[step] ?? 'clean';
      if (what === 'clean') await packer.clean(10 + 5 * step);
      else lots.set(step, (await packer.seal(what, 10 + 5 * step, 'recorded-packing-runs')).lotId);
    }
    const found = [];
    for (const [step, lotId] of [...lots].sort(([a], [b]) => a - b)) {
      const said = (await against(lotId)).map((one) => `${one.kind} ${one.detail.allergens.join()}`);
      found.push([step, said.sort()]);
    }
    return found;
  };
  const inOrder = await tell([0, 1, 2, 3, 4, 5]);
  expect(inOrder).toEqual([
    [0, []],
    [1, ['allergen-carry-over celery,gluten-cereals:wheat']],
    [3, []],
    [4, []],
    [5, ['allergen-carry-over celery,gluten-cereals:wheat']],
  ]);
  for (const order of [
    [5, 4, 3, 2, 1, 0],
    [3, 0, 5, 1, 4, 2],
    [2, 5, 1, 4, 0, 3],
  ]) {
    expect(await tell(order)).toEqual(inOrder);
  }
});

test('a run that is undone left nothing, and nothing stands against it; an allergen that comes late is found', async () => {
  const packer = await machine();
  const stew = await packer.seal('stew', 10);
  const rice = await packer.seal('rice', 20);
  const undo = (entryId: string) => kitchen.post('kitchen', '/v1/reversals', { entryId, reason: 'Wrong machine' });
  await undo(stew.runId);
  expect(await kinds(rice.lotId)).toEqual([]);
  await packer.seal('stew', 11);
  expect(await kinds(rice.lotId)).toEqual(['allergen-carry-over']);
  await undo(rice.runId);
  expect(await kinds(rice.lotId)).toEqual([]);

  const second = await machine();
  const first = await second.seal('stew', 10);
  const next = await second.seal('stew', 20);
  expect(await kinds(next.lotId)).toEqual([]);
  const mustard = await kitchen.shin(100, { allergens: ['mustard'] });
  const other = await kitchen.stew(await kitchen.shin(1_000), 1_000, 900);
  const path = `/v1/batches/${other.batchId}`;
  const run = {
    equipmentId: second.equipmentId,
    programme: 'Moist',
    startedAt: '2026-11-25T11:15:00Z',
    finishedAt: '2026-11-25T11:16:00Z',
  };
  const fill = { fromLotId: other.lotId, fromPlaceId: world.ckChillerId, usedQuantity: 300, usedUnit: 'g', packs: 1 };
  await kitchen.post('kitchen', `${path}/packing-runs`, {
    ...run,
    fills: [{ ...fill, packItemId: world.beefStewPackId }],
  });
  expect(await kinds(next.lotId)).toEqual([]);
  const late = { lotId: mustard, placeId: world.ckChillerId, quantity: 100, unit: 'g' };
  await kitchen.post('kitchen', `${path}/recorded-inputs`, { ...late, occurredAt: '2026-11-25T10:00:00Z' });
  expect((await against(next.lotId)).map((one) => one.detail.allergens)).toEqual([['mustard']]);
  expect(await kinds(first.lotId)).toEqual([]);
});
