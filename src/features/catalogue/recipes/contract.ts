/** Recipes: what one batch of an item is expected to take, give and go through. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { code, factId, line, pageQuery, quantity, unit, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { recipeSteps } from './store.ts';

const expectedYieldPpm = z.int().min(1).max(10_000_000).meta({
  description: 'Mass out over mass in, parts per million; above 1000000 where food gains water',
  example: 850_000,
});
const steps = z.array(z.enum(recipeSteps)).min(1).max(30);
const killStep = z.boolean().meta({ description: 'A passing heat step lies in it that makes raw food safe' });
const inputs = z
  .array(z.strictObject({ itemId: uuid, quantity, unit }))
  .min(1)
  .max(100)
  .meta({ description: 'Expected for one batch' });

const Recipe = z
  .object({
    recipeId: uuid,
    itemId: uuid,
    code: z.string(),
    name: z.string(),
    expectedYieldPpm: z.int(),
    steps: z.array(z.enum(recipeSteps)),
    killStep: z.boolean(),
    inputs: z.array(z.object({ itemId: uuid, quantity: z.int(), unit })),
    active: z.boolean(),
    version: z.int(),
  })
  .meta({ id: 'Recipe' });

const params = z.strictObject({ recipeId: uuid });

export const createRecipe = defineOperation({
  id: 'createRecipe',
  method: 'post',
  path: '/v1/recipes',
  tag: 'catalogue',
  summary: 'Add a recipe for an item',
  permission: 'catalogue.write',
  naming: 'fact',
  mode: 'write',
  body: z.strictObject({
    id: factId,
    itemId: uuid,
    code,
    name: line(),
    expectedYieldPpm,
    steps,
    killStep,
    inputs,
  }),
  answers: { 201: { description: 'Added', schema: Recipe, headers: ['Location', 'ETag'] } },
  errors: ['code-taken', 'not-found', 'item-unsuitable', 'unit-mismatch', 'rule-broken'],
  example: {
    body: {
      id: exampleId('new/recipe'),
      itemId: exampleId('item/beef-stew'),
      code: 'STEW-SMALL',
      name: 'Beef stew, small kettle',
      expectedYieldPpm: 850_000,
      steps: ['prepare', 'cook', 'chill', 'pack'],
      killStep: true,
      inputs: [{ itemId: exampleId('item/beef-shin'), quantity: 40_000, unit: 'g' }],
    },
    role: 'operations',
    status: 201,
  },
});

export const listRecipes = defineOperation({
  id: 'listRecipes',
  method: 'get',
  path: '/v1/recipes',
  tag: 'catalogue',
  summary: 'Recipes by code',
  permission: 'catalogue.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery, itemId: uuid.optional(), code: code.optional() }),
  answers: { 200: { description: 'A page', schema: pageSchema(Recipe), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { query: { itemId: exampleId('item/beef-stew') }, status: 200 },
});

export const getRecipe = defineOperation({
  id: 'getRecipe',
  method: 'get',
  path: '/v1/recipes/{recipeId}',
  tag: 'catalogue',
  summary: 'One recipe',
  permission: 'catalogue.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The recipe', schema: Recipe, headers: ['ETag'] } },
  errors: ['not-found'],
  example: { params: { recipeId: exampleId('recipe/beef-stew') }, status: 200 },
});

export const changeRecipe = defineOperation({
  id: 'changeRecipe',
  method: 'patch',
  path: '/v1/recipes/{recipeId}',
  tag: 'catalogue',
  summary: 'Change a recipe for the batches that are yet to be opened',
  permission: 'catalogue.write',
  naming: 'none',
  mode: 'write',
  conditional: true,
  params,
  body: z.strictObject({
    name: line().optional(),
    expectedYieldPpm: expectedYieldPpm.optional(),
    steps: steps.optional(),
    killStep: killStep.optional(),
    inputs: inputs.optional(),
    active: z.boolean().optional(),
  }),
  answers: { 200: { description: 'Changed', schema: Recipe, headers: ['ETag'] } },
  errors: ['not-found', 'unit-mismatch', 'rule-broken'],
  example: {
    params: { recipeId: exampleId('recipe/beef-stew') },
    body: { name: 'Beef stew, kettle 1' },
    ifMatch: '*',
    role: 'operations',
    status: 200,
  },
});
