/** What a packing machine leaves behind, in whatever order it is recorded. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let riceId: string;
let ricePackId: string;
let batchId: string;
const load: Record<'stew' | 'rice' | 'raw', string> = { stew: '', rice: '', raw: '' };

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  const plain = {
    allergens: [],
    handling: 'ready-to-eat',
    storageInstruction: 'Keep at 3 °C or below',
    life: { lifeDays: 3, anchor: 'production', dayOne: 'anchor-day-is-day-one' },
  };
  riceId = randomUUID();
  ricePackId = randomUUID();
  const post = (path: string, body: object) => kitchen.post('operations', path, body);
  await post('/v1/items', { id: riceId, code: 'RICE', name: 'Boiled rice', kind: 'prepared', unit: 'g', ...plain });
  const packs = { code: 'RICE-300', name: 'Boiled rice, pack', kind: 'packed', unit: 'piece', unitMassMg: 300_000 };
  await post('/v1/items', { id: ricePackId, ...packs, ...plain });
  const recipe = (code: string, killStep: boolean) => ({
    id: randomUUID(),
    itemId: riceId,
    code,
    name: code,
    expectedYieldPpm: 1_000_000,
    steps: ['prepare', 'cook'],
    killStep,
    inputs: [{ itemId: world.beefShinId, quantity: 1_000, unit: 'g' }],
  });
  const stew = await kitchen.stew(await kitchen.shin(50_000), 50_000, 50_000);
  batchId = stew.batchId;
  load.stew = stew.lotId;
  for (const [name, killStep] of [
    ['rice', true],
    ['raw', false],
  ] as const) {
    const { recipeId } = await post('/v1/recipes', recipe(name.toUpperCase(), killStep));
    const made = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId });
    const input = { lotId: await kitchen.shin(50_000), placeId: world.ckChillerId, quantity: 50_000, unit: 'g' };
    await kitchen.post('kitchen', `/v1/batches/${made.batchId}/inputs`, input);
    const loads = [{ placeId: world.ckChillerId, quantity: 50_000, unit: 'g' }];
    load[name] = (await kitchen.post('kitchen', `/v1/batches/${made.batchId}/outputs`, { loads })).lots[0].lotId;
  }
});
afterAll(() => service.stop());

interface Machine {
  readonly equipmentId: string;
  /** packs food from one minute past eleven to the next; answers the lot of packs and what the packer was told */
  seal(what: 'stew' | 'rice' | 'raw', minute: number): Promise<{ lotId: string; runId: string; told: string[] }>;
  clean(minute: number, kind?: string): Promise<Json>;
}

async function machine(): Promise<Machine> {
  const equipmentId = randomUUID();
  const code = equipmentId.slice(0, 18);
  const packer = { siteId: world.ckId, code, name: 'Chamber packer', kind: 'vacuum-packer' };
  await kitchen.post('operations', '/v1/equipment', { id: equipmentId, ...packer });
  const at = (minute: number) => `2026-11-25T11:${String(minute).padStart(2, '0')}:00Z`;
  return {
    equipmentId,
    async seal(what, minute) {
      const runId = randomUUID();
      const fill = {
        fromLotId: load[what],
        fromPlaceId: world.ckChillerId,
        toPlaceId: world.ckChillerId,
        usedQuantity: 300,
        usedUnit: 'g',
        packs: 1,
      };
      const packItemId = what === 'stew' ? world.beefStewPackId : ricePackId;
      const run = { equipmentId, programme: 'Moist', startedAt: at(minute), finishedAt: at(minute + 1) };
      const packed = await kitchen.post('kitchen', `/v1/batches/${batchId}/packing-runs`, {
        id: runId,
        ...run,
        fills: [{ ...fill, packItemId }],
      });
      const told = packed.findings.map((one: Json) => one.kind).sort();
      return { lotId: packed.lots.find((one: Json) => one.packingRunId === runId).lotId, runId, told };
    },
    clean: (minute, kind = 'full') =>
      kitchen.post('kitchen', `/v1/equipment/${equipmentId}/clean-downs`, { occurredAt: at(minute), kind }),
  };
}
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

test('raw before ready-to-eat', async () => {
  const packer = await machine();
  await packer.seal('raw', 10);
  expect((await packer.seal('raw', 20)).told).toEqual([]);
  expect((await packer.seal('rice', 30)).told).toEqual(['raw-before-ready-to-eat']);
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
      else lots.set(step, (await packer.seal(what, 10 + 5 * step)).lotId);
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
