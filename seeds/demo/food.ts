/**
 * What is bought, cooked and packed, and the recipes. Dishes keep five days with the day of cooking counted, the rule of thumb of chilled
 * food in British kitchens (common practice); quantities and yields are believable, not anybody's recipe.
 */
import { exampleId } from '../../src/platform/ids.ts';
import { as, type Door } from './door.ts';
import { BEEF_SHIN_GTIN } from './exchange-announced.ts';

const COLD = 'Keep at 5 °C or below';
const FROZEN = 'Keep at -18 °C or below';
const DRY = 'Keep dry and cool';

/** example name, code, name, handling, storage, allergens */
const INGREDIENTS = [
  ['beef-shin', 'BEEF-SHIN', 'Beef shin, diced', 'raw', COLD, []],
  ['chicken-thigh', 'CHICKEN-THIGH', 'Chicken thigh, boned', 'raw', COLD, []],
  ['carrots', 'CARROTS', 'Carrots', 'raw', COLD, []],
  ['onions', 'ONIONS', 'Onions', 'raw', DRY, []],
  ['potatoes', 'POTATOES', 'Potatoes', 'raw', DRY, []],
  ['leeks', 'LEEKS', 'Leeks', 'raw', COLD, []],
  ['celery', 'CELERY', 'Celery', 'raw', COLD, ['celery']],
  ['garlic', 'GARLIC', 'Garlic, peeled', 'raw', COLD, []],
  ['peas', 'PEAS', 'Peas, frozen', 'raw', FROZEN, []],
  ['parsley', 'PARSLEY', 'Parsley, fresh', 'raw', COLD, []],
  ['milk', 'MILK', 'Whole milk', 'ready-to-eat', COLD, ['milk']],
  ['cream', 'CREAM', 'Single cream', 'ready-to-eat', COLD, ['milk']],
  ['butter', 'BUTTER', 'Butter', 'ready-to-eat', COLD, ['milk']],
  ['yoghurt', 'YOGHURT', 'Plain yoghurt', 'ready-to-eat', COLD, ['milk']],
  ['dressing', 'DRESSING', 'Salad dressing with egg', 'ready-to-eat', COLD, ['eggs', 'mustard']],
  ['tomatoes', 'TOMATOES-TIN', 'Chopped tomatoes, tinned', 'ready-to-eat', DRY, []],
  ['tomato-puree', 'TOMATO-PUREE', 'Tomato purée', 'ready-to-eat', DRY, []],
  ['lentils', 'LENTILS-RED', 'Red lentils', 'raw', DRY, []],
  ['long-grain', 'RICE-LONG', 'Long grain rice', 'raw', DRY, []],
  ['flour', 'FLOUR-PLAIN', 'Plain wheat flour', 'raw', DRY, ['gluten-cereals:wheat']],
  ['bouillon', 'BOUILLON-VEG', 'Vegetable bouillon', 'ready-to-eat', DRY, ['celery']],
  ['curry-powder', 'CURRY-POWDER', 'Mild curry powder', 'raw', DRY, ['mustard']],
  ['pepper', 'PEPPER-BLACK', 'Black pepper, ground', 'raw', DRY, []],
  ['thyme', 'THYME-DRIED', 'Thyme, dried', 'raw', DRY, []],
] as const;

/** Groups of the reports, by the example names of what is in them. */
const CATEGORIES: Readonly<Record<string, readonly string[]>> = {
  'Meat and poultry': ['beef-shin', 'chicken-thigh'],
  'Vegetables and herbs': ['carrots', 'onions', 'potatoes', 'leeks', 'celery', 'garlic', 'peas', 'parsley'],
  Dairy: ['milk', 'cream', 'butter', 'yoghurt'],
  'Dry store': [
    ...['dressing', 'tomatoes', 'tomato-puree', 'lentils', 'long-grain', 'flour', 'bouillon', 'curry-powder'],
    ...['pepper', 'thyme', 'oil', 'salt'],
  ],
  'Main dishes': ['beef-stew', 'lentil-dahl', 'chicken-leek'],
  'Soups and sauces': ['tomato-soup', 'gravy'],
  Sides: ['rice'],
  Packaging: ['pouch'],
};
const categoryOf = (name: string): string | undefined =>
  Object.keys(CATEGORIES).find((category) => CATEGORIES[category]?.includes(name.replace(/-pack$/, '')));

