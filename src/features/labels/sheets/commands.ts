/** Printing the sheets. Refusals: `not-found`, `rule-broken` (a date that is not on the calendar). */
import { notFound, Refused } from '../../../domain/errors.ts';
import { isCalendarDate, localDate } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { renderSheet, type Sheet } from '../../../platform/pdf/sheet.ts';
import { findItems, findRecipes, findSites, type SiteRow } from '../../catalogue/index.ts';
import type * as contract from './contract.ts';
import { batchSheet, dropSheet, temperatureSheet } from './pages.ts';
import { findSheetBatch, findSheetDispatch, listOnHand, listSheetLines, listSitePlaces } from './queries.ts';

/** Lots of one item that are worth a line; the rest are written by hand. */
const LOTS_OF_EACH = 4;

async function print(sheet: Sheet, name: string): Promise<Reply> {
  const filename = `${name.replaceAll(/[^A-Za-z0-9._-]/g, '_')}.pdf`;
  return {
    status: 200,
    raw: { contentType: 'application/pdf', data: await renderSheet(sheet) },
    headers: { 'Content-Disposition': `inline; filename="${filename}"` },
  };
}

async function sheetOfRecipe(
  { tx, nowMs }: Pick<Context, 'tx' | 'nowMs'>,
  site: SiteRow,
  recipeId: string,
  batchCode: string | null,
): Promise<Sheet> {
  const recipe = (await findRecipes(tx, [recipeId])).get(recipeId);
  if (!recipe) throw notFound('recipe');
  const itemIds = recipe.inputs.map((input) => input.itemId);
  const items = await findItems(tx, itemIds);
  const tracked = itemIds.filter((itemId) => items.get(itemId)?.lotTracked ?? false);
  const onHand = await listOnHand(tx, site.siteId, tracked, nowMs, LOTS_OF_EACH);
  return batchSheet({
    title: recipe.name,
    siteName: site.name,
    zone: site.timeZone,
    batchCode,
    inputs: recipe.inputs.map((input) => ({ ...input, name: items.get(input.itemId)?.name ?? input.itemId })),
    onHand,
    steps: recipe.steps,
    madeAtMs: nowMs,
  });
}

export async function printRecipe(context: Context<typeof contract.printRecipeSheet>): Promise<Reply> {
  const { tx, scope, params, query } = context;
  const site = (await findSites(tx, [query.siteId])).get(query.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  return print(await sheetOfRecipe(context, site, params.recipeId, null), `batch-sheet-${site.code}`);
}

export async function printBatch(context: Context<typeof contract.printBatchSheet>): Promise<Reply> {
  const { tx, scope, params } = context;
  const batch = await findSheetBatch(tx, params.batchId);
  // The same statements whether it is there or not.
  const site = (await findSites(tx, batch ? [batch.siteId] : [])).get(batch?.siteId ?? '');
  if (!batch || !site || !scope.includes(site.siteId)) throw notFound('batch');
  return print(await sheetOfRecipe(context, site, batch.recipeId, batch.code), `batch-sheet-${batch.code}`);
}

export async function printDrop(context: Context<typeof contract.printDropSheet>): Promise<Reply> {
  const { tx, scope, params, nowMs } = context;
  const dispatch = await findSheetDispatch(tx, params.dispatchId);
  const sites = await findSites(tx, dispatch ? [dispatch.fromSiteId, dispatch.toSiteId] : []);
  const from = dispatch && sites.get(dispatch.fromSiteId);
  const to = dispatch && sites.get(dispatch.toSiteId);
  if (!dispatch || !from || !to || !(scope.includes(from.siteId) || scope.includes(to.siteId)))
    throw notFound('dispatch');
  const lines = await listSheetLines(tx, params.dispatchId);
  const sheet = dropSheet({
    dispatch,
    fromName: from.name,
    toName: to.name,
    zone: to.timeZone,
    lines,
    madeAtMs: nowMs,
  });
  return print(sheet, `drop-sheet-${dispatch.code}`);
}

export async function printTemperatures(context: Context<typeof contract.printTemperatureSheet>): Promise<Reply> {
  const { tx, scope, params, query, nowMs } = context;
  const site = (await findSites(tx, [params.siteId])).get(params.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  const date = query.date ?? localDate(nowMs, site.timeZone);
  if (!isCalendarDate(date)) {
    const detail = `${date} is not on the calendar.`;
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/query/date' }] });
  }
  const places = await listSitePlaces(tx, site.siteId);
  const sheet = temperatureSheet({ siteName: site.name, date, places, madeAtMs: nowMs });
  return print(sheet, `temperatures-${site.code}-${date}`);
}
