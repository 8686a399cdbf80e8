/** A kitchen with stew, boiled rice and raw food to pack, and as many packing machines as a test wants. */
import { randomUUID } from 'node:crypto';
import { kitchenOf, type Json, type Kitchen } from './kitchen.ts';
import type { TestService } from './service.ts';
import { buildWorld, type World } from './world.ts';

type Food = 'stew' | 'rice' | 'raw';

export interface Machine {
  readonly equipmentId: string;
  /** packs food from one minute past eleven to the next; answers the lot of packs and what the packer was told */
  seal(
    what: Food,
    minute: number,
    how?: 'packing-runs' | 'recorded-packing-runs',
  ): Promise<{ lotId: string; runId: string; told: string[] }>;
  /** the same run, as it is sent */
  runOf(what: Food, minute: number): object;
  clean(minute: number, kind?: string): Promise<Json>;
}

export interface Packers {
  readonly world: World;
  readonly kitchen: Kitchen;
  /** its packing runs are sent there */
  readonly batchId: string;
  readonly machine: () => Promise<Machine>;
}

export async function packersOf(service: TestService): Promise<Packers> {
  const world = await buildWorld(service);
  const kitchen = kitchenOf(service, world);
  const plain = {
    allergens: [],
    handling: 'ready-to-eat',
    storageInstruction: 'Keep at 3 °C or below',
    life: { lifeDays: 3, anchor: 'production', dayOne: 'anchor-day-is-day-one' },
  };
  const riceId = randomUUID();
  const ricePackId = randomUUID();
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
  const { batchId } = stew;
  const load: Record<Food, string> = { stew: stew.lotId, rice: '', raw: '' };
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
  const at = (minute: number) => `2026-11-25T11:${String(minute).padStart(2, '0')}:00Z`;
  async function machine(): Promise<Machine> {
    const equipmentId = randomUUID();
    const code = equipmentId.slice(0, 18);
    const packer = { siteId: world.ckId, code, name: 'Chamber packer', kind: 'vacuum-packer' };
    await kitchen.post('operations', '/v1/equipment', { id: equipmentId, ...packer });
    const runOf = (what: Food, minute: number) => ({
      equipmentId,
      programme: 'Moist',
      startedAt: at(minute),
      finishedAt: at(minute + 1),
      fills: [
        {
          fromLotId: load[what],
          fromPlaceId: world.ckChillerId,
          toPlaceId: world.ckChillerId,
          usedQuantity: 300,
          usedUnit: 'g',
          packs: 1,
          packItemId: what === 'stew' ? world.beefStewPackId : ricePackId,
        },
      ],
    });
    return {
      equipmentId,
      runOf,
      async seal(what, minute, how = 'packing-runs') {
        const runId = randomUUID();
        const run = { id: runId, ...runOf(what, minute) };
        const packed = await kitchen.post('kitchen', `/v1/batches/${batchId}/${how}`, run);
        const told = packed.findings.map((one: Json) => one.kind).sort();
        return { lotId: packed.lots.find((one: Json) => one.packingRunId === runId).lotId, runId, told };
      },
      clean: (minute, kind = 'full') =>
        kitchen.post('kitchen', `/v1/equipment/${equipmentId}/clean-downs`, { occurredAt: at(minute), kind }),
    };
  }
  return { world, kitchen, batchId, machine };
}