export type Dish = 'beef-stew' | 'lentil-dahl' | 'chicken-leek' | 'tomato-soup' | 'rice' | 'gravy';

interface DishFacts {
  readonly name: string;
  readonly packG: number;
  /** of its packs; in GS1's range for demonstrations (952), with the company prefix of the demo's crates */
  readonly gtin: string;
  /** as printed on its packs, the heaviest first; shares are those of the recipe */
  readonly ingredients: string;
  readonly allergens: readonly string[];
  /** parts per million of what goes in, water included */
  readonly yieldPpm: number;
  readonly steps: readonly string[];
  /** grams (oil: millilitres) for one batch; salt and water are not kept by lot */
  readonly inputs: Readonly<Record<string, number>>;
  readonly programme: string;
  /** diets that its packs are marked with */
  readonly dietCodes?: readonly string[];
}

const KETTLE = ['prepare', 'cook', 'chill', 'pack'];
const MOIST = 'Moist dishes, soft vacuum';

export const DISHES: Readonly<Record<Dish, DishFacts>> = {
  'beef-stew': {
    name: 'Beef stew',
    packG: 300,
    gtin: '09520123001018',
    ingredients:
      'Beef (34 %), water, potatoes, carrots, onions, wheat flour, rapeseed oil, vegetable bouillon (celery), salt, thyme',
    allergens: ['gluten-cereals:wheat', 'celery'],
    yieldPpm: 880_000,
    steps: KETTLE,
    inputs: {
      'beef-shin': 12_000,
      carrots: 4_000,
      onions: 3_000,
      potatoes: 5_000,
      flour: 600,
      bouillon: 250,
      oil: 400,
      thyme: 20,
      salt: 150,
      water: 9_500,
    },
    programme: MOIST,
  },
  'lentil-dahl': {
    name: 'Lentil dahl',
    packG: 300,
    gtin: '09520123001025',
    ingredients:
      'Water, red lentils (23 %), tomatoes, onions, curry powder (mustard), rapeseed oil, garlic, vegetable bouillon (celery), salt',
    allergens: ['mustard', 'celery'],
    yieldPpm: 900_000,
    steps: KETTLE,
    inputs: {
      lentils: 7_000,
      onions: 2_500,
      tomatoes: 4_000,
      garlic: 200,
      'curry-powder': 300,
      bouillon: 150,
      oil: 300,
      salt: 120,
      water: 16_000,
    },
    programme: MOIST,
    dietCodes: ['vegan', 'vegetarian'],
  },
  'chicken-leek': {
    name: 'Chicken and leek pie filling',
    packG: 350,
    gtin: '09520123001032',
    ingredients:
      'Chicken (45 %), milk, leeks (19 %), cream (milk), butter (milk), wheat flour, vegetable bouillon (celery), salt, pepper',
    allergens: ['gluten-cereals:wheat', 'milk', 'celery'],
    yieldPpm: 870_000,
    steps: KETTLE,
    inputs: {
      'chicken-thigh': 12_000,
      leeks: 5_000,
      milk: 6_000,
      cream: 1_500,
      butter: 900,
      flour: 900,
      bouillon: 150,
      pepper: 20,
      salt: 120,
    },
    programme: MOIST,
  },
  'tomato-soup': {
    name: 'Tomato soup',
    packG: 250,
    gtin: '09520123001049',
    ingredients: 'Tomatoes (43 %), water, carrots, onions, celery, tomato purée, salt',
    allergens: ['celery'],
    yieldPpm: 930_000,
    steps: KETTLE,
    inputs: {
      tomatoes: 10_000,
      carrots: 2_000,
      onions: 2_000,
      celery: 800,
      'tomato-puree': 500,
      salt: 100,
      water: 8_000,
    },
    programme: 'Soups, soft vacuum',
  },
  rice: {
    name: 'Boiled rice',
    packG: 180,
    gtin: '09520123001056',
    ingredients: 'Water, rice (33 %), salt',
    allergens: [],
    yieldPpm: 950_000,
    steps: ['cook', 'chill', 'pack'],
    inputs: { 'long-grain': 6_000, salt: 60, water: 12_000 },
    programme: 'Grains, full vacuum',
  },
  gravy: {
    name: 'Gravy',
    packG: 1_000,
    gtin: '09520123001063',
    ingredients: 'Water, onions, carrots, wheat flour, celery, vegetable bouillon (celery), rapeseed oil, pepper',
    allergens: ['gluten-cereals:wheat', 'celery'],
    yieldPpm: 920_000,
    steps: KETTLE,
    inputs: {
      onions: 1_500,
      carrots: 1_000,
      celery: 400,
      flour: 700,
      bouillon: 300,
      oil: 300,
      pepper: 10,
      water: 14_000,
    },
    programme: 'Sauces, soft vacuum',
  },
};

