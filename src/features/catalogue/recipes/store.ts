/** SQL on recipe. */
import type { Tx } from '../../../platform/db/db.ts';
import type { Page } from '../../../platform/http/paging.ts';
import { byId } from '../store.ts';

/** In the trade's order of words, not of work: a recipe lists its own order. */
export const recipeSteps = [
  'prepare',
  'cook',
  'chill',
  'pack',
  'cook-in-pack',
  'pasteurise',
  'hot-fill',
  'tumble-chill',
  'freeze',
  'thaw',
  'regenerate',
  'raw-for-cooking-at-site',
] as const;
export type RecipeStep = (typeof recipeSteps)[number];

export interface RecipeInput {
  readonly itemId: string;
  /** expected for one batch, in `unit` */
  readonly quantity: number;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
}

export interface RecipeRow {
  readonly recipeId: string;
  /** what it makes */
  readonly itemId: string;
  readonly code: string;
  readonly name: string;
  /** mass out over mass in, parts per million; above a million where food gains water */
  readonly expectedYieldPpm: number;
  readonly steps: readonly RecipeStep[];
  readonly killStep: boolean;
  readonly inputs: readonly RecipeInput[];
  readonly active: boolean;
  readonly version: number;
}

const COLUMNS = `r.recipe_id as "recipeId", r.item_id as "itemId", r.code, r.name,
  r.expected_yield_ppm as "expectedYieldPpm", r.steps, r.kill_step as "killStep", r.inputs, r.active, r.version`;

export async function findRecipes(tx: Tx, recipeIds: readonly string[]): Promise<Map<string, RecipeRow>> {
  const rows = await tx.query<RecipeRow>(
    `select ${COLUMNS} from recipe r where r.group_id = $1::uuid and r.recipe_id = any($2::uuid[])`,
    [tx.groupId, recipeIds],
  );
  return byId(rows, (row) => row.recipeId);
}

export async function lockRecipe(tx: Tx, recipeId: string): Promise<RecipeRow | null> {
  const rows = await tx.query<RecipeRow>(
    `select ${COLUMNS} from recipe r where r.group_id = $1::uuid and r.recipe_id = $2::uuid for update`,
    [tx.groupId, recipeId],
  );
  return rows[0] ?? null;
}

/** Recipes by code, one more than the page holds. */
export async function listRecipes(
  tx: Tx,
  filter: { readonly itemId: string | null; readonly code: string | null },
  page: Page,
): Promise<RecipeRow[]> {
  return tx.query<RecipeRow>(
    `select ${COLUMNS} from recipe r
      where r.group_id = $1::uuid and ($2::uuid is null or r.item_id = $2::uuid)
        and ($3::text is null or r.code = $3::text)
        and ($4::text is null or (r.code, r.recipe_id) > ($4::text, $5::uuid))
      order by r.code, r.recipe_id limit $6::int`,
    [tx.groupId, filter.itemId, filter.code, page.after?.[0] ?? null, page.after?.[1] ?? null, page.limit + 1],
  );
}

export async function insertRecipe(tx: Tx, recipe: RecipeRow): Promise<void> {
  await tx.query(
    `insert into recipe (group_id, recipe_id, item_id, code, name, expected_yield_ppm, steps, kill_step, inputs, active,
       version)
     values ($1::uuid, $2::uuid, $3::uuid, $4::text, $5::text, $6::int, $7::text[], $8::boolean, $9::jsonb,
       $10::boolean, $11::int)`,
    [
      tx.groupId,
      recipe.recipeId,
      recipe.itemId,
      recipe.code,
      recipe.name,
      recipe.expectedYieldPpm,
      recipe.steps,
      recipe.killStep,
      JSON.stringify(recipe.inputs),
      recipe.active,
      recipe.version,
    ],
  );
}

export async function updateRecipe(tx: Tx, recipe: RecipeRow): Promise<void> {
  await tx.query(
    `update recipe set name = $3::text, expected_yield_ppm = $4::int, steps = $5::text[], kill_step = $6::boolean,
       inputs = $7::jsonb, active = $8::boolean, version = $9::int
      where group_id = $1::uuid and recipe_id = $2::uuid`,
    [
      tx.groupId,
      recipe.recipeId,
      recipe.name,
      recipe.expectedYieldPpm,
      recipe.steps,
      recipe.killStep,
      JSON.stringify(recipe.inputs),
      recipe.active,
      recipe.version,
    ],
  );
}
