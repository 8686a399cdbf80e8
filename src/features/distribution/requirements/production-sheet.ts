/**
 * What a kitchen still has to make: what sites need, less what has left and what lies here in date. The stock is shared out by the same
 * rule as the pick list, earlier meals first, so that today's dinner is not counted again for tomorrow's lunch. Refusals: `not-found`,
 * `invalid-request`, `rule-broken`.
 */
import { conflictSentence } from '../../../domain/diets.ts';
import { notFound } from '../../../domain/errors.ts';
import { exactJson } from '../../../domain/exact.ts';
import { keepsUntil, pickFrom, type PickedLine } from '../../../domain/picking.ts';
import { scaleRecipe } from '../../../domain/scaling.ts';
import { localDate, utc } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { findItems, findSites, type ItemRow } from '../../catalogue/index.ts';
import { askedOf, requireDay } from './commands.ts';
import type { getProductionSheet } from './contract-sheets.ts';
import { listRecipesOf, type RecipeFactsRow } from './queries.ts';
import { conflictOf, mealTimes, partsAt, requirementsOn, sentFor, wantedOf, type Part, type Sent } from './stock.ts';
import type { RequirementRow } from './store.ts';

const MOST_OF_A_SHEET = 20_000;

const ASSUMED = [
  'Meals are at the times of shared/meals.json (common practice), by the clock of the site where they are eaten.',
  'Food that awaits its release or the laboratory is counted as if it will pass.',
  'Stock at other sites is not counted; what dispatches are to take for anything else is taken off.',
  'Masses of packs and of ingredients are nominal; yields are what the recipe expects.',
];

interface Sums {
  readonly rows: readonly RequirementRow[];
  readonly atMs: (row: RequirementRow) => number;
  readonly picked: ReadonlyMap<string, PickedLine>;
  readonly sent: Sent;
  readonly parts: readonly Part[];
  /** of the sheet itself, not of the meals before it */
  readonly onSheet: ReadonlySet<string>;
  readonly nowMs: number;
}

export async function readProductionSheet(context: Context<typeof getProductionSheet>): Promise<Reply> {
  const { tx, scope, query, nowMs } = context;
  const { siteId, serviceDate } = query;
  requireDay(serviceDate, '#/query/serviceDate');
  const site = (await findSites(tx, [siteId])).get(siteId);
  if (!site || !scope.includes(siteId)) throw notFound('site');
  const today = localDate(nowMs, site.timeZone);
  const span = { from: today < serviceDate ? today : serviceDate, to: serviceDate, meal: null };
  const whose = site.kind === 'central-kitchen' ? null : siteId;
  const all = await requirementsOn(tx, { siteId: whose, ...span }, MOST_OF_A_SHEET);
  const mine = all.filter(
    (row) => row.portions > 0 && row.serviceDate === serviceDate && (!query.meal || row.meal === query.meal),
  );
  const onSheet = new Set(mine.map((row) => row.requirementId));
  const itemIds = [...new Set(mine.map((row) => row.itemId))];
  const atMs = mealTimes();
  const lastMs = mine.reduce((last, row) => Math.max(last, atMs(row)), 0);
  const rows = all.filter((row) => {
    if (onSheet.has(row.requirementId)) return true;
    return itemIds.includes(row.itemId) && atMs(row) > nowMs && atMs(row) <= lastMs;
  });
  const sent = await sentFor(tx, rows);
  const parts = await partsAt(tx, siteId, itemIds, new Set(rows.map((row) => row.requirementId)), nowMs);
  const wanted = rows.map((row) => {
    const departed = sent.coverage.get(row.requirementId)?.departedPortions ?? 0;
    return wantedOf(row, Math.max(0, row.portions - departed), atMs(row));
  });
  const usable = parts.filter((part) => part.standing !== 'blocked');
  const picked = new Map(pickFrom(wanted, usable, 0, nowMs).map((line) => [line.requirementId, line]));
  const sums: Sums = { rows, atMs, picked, sent, parts, onSheet, nowMs };
  const items = itemIds.map((itemId) => itemLine(itemId, sums));
  const makes = [...new Set(items.flatMap((item) => [item.itemId, item.openedItemId ?? item.itemId]))];
  const recipes = await listRecipesOf(tx, makes);
  const inputs = await findItems(tx, [...new Set(recipes.flatMap((one) => one.inputs.map((input) => input.itemId)))]);
  const body = {
    siteId,
    serviceDate,
    meal: query.meal ?? null,
    items: items.map(({ openedItemId, toMakeMg, ...item }) => ({
      ...item,
      recipes: recipes
        .filter((recipe) => recipe.itemId === item.itemId || recipe.itemId === openedItemId)
        .map((recipe) => recipeLine(recipe, toMakeMg, inputs)),
    })),
    assumed: ASSUMED,
  };
  return { status: 200, body };
}

