/**
 * Sites, places, items and recipes. The food is frozen and keeps for 400 days: the service holds a departure or a batch against its own
 * clock, so what was cooked weeks ago must still be good when it is entered today.
 */
import type { Api } from './api.ts';
import { ZONE, type Plan } from './plan.ts';

const LIFE = { lifeDays: 400, dayOne: 'anchor-day-is-day-one' };
const FROZEN = 'Keep at -18 °C or below';
const PACK_G = 300;

export interface Dish {
  readonly code: string;
  readonly name: string;
  readonly allergens: readonly string[];
  /** what goes in, in parts of a hundred */
  readonly parts: Readonly<Record<string, number>>;
  /** what is left of it after cooking, in parts of a hundred */
  readonly yieldPercent: number;
}

const INGREDIENTS: Readonly<Record<string, { name: string; handling: string; allergens: readonly string[] }>> = {
  BEEF: { name: 'Beef shin, diced', handling: 'raw', allergens: [] },
  CHICKEN: { name: 'Chicken thigh, diced', handling: 'raw', allergens: [] },
  LENTILS: { name: 'Red lentils', handling: 'raw', allergens: [] },
  ROOTS: { name: 'Carrot and swede, cut', handling: 'raw', allergens: [] },
  ONION: { name: 'Onions, cut', handling: 'raw', allergens: [] },
  STOCK: { name: 'Vegetable stock', handling: 'ready-to-eat', allergens: ['celery'] },
  CREAM: { name: 'Cream', handling: 'ready-to-eat', allergens: ['milk'] },
};

export const DISHES: readonly Dish[] = [
  {
    code: 'STEW',
    name: 'Beef stew',
    allergens: ['celery'],
    parts: { BEEF: 45, ROOTS: 35, STOCK: 20 },
    yieldPercent: 84,
  },
  {
    code: 'CASS',
    name: 'Chicken casserole',
    allergens: ['celery'],
    parts: { CHICKEN: 50, ONION: 20, STOCK: 30 },
    yieldPercent: 87,
  },
  {
    code: 'DAHL',
    name: 'Lentil dahl',
    allergens: ['celery'],
    parts: { LENTILS: 40, ONION: 15, STOCK: 45 },
    yieldPercent: 94,
  },
  {
    code: 'SOUP',
    name: 'Root soup',
    allergens: ['celery', 'milk'],
    parts: { ROOTS: 50, STOCK: 40, CREAM: 10 },
    yieldPercent: 96,
  },
  {
    code: 'FRIC',
    name: 'Chicken fricassee',
    allergens: ['milk'],
    parts: { CHICKEN: 60, ONION: 20, CREAM: 20 },
    yieldPercent: 88,
  },
];

export const packG = PACK_G;
export const ingredientId = (plan: Plan, code: string): string => plan.id(`item/${code}`);
export const dishId = (plan: Plan, dish: Dish): string => plan.id(`item/${dish.code}`);
export const packItemId = (plan: Plan, dish: Dish): string => plan.id(`item/${dish.code}-PACK`);
export const recipeId = (plan: Plan, dish: Dish): string => plan.id(`recipe/${dish.code}`);
export const supplierId = (plan: Plan): string => plan.id('supplier/brook');

export async function addCatalogue(api: Api, plan: Plan): Promise<void> {
  const supplier = { id: supplierId(plan), code: 'BROOK', name: 'Brook Farm Foods' };
  await api.post('/v1/suppliers', supplier);
  for (const kitchen of plan.kitchens) {
    await addSite(api, plan, kitchen.code, 'central-kitchen', 'Kitchen');
    const packer = { code: 'PACK', name: 'Packer', kind: 'vacuum-packer' };
    await api.post('/v1/equipment', { id: kitchen.packerId, siteId: kitchen.siteId, ...packer });
    for (const { code } of kitchen.serves) await addSite(api, plan, code, 'satellite', 'Pantry');
  }
  for (const [code, { name, handling, allergens }] of Object.entries(INGREDIENTS)) {
    const item = { code, name, kind: 'ingredient', unit: 'g', handling, allergens, storageInstruction: FROZEN };
    await api.post('/v1/items', { id: ingredientId(plan, code), ...item });
  }
  for (const dish of DISHES) await addDish(api, plan, dish);
}

async function addSite(api: Api, plan: Plan, code: string, kind: string, word: string): Promise<void> {
  const siteId = plan.id(`site/${code}`);
  const where = { timeZone: ZONE, jurisdiction: 'GB-ENG' };
  await api.post('/v1/sites', { id: siteId, code, name: `${word} ${code.slice(1)}`, kind, ...where });
  const freezer = { siteId, code: 'FREEZE', name: 'Freezer', kind: 'freezer' };
  await api.post('/v1/places', { id: plan.id(`place/${code}/freezer`), ...freezer });
}

async function addDish(api: Api, plan: Plan, dish: Dish): Promise<void> {
  const { code, name, allergens } = dish;
  const made = { allergens, handling: 'ready-to-eat', storageInstruction: FROZEN };
  await api.post('/v1/items', {
    id: dishId(plan, dish),
    code,
    name,
    kind: 'prepared',
    unit: 'g',
    ...made,
    life: { ...LIFE, anchor: 'end-of-cooking' },
  });
  await api.post('/v1/items', {
    id: packItemId(plan, dish),
    code: `${code}-PACK`,
    name: `${name}, pack of ${PACK_G} g`,
    kind: 'packed',
    unit: 'piece',
    unitMassMg: PACK_G * 1000,
    ...made,
    life: { ...LIFE, anchor: 'first-seal' },
  });
  await api.post('/v1/recipes', {
    id: recipeId(plan, dish),
    itemId: dishId(plan, dish),
    code,
    name,
    expectedYieldPpm: dish.yieldPercent * 10_000,
    steps: ['prepare', 'cook', 'chill', 'pack'],
    killStep: true,
    inputs: Object.entries(dish.parts).map(([part, share]) => ({
      itemId: ingredientId(plan, part),
      quantity: share * 100,
      unit: 'g',
    })),
  });
}
