/** Items: what is bought, made, packed or used as packaging. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import {
  allergenCodes,
  code,
  factId,
  line,
  MAX_QUANTITY,
  pageQuery,
  text,
  unit,
  uuid,
} from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const kind = z.enum(['ingredient', 'prepared', 'packed', 'packaging']);
const handling = z.enum(['raw', 'ready-to-eat']).meta({ description: 'How it is handled: apart, or clean' });
const unitMassMg = z.int().min(1).max(MAX_QUANTITY).meta({
  description: 'Nominal mass of one unit in milligrams; may be left out for mg and g, where it is 1 and 1000',
  example: 300_000,
});
const gtin = z
  .string()
  .regex(/^(\d{8}|\d{12,14})$/, '8, 12, 13 or 14 digits')
  .nullable();
const life = z
  .strictObject({
    lifeDays: z.int().min(1).max(3650).optional(),
    lifeH: z.int().min(1).max(8760).optional(),
    anchor: z.enum(['end-of-cooking', 'first-seal', 'thaw-start', 'opening', 'production']),
    dayOne: z.enum(['anchor-day-is-day-one', 'day-after-is-day-one']),
  })
  .nullable()
  .meta({ description: 'Days, hours or both, and what they count from; null when nothing is computed' });
const hoursOrNull = z.int().min(1).max(8760).nullable();
const practice = {
  category: line(60)
    .nullable()
    .meta({ description: "Group of items in reports; the group's own words", example: 'Meat' }),
  storage: z
    .enum(['chilled', 'frozen', 'ambient'])
    .meta({ description: 'How it is kept; decides where it is put away' }),
  textureLevel: z
    .int()
    .min(0)
    .max(7)
    .nullable()
    .meta({ description: 'IDDSI level, see shared/diets.json; null when it has none' }),
  dietCodes: z
    .array(z.string().min(1).max(40))
    .max(20)
    .meta({ description: 'Diets that it suits, of shared/diets.json' }),
  portionsPerUnit: z
    .int()
    .min(1)
    .max(10_000)
    .nullable()
    .meta({ description: 'How many portions one unit (a pack) holds' }),
  openedItemId: uuid.nullable().meta({ description: 'What the food of an opened or regenerated pack is booked as' }),
  frozenLifeDays: z.int().min(1).max(3650).nullable().meta({ description: 'Days once frozen' }),
  thawedLifeH: hoursOrNull.meta({ description: 'Hours from the start of thawing' }),
  regeneratedLifeH: hoursOrNull.meta({ description: 'Hours once regenerated' }),
  entryUnits: z
    .array(
      z.strictObject({
        code: z
          .string()
          .regex(/^[a-z0-9][a-z0-9/.-]{0,19}$/, 'such as case, tin, tray or gn-1/1')
          .meta({ example: 'case' }),
        quantity: z.int().min(1).max(1_000_000_000).meta({ description: "How many of the item's own units" }),
      }),
    )
    .max(12)
    .meta({ description: 'What people count it in besides its unit: case, tin, tray, gastronorm sizes of EN 631' }),
};
const practiceWanted = z.object(practice).partial().shape;
const ingredients = text(4000).nullable().meta({
  description:
    'List of ingredients as printed on packs that are sold over a counter, the heaviest first; allergens in it are printed bold. A lot keeps the list that was in force when it was made',
  example: 'Beef (38 %), water, carrots, potatoes, onions, wheat flour, celery, rapeseed oil, salt, thyme',
});
const openedLifeH = z.int().min(1).max(8760).nullable().meta({ description: 'Hours once opened' });
const storageInstruction = line(200).meta({ example: 'Keep at 3 °C or below' });

const Item = z
  .object({
    itemId: uuid,
    code: z.string(),
    name: z.string(),
    kind,
    unit,
    unitMassMg: z.int(),
    netWeightG: z.number().optional().meta({ description: 'Pieces only: nominal mass of one in grams' }),
    gtin: z.string().nullable().meta({ description: '14 digits' }),
    allergens: z.array(z.string()).meta({ description: 'In the order of Annex II of Regulation (EU) No 1169/2011' }),
    mayContain: z.array(z.string()),
    handling,
    storageInstruction: z.string(),
    life: z
      .object({
        lifeDays: z.int().optional(),
        lifeH: z.int().optional(),
        anchor: z.string(),
        dayOne: z.string(),
      })
      .nullable(),
    openedLifeH: z.int().nullable(),
    ingredients,
    ...practice,
    lotTracked: z.boolean(),
    active: z.boolean(),
    version: z.int(),
  })
  .meta({ id: 'Item' });

const params = z.strictObject({ itemId: uuid });

export const createItem = defineOperation({
  id: 'createItem',
  method: 'post',
  path: '/v1/items',
  tag: 'catalogue',
  summary: 'Add an item',
  description: 'Kind, unit, unit mass, handling and lot tracking are fixed for ever.',
  permission: 'catalogue.write',
  naming: 'fact',
  mode: 'write',
  body: z.strictObject({
    id: factId,
    code,
    name: line(),
    kind,
    unit,
    unitMassMg: unitMassMg.optional(),
    gtin: gtin.optional(),
    allergens: allergenCodes,
    mayContain: allergenCodes.optional(),
    handling,
    storageInstruction,
    life: life.optional(),
    openedLifeH: openedLifeH.optional(),
    ingredients: ingredients.optional(),
    ...practiceWanted,
    lotTracked: z.boolean().optional().meta({ description: 'true if left out' }),
  }),
  answers: { 201: { description: 'Added', schema: Item, headers: ['Location', 'ETag'] } },
  errors: ['code-taken', 'rule-broken', 'allergen-unknown', 'diet-unknown', 'not-found'],
  example: {
    body: {
      id: exampleId('new/item'),
      code: 'LENTIL-DAL',
      name: 'Lentil dal',
      kind: 'prepared',
      unit: 'g',
      allergens: ['celery', 'mustard'],
      handling: 'ready-to-eat',
      storageInstruction: 'Keep at 3 °C or below',
      life: { lifeDays: 5, anchor: 'end-of-cooking', dayOne: 'anchor-day-is-day-one' },
      openedLifeH: 24,
    },
    role: 'operations',
    status: 201,
  },
});

export const listItems = defineOperation({
  id: 'listItems',
  method: 'get',
  path: '/v1/items',
  tag: 'catalogue',
  summary: 'Items by code',
  permission: 'catalogue.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery, kind: kind.optional(), code: code.optional() }),
  answers: { 200: { description: 'A page', schema: pageSchema(Item), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { query: { kind: 'packed' }, status: 200 },
});

export const getItem = defineOperation({
  id: 'getItem',
  method: 'get',
  path: '/v1/items/{itemId}',
  tag: 'catalogue',
  summary: 'One item',
  permission: 'catalogue.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The item', schema: Item, headers: ['ETag'] } },
  errors: ['not-found'],
  example: { params: { itemId: exampleId('item/beef-stew') }, status: 200 },
});

export const changeItem = defineOperation({
  id: 'changeItem',
  method: 'patch',
  path: '/v1/items/{itemId}',
  tag: 'catalogue',
  summary: 'Change an item for the lots that are yet to be made',
  description: 'Lots keep what they were born with.',
  permission: 'catalogue.write',
  naming: 'none',
  mode: 'write',
  conditional: true,
  params,
  body: z.strictObject({
    name: line().optional(),
    gtin: gtin.optional(),
    allergens: allergenCodes.optional(),
    mayContain: allergenCodes.optional(),
    storageInstruction: storageInstruction.optional(),
    life: life.optional(),
    openedLifeH: openedLifeH.optional(),
    ingredients: ingredients.optional(),
    ...practiceWanted,
    active: z.boolean().optional(),
  }),
  answers: { 200: { description: 'Changed', schema: Item, headers: ['ETag'] } },
  errors: ['not-found', 'rule-broken', 'allergen-unknown', 'diet-unknown'],
  example: {
    params: { itemId: exampleId('item/beef-shin') },
    body: { name: 'Beef shin, diced 30 mm' },
    ifMatch: '*',
    role: 'operations',
    status: 200,
  },
});