const total = <T>(list: readonly T[], of: (one: T) => number): number => list.reduce((sum, one) => sum + of(one), 0);
const grams = (milligrams: bigint): number => Number(milligrams) / 1000;

function itemLine(itemId: string, sums: Sums) {
  const rows = sums.rows.filter((row) => row.itemId === itemId && sums.onSheet.has(row.requirementId));
  const good = rows.filter((row) => conflictOf(row) === null);
  const [any] = rows;
  if (!any) throw new Error(`no requirement of item ${itemId} is on the sheet`);
  const line = (row: RequirementRow) => sums.picked.get(row.requirementId);
  const firstMs = rows.reduce((first, row) => Math.min(first, sums.atMs(row)), Infinity);
  const onHand = (standing: Part['standing']) =>
    any.portionsPerPack *
    total(
      sums.parts.filter(
        (part) =>
          part.itemId === itemId && part.standing === standing && keepsUntil(part.useByMs, firstMs, 0, sums.nowMs),
      ),
      (part) => part.packs,
    );
  const earlier = sums.rows.filter((row) => row.itemId === itemId && !sums.onSheet.has(row.requirementId));
  const earlierPacks = total(earlier, (row) => total(line(row)?.picks ?? [], (pick) => pick.packs));
  const toMakePacks = total(good, (row) => line(row)?.shortPacks ?? 0);
  const toMakeMg = BigInt(toMakePacks) * BigInt(any.unitMassMg);
  return {
    itemId,
    itemCode: any.itemCode,
    itemName: any.itemName,
    openedItemId: any.openedItemId,
    portionsPerPack: any.portionsPerPack,
    required: bySiteAndMeal(good, sums.atMs),
    requiredPortions: total(good, (row) => row.portions),
    departedPortions: total(good, (row) => sums.sent.coverage.get(row.requirementId)?.departedPortions ?? 0),
    releasedPortions: onHand('free'),
    awaitingPortions: onHand('awaiting'),
    earlierPortions: earlierPacks * any.portionsPerPack,
    toMakePortions: total(good, (row) => line(row)?.shortPortions ?? 0),
    toMakePacks,
    toMakeMg,
    toMakeG: grams(toMakeMg),
    unsuitable: rows.flatMap((row) => {
      const conflict = conflictOf(row);
      if (!conflict) return [];
      const why = conflictSentence(conflict, row.itemName);
      return [{ ...askedOf(row), siteCode: row.siteCode, portions: row.portions, why }];
    }),
  };
}

function bySiteAndMeal(rows: readonly RequirementRow[], atMs: (row: RequirementRow) => number): object[] {
  const sums = new Map<string, { row: RequirementRow; portions: number }>();
  for (const row of rows) {
    const key = `${row.siteId}|${row.meal}`;
    sums.set(key, { row, portions: (sums.get(key)?.portions ?? 0) + row.portions });
  }
  return [...sums.values()]
    .sort((a, b) => atMs(a.row) - atMs(b.row) || (a.row.siteCode < b.row.siteCode ? -1 : 1))
    .map(({ row, portions }) => {
      const { siteId, siteCode, siteName, meal } = row;
      return { siteId, siteCode, siteName, meal, mealAt: utc(atMs(row)), portions };
    });
}

function recipeLine(recipe: RecipeFactsRow, toMakeMg: bigint, items: ReadonlyMap<string, ItemRow>): object {
  const inputs = recipe.inputs.map((input) => ({
    itemId: input.itemId,
    quantity: input.quantity,
    unitMassMg: items.get(input.itemId)?.unitMassMg ?? 0,
  }));
  const scaled = scaleRecipe(toMakeMg, { expectedYieldPpm: recipe.expectedYieldPpm, inputs });
  return {
    recipeId: recipe.recipeId,
    code: recipe.code,
    name: recipe.name,
    makesItemId: recipe.itemId,
    oneBatchG: Number(scaled.oneBatchMg.floor().n) / 1000,
    batches: exactJson(scaled.batches),
    wholeBatches: scaled.wholeBatches,
    inputs: scaled.inputs.map(({ itemId, exact, quantity }, at) => ({
      itemId,
      itemName: items.get(itemId)?.name ?? '',
      unit: recipe.inputs[at]?.unit ?? 'g',
      quantity,
      exact: exactJson(exact),
    })),
  };
}
