/** A central kitchen that packs stew and a ward that it goes to, made over the API; then as many serialised packs on the road as asked for. */
import { exampleId } from '../src/platform/ids.ts';
import type { BenchService } from './service.ts';

const PACKS_A_LOT = 500;
const PACK_G = 300;
const ITEM = { allergens: [], handling: 'ready-to-eat', storageInstruction: 'Keep at 3 °C or below' };
const HERE = { timeZone: 'Europe/London', jurisdiction: 'GB-ENG' };

export interface PackLot {
  readonly lotId: string;
  readonly code: string;
  readonly packs: number;
}

/** Packs that have left the kitchen and are not seen yet. */
export interface Consignment {
  readonly dispatchId: string;
  readonly lots: readonly PackLot[];
}

export interface PackWorld {
  readonly wardId: string;
  readonly receivingPlaceId: string;
  readonly chillerId: string;
  /** `name` makes every id, `tag` the lot codes (at most eight characters) */
  send(name: string, tag: string, packs: number): Promise<Consignment>;
}

export async function makePackWorld(service: BenchService, seed: number): Promise<PackWorld> {
  const id = (name: string): string => exampleId(`bench/${seed}/${name}`);
  const at = (): string => new Date().toISOString();
  const add = async (path: string, name: string, fields: object): Promise<string> => {
    await service.post(path, { id: id(name), ...fields });
    return id(name);
  };
  const kitchenId = await add('/v1/sites', 'kitchen', {
    code: 'CK',
    name: 'Kitchen',
    kind: 'central-kitchen',
    ...HERE,
  });
  const ward = await service.post('/v1/sites', {
    id: id('ward'),
    code: 'W1',
    name: 'Ward 1 pantry',
    kind: 'satellite',
    ...HERE,
  });
  const chiller = { code: 'CHILL', name: 'Chiller', kind: 'chiller' };
  const kitchenChillerId = await add('/v1/places', 'kitchen-chiller', { siteId: kitchenId, ...chiller });
  const chillerId = await add('/v1/places', 'ward-chiller', { siteId: id('ward'), ...chiller });
  const packer = { siteId: kitchenId, code: 'PACK', name: 'Packer', kind: 'vacuum-packer' };
  const packerId = await add('/v1/equipment', 'packer', packer);
  const supplierId = await add('/v1/suppliers', 'supplier', { code: 'BROOK', name: 'Brook Farm Meats' });
  const item = (name: string, kind: string, more: object) =>
    add('/v1/items', name, { code: name.toUpperCase(), name, kind, ...ITEM, ...more });
  const shinId = await item('shin', 'ingredient', { unit: 'g', handling: 'raw' });
  const life = { lifeDays: 5, anchor: 'end-of-cooking', dayOne: 'anchor-day-is-day-one' };
  const stewId = await item('stew', 'prepared', { unit: 'g', life });
  const packId = await item('stew-pack', 'packed', { unit: 'piece', unitMassMg: PACK_G * 1000, life });
  const inputs = [{ itemId: shinId, quantity: 1000, unit: 'g' }];
  const steps = ['prepare', 'cook', 'chill', 'pack'];
  const recipe = { itemId: stewId, code: 'STEW', name: 'Stew', expectedYieldPpm: 1_000_000, steps, inputs };
  const recipeId = await add('/v1/recipes', 'recipe', { ...recipe, killStep: true });

  return {
    wardId: id('ward'),
    receivingPlaceId: ward.receivingPlaceId,
    chillerId,
    async send(name, tag, packs) {
      const massG = packs * PACK_G;
      const shin = { lotId: id(`${name}/shin`), itemId: shinId, placeId: kitchenChillerId, quantity: massG, unit: 'g' };
      await add('/v1/goods-receipts', `${name}/goods`, {
        siteId: kitchenId,
        supplierId,
        occurredAt: at(),
        lines: [shin],
      });
      const batchId = await add('/v1/batches', `${name}/batch`, { siteId: kitchenId, recipeId });
      const batch = `/v1/batches/${batchId}`;
      const from = { placeId: kitchenChillerId, quantity: massG, unit: 'g' };
      await add(`${batch}/inputs`, `${name}/input`, { lotId: shin.lotId, ...from });
      const load = { lotId: id(`${name}/load`), ...from, cookEndedAt: at() };
      await add(`${batch}/outputs`, `${name}/output`, { loads: [load] });
      const lots = Array.from({ length: Math.ceil(packs / PACKS_A_LOT) }, (_, no): PackLot => {
        const size = Math.min(PACKS_A_LOT, packs - no * PACKS_A_LOT);
        return { lotId: id(`${name}/lot/${no}`), code: `${tag}-${no}`, packs: size };
      });
      const fills = lots.map((lot) => ({
        fromLotId: load.lotId,
        fromPlaceId: kitchenChillerId,
        usedQuantity: lot.packs * PACK_G,
        usedUnit: 'g',
        packItemId: packId,
        packs: lot.packs,
        packLotId: lot.lotId,
        packLotCode: lot.code,
        toPlaceId: kitchenChillerId,
      }));
      const run = { equipmentId: packerId, programme: 'Moist', startedAt: at(), finishedAt: at(), fills };
      await add(`${batch}/packing-runs`, `${name}/run`, run);
      await add(`${batch}/release`, `${name}/release`, {});
      const lines = lots.map((lot) => ({
        lotId: lot.lotId,
        placeId: kitchenChillerId,
        quantity: lot.packs,
        unit: 'piece',
        serials: Array.from({ length: lot.packs }, (_, no) => String(no + 1)),
      }));
      const plan = { fromSiteId: kitchenId, toSiteId: id('ward'), lines };
      const dispatchId = await add('/v1/dispatches', `${name}/dispatch`, plan);
      await add(`/v1/dispatches/${dispatchId}/departure`, `${name}/departure`, {});
      return { dispatchId, lots };
    },
  };
}
