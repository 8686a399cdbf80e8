/** Refusals: `not-found`, `item-unsuitable`, `unit-mismatch`, `rule-broken`, `code-taken`, `version-mismatch`. */
import { notFound, Refused } from '../../../domain/errors.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { requireVersion } from '../../../platform/http/etags.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { createdReply, stateReply } from '../../../platform/http/replies.ts';
import { findItems, type ItemRow } from '../items/store.ts';
import { brokenRule, insertVersions } from '../store.ts';
import type { changeRecipe, createRecipe, getRecipe, listRecipes } from './contract.ts';
import * as store from './store.ts';

/** Steps that can be a kill step at all; whether one was is a check of the batch. */
const HEATING: readonly store.RecipeStep[] = ['cook', 'cook-in-pack', 'pasteurise', 'hot-fill', 'regenerate'];

function requireHeat(steps: readonly store.RecipeStep[], killStep: boolean): void {
  if (killStep && !steps.some((step) => HEATING.includes(step))) {
    throw brokenRule('#/killStep', 'No step of it heats the food.');
  }
}

function requireInputs(inputs: readonly store.RecipeInput[], items: ReadonlyMap<string, ItemRow>): void {
  const seen = new Set<string>();
  for (const [at, input] of inputs.entries()) {
    const item = items.get(input.itemId);
    if (!item) throw notFound('item');
    if (item.unit !== input.unit) {
      const detail = `${item.name} is kept in ${item.unit}.`;
      throw new Refused('unit-mismatch', detail, { errors: [{ detail, pointer: `#/inputs/${at}/unit` }] });
    }
    if (seen.has(input.itemId)) throw brokenRule(`#/inputs/${at}/itemId`, `${item.name} is there twice.`);
    seen.add(input.itemId);
  }
}

export async function createRecipeCommand(context: Context<typeof createRecipe>): Promise<Reply> {
  const { tx, body, factId } = context;
  const items = await findItems(tx, [body.itemId, ...body.inputs.map((input) => input.itemId)]);
  const made = items.get(body.itemId);
  if (!made) throw notFound('item');
  if (made.kind !== 'prepared' && made.kind !== 'packed') {
    throw new Refused('item-unsuitable', `${made.name} is not made here: choose a prepared or packed item.`);
  }
  requireInputs(body.inputs, items);
  requireHeat(body.steps, body.killStep);
  const { id: _id, ...fields } = body;
  const recipe: store.RecipeRow = { recipeId: factId, ...fields, active: true, version: 1 };
  // From here on only success.
  await store.insertRecipe(tx, recipe);
  await insertVersions(context, [{ kind: 'recipe', objectId: factId, content: recipe }]);
  return createdReply(`/v1/recipes/${factId}`, recipe, null);
}

export async function listRecipesQuery({ tx, query, path }: Context<typeof listRecipes>): Promise<Reply> {
  const page = pageOf(query, ['text', 'uuid']);
  const rows = await store.listRecipes(tx, { itemId: query.itemId ?? null, code: query.code ?? null }, page);
  return pageReply(path, query, page, rows, (row) => [row.code, row.recipeId]);
}

export async function getRecipeQuery({ tx, params }: Context<typeof getRecipe>): Promise<Reply> {
  const recipe = (await store.findRecipes(tx, [params.recipeId])).get(params.recipeId);
  if (!recipe) throw notFound('recipe');
  return stateReply(recipe);
}

export async function changeRecipeCommand(context: Context<typeof changeRecipe>): Promise<Reply> {
  const { tx, params, body, ifMatch } = context;
  const recipe = await store.lockRecipe(tx, params.recipeId);
  if (!recipe) throw notFound('recipe');
  requireVersion(ifMatch, recipe.version);
  const changed: store.RecipeRow = {
    ...recipe,
    name: body.name ?? recipe.name,
    expectedYieldPpm: body.expectedYieldPpm ?? recipe.expectedYieldPpm,
    steps: body.steps ?? recipe.steps,
    killStep: body.killStep ?? recipe.killStep,
    inputs: body.inputs ?? recipe.inputs,
    active: body.active ?? recipe.active,
    version: recipe.version + 1,
  };
  const inputIds = changed.inputs.map((input) => input.itemId);
  requireInputs(changed.inputs, await findItems(tx, inputIds));
  requireHeat(changed.steps, changed.killStep);
  // From here on only success.
  await store.updateRecipe(tx, changed);
  await insertVersions(context, [{ kind: 'recipe', objectId: recipe.recipeId, content: changed }]);
  return stateReply(changed);
}