/** Not kept by lot: taken from the tap or the sack without a record of its own. */
export const STANDING = ['water', 'salt'];
/** Litres' thousandths; everything else is in grams. */
export const unitOf = (item: string): 'g' | 'ml' => (item === 'oil' || item === 'water' ? 'ml' : 'g');

export async function addFood(door: Door): Promise<void> {
  const admin = as('admin');
  const item = (name: string, fields: object) =>
    door.post(admin, '/v1/items', `item/${name}`, { ...fields, category: categoryOf(name) });
  for (const [key, code, name, handling, storageInstruction, allergens] of INGREDIENTS) {
    const gtin = key === 'beef-shin' ? { gtin: BEEF_SHIN_GTIN } : {};
    await item(key, { code, name, kind: 'ingredient', unit: 'g', allergens, handling, storageInstruction, ...gtin });
  }
  const plain = { kind: 'ingredient', allergens: [], handling: 'ready-to-eat', storageInstruction: DRY };
  await item('oil', { ...plain, code: 'OIL-RAPESEED', name: 'Rapeseed oil', unit: 'ml', unitMassMg: 920 });
  await item('water', { ...plain, code: 'WATER', name: 'Tap water', unit: 'ml', unitMassMg: 1_000, lotTracked: false });
  await item('salt', { ...plain, code: 'SALT', name: 'Salt', unit: 'g', lotTracked: false });
  const pouch = { ...plain, code: 'POUCH-500', name: 'Pouch for up to 500 g', kind: 'packaging', unit: 'piece' };
  await item('pouch', { ...pouch, unitMassMg: 7_400, lotTracked: false });
  for (const [key, dish] of Object.entries(DISHES)) {
    const code = key.toUpperCase();
    const life = { lifeDays: 5, anchor: 'end-of-cooking', dayOne: 'anchor-day-is-day-one' };
    const cooked = {
      allergens: dish.allergens,
      handling: 'ready-to-eat',
      storageInstruction: 'Keep at 3 °C or below. Heat to 75 °C in the middle.',
      life,
      openedLifeH: 24,
    };
    await item(key, { ...cooked, code, name: dish.name, kind: 'prepared', unit: 'g' });
    const packed = { code: `${code}-${dish.packG}`, name: `${dish.name}, pack of ${dish.packG} g`, kind: 'packed' };
    await item(`${key}-pack`, {
      ...cooked,
      ...packed,
      gtin: dish.gtin,
      ingredients: dish.ingredients,
      unit: 'piece',
      unitMassMg: dish.packG * 1000,
      portionsPerUnit: dish.packG > 500 ? 10 : 1,
      openedItemId: exampleId(`item/${key}`),
      ...(dish.dietCodes && { dietCodes: dish.dietCodes }),
    });
    await door.post(admin, '/v1/recipes', `recipe/${key}`, {
      itemId: exampleId(`item/${key}`),
      code,
      name: dish.name,
      expectedYieldPpm: dish.yieldPpm,
      steps: dish.steps,
      killStep: true,
      inputs: Object.entries(dish.inputs).map(([input, quantity]) => ({
        itemId: exampleId(`item/${input}`),
        quantity,
        unit: unitOf(input),
      })),
    });
  }
}
