/** Reading the month's report. Refusals: `not-found` (the site), `rule-broken` (no site named, a month not yet begun). */
import { notFound, Refused } from '../../domain/errors.ts';
import { batchResult, monthOf, sumBatches, summaryOf, type BatchResult } from '../../domain/report.ts';
import { localDate, monthBounds } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import type { Tx } from '../../platform/db/db.ts';
import { findSites, type SiteRow } from '../catalogue/index.ts';
import type { getWasteAndYield, ReportAnswer } from './contract.ts';
import { reportCsv } from './csv.ts';
import {
  listBatchFlows,
  listCompletedBatches,
  listMonthFlows,
  listTimeZones,
  type CompletedBatchRow,
  type Period,
} from './queries.ts';

/** The site asked for, or null for the whole group; only those who may read everything may leave it out. */
async function siteInScope(context: Context<typeof getWasteAndYield>): Promise<SiteRow | null> {
  const { tx, scope, query } = context;
  if (query.siteId === undefined) {
    if (scope.all) return null;
    const detail = 'Name one of your sites; the whole group is for those who may read all of it.';
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/query/siteId' }] });
  }
  const site = (await findSites(tx, [query.siteId])).get(query.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  return site;
}

async function itemsOf(tx: Tx, period: Period) {
  const flows = await listMonthFlows(tx, period);
  const items = new Map(flows.map(({ itemId, itemCode, itemName, unit }) => [itemId, { itemCode, itemName, unit }]));
  return monthOf(flows).flatMap((month) => {
    const item = items.get(month.itemId);
    return item ? [{ ...item, ...month }] : [];
  });
}

async function batchesOf(tx: Tx, period: Period): Promise<{ batch: CompletedBatchRow; result: BatchResult }[]> {
  const batches = await listCompletedBatches(tx, period);
  const flows = await listBatchFlows(
    tx,
    batches.map((batch) => batch.batchId),
  );
  return batches.map((batch) => {
    const own = flows.filter((flow) => flow.batchId === batch.batchId);
    const result = batchResult({
      inputs: own.filter((flow) => flow.side === 'input'),
      outputs: own.filter((flow) => flow.side === 'output'),
      gainsMg: batch.gainsMg,
      lossesMg: batch.lossesMg,
      expectedYieldPpm: batch.expectedYieldPpm,
    });
    return { batch, result };
  });
}

function recipesOf(made: readonly { batch: CompletedBatchRow; result: BatchResult }[]): ReportAnswer['recipes'] {
  const recipes = new Map(made.map(({ batch }) => [batch.recipeId, batch]));
  return [...recipes.values()].map(({ recipeId, recipeCode, itemName }) => ({
    recipeId,
    recipeCode,
    itemName,
    ...sumBatches(made.filter(({ batch }) => batch.recipeId === recipeId).map(({ result }) => result)),
  }));
}

export async function readWasteAndYield(context: Context<typeof getWasteAndYield>): Promise<Reply> {
  const { tx, query, nowMs } = context;
  const site = await siteInScope(context);
  const bounds = monthBounds(query.month);
  const zones = site ? [site.timeZone] : await listTimeZones(tx);
  if (!zones.some((zone) => localDate(nowMs, zone) >= bounds.from)) {
    const detail = `${query.month} has not begun.`;
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/query/month' }] });
  }
  const period = { ...bounds, siteId: site?.siteId ?? null };
  const items = await itemsOf(tx, period);
  const made = await batchesOf(tx, period);
  const { wastedPercentOfIn, wastedPercentOfServedAndWasted, ...sums } = summaryOf(items);
  const report: ReportAnswer = {
    month: query.month,
    ...period,
    siteName: site?.name ?? null,
    items,
    batches: made.map(({ batch, result }) => ({
      batchId: batch.batchId,
      code: batch.code,
      siteId: batch.siteId,
      recipeId: batch.recipeId,
      itemName: batch.itemName,
      completedOn: batch.completedOn,
      ...result.grams,
      yieldPercent: result.exact.yieldPercent,
      expectedYieldPercent: result.exact.expected?.yieldPercent ?? null,
    })),
    recipes: recipesOf(made),
    summary: {
      ...sums,
      wastedPercentOfIn: {
        value: wastedPercentOfIn,
        of: 'grams received + produced + returned from service + transferred in',
      },
      wastedPercentOfServedAndWasted: { value: wastedPercentOfServedAndWasted, of: 'grams served + wasted' },
    },
  };
  const wanted = context.accept(['application/json', 'text/csv']) === 'text/csv' ? 'csv' : 'json';
  if ((query.format ?? wanted) === 'json') return { status: 200, body: report };
  const name = `waste-and-yield-${query.month}-${site?.code ?? 'all-sites'}.csv`;
  return {
    status: 200,
    raw: { contentType: 'text/csv; charset=utf-8; header=present', data: reportCsv(report) },
    headers: { 'Content-Disposition': `attachment; filename="${name}"` },
  };
}
