/**
 * A day of a kitchen: goods in at six, three dishes cooked, packed and released, what is left over thrown away. The packs of a day leave
 * for the sites on the next one.
 */
import { chanceOf } from './random.ts';
import type { Api } from './api.ts';
import { DISHES, dishId, ingredientId, packG, packItemId, recipeId, supplierId, type Dish } from './catalogue.ts';
import type { Plan, ScenarioKitchen } from './plan.ts';

const DISHES_A_DAY = 3;
/** Of the load; the rest stays in the pan or fills no pack. */
const PACKED_SHARE = 0.98;

export interface PackLot {
  readonly lotId: string;
  readonly code: string;
  readonly packs: number;
}

/** What a kitchen packs on a day, known without asking: the sites of the next day divide it. */
export function packLotsOf(plan: Plan, kitchen: ScenarioKitchen, day: number): readonly (PackLot & { dish: Dish })[] {
  return Array.from({ length: DISHES_A_DAY }, (_, no) => {
    const dish = DISHES[(day + no * 2) % DISHES.length] as Dish;
    const chance = chanceOf(`${plan.seed}/packs/${kitchen.code}/${day}/${dish.code}`);
    const packs = Math.max(12, kitchen.serves.length * chance.whole(10, 16));
    const code = `${dish.code}-${kitchen.code}-${plan.stamp(day)}`;
    return { dish, code, packs, lotId: plan.id(`lot/${code}`) };
  });
}

export async function kitchenDay(api: Api, plan: Plan, kitchen: ScenarioKitchen, day: number): Promise<void> {
  const lots = packLotsOf(plan, kitchen, day);
  const works = lots.map((lot) => workOf(plan, kitchen, day, lot));
  const name = `${kitchen.code}/${day}`;
  const occurredAt = plan.at(day, 6.25);
  if (occurredAt === null) return;
  await api.post('/v1/goods-receipts', {
    id: plan.id(`goods/${name}`),
    siteId: kitchen.siteId,
    supplierId: supplierId(plan),
    documentNumber: `DN-${kitchen.code}-${plan.stamp(day)}`,
    occurredAt,
    lines: works.flatMap(({ inputs }) =>
      inputs.map(({ lotId, lotCode, itemId, quantity }) => ({
        lotId,
        lotCode,
        itemId,
        placeId: kitchen.freezerId,
        quantity,
        unit: 'g',
        temperatureC: -19,
        priceMinor: Math.round(quantity * 0.4),
      })),
    ),
  });
  for (const work of works) await cook(api, plan, kitchen, day, work);
}

interface Work extends PackLot {
  readonly dish: Dish;
  readonly loadG: number;
  readonly inputs: readonly { lotId: string; lotCode: string; itemId: string; quantity: number }[];
}

function workOf(plan: Plan, kitchen: ScenarioKitchen, day: number, lot: PackLot & { dish: Dish }): Work {
  const chance = chanceOf(`${plan.seed}/load/${lot.code}`);
  const loadG = Math.round((lot.packs * packG) / PACKED_SHARE);
  const inG = Math.round((loadG * 100) / (lot.dish.yieldPercent + chance.whole(-2, 2)));
  const inputs = Object.entries(lot.dish.parts).map(([part, share]) => {
    const lotCode = `${part}-${kitchen.code}-${plan.stamp(day)}${DISHES.indexOf(lot.dish)}`;
    const quantity = Math.round((inG * share) / 100);
    return { lotId: plan.id(`lot/${lotCode}`), lotCode, itemId: ingredientId(plan, part), quantity };
  });
  return { ...lot, loadG, inputs };
}

async function cook(api: Api, plan: Plan, kitchen: ScenarioKitchen, day: number, work: Work): Promise<void> {
  const { dish, code, lotId, packs, loadG, inputs } = work;
  const [startedAt, intoAt, cookedAt, packingAt, packedAt, doneAt] = [7, 7.25, 9, 10, 11.25, 12].map((hour) =>
    plan.at(day, hour),
  );
  if (!startedAt || !intoAt) return;
  const id = (what: string): string => plan.id(`${what}/${code}`);
  const batch = { siteId: kitchen.siteId, recipeId: recipeId(plan, dish), startedAt };
  await api.post('/v1/batches', { id: id('batch'), code: `B-${code}`, ...batch });
  const path = `/v1/batches/${id('batch')}`;
  for (const [at, { lotId: fromId, quantity }] of inputs.entries()) {
    const input = { lotId: fromId, placeId: kitchen.freezerId, quantity, unit: 'g', occurredAt: intoAt };
    await api.post(`${path}/inputs`, { id: id(`input-${at}`), ...input });
  }
  if (!cookedAt) return;
  const load = { lotId: id('load'), lotCode: `L-${code}`, itemId: dishId(plan, dish), placeId: kitchen.freezerId };
  await api.post(`${path}/outputs`, {
    id: id('output'),
    occurredAt: cookedAt,
    loads: [{ ...load, quantity: loadG, unit: 'g', cookEndedAt: cookedAt }],
  });
  if (!packingAt || !packedAt) return;
  await api.post(`${path}/packing-runs`, {
    id: id('packing'),
    equipmentId: kitchen.packerId,
    programme: 'Moist dishes',
    startedAt: packingAt,
    finishedAt: packedAt,
    fills: [
      {
        fromLotId: load.lotId,
        fromPlaceId: kitchen.freezerId,
        usedQuantity: packs * packG,
        usedUnit: 'g',
        packItemId: packItemId(plan, dish),
        packs,
        packLotId: lotId,
        packLotCode: code,
        toPlaceId: kitchen.freezerId,
      },
    ],
  });
  if (!doneAt) return;
  const lostG = inputs.reduce((sum, input) => sum + input.quantity, 0) - loadG;
  const losses = lostG > 0 ? [{ kind: 'cooking-loss', massG: lostG }] : [];
  await api.post(`${path}/completion`, { id: id('completion'), completedAt: doneAt, losses });
  await api.post(`${path}/release`, { id: id('release') });
  const rest = { lotId: load.lotId, placeId: kitchen.freezerId, quantity: loadG - packs * packG, unit: 'g' };
  const thrown = { reason: 'over-production', destination: 'anaerobic-digestion', occurredAt: doneAt };
  if (rest.quantity > 0) await api.post('/v1/discards', { id: id('rest'), ...rest, ...thrown });
}
