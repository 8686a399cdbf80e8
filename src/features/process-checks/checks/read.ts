/** Checks as they are read. Refusals: `not-found`, `bad-cursor`, `rule-broken`. */
import { notFound } from '../../../domain/errors.ts';
import { lethality } from '../../../domain/process-checks/lethality.ts';
import type { SeriesPoint } from '../../../domain/process-checks/shapes.ts';
import { requirePeriod } from '../../../domain/query-days.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { findSites } from '../../catalogue/index.ts';
import { seriesChart } from '../heat/chart.ts';
import { detailsOf, type CheckDetails } from './answer.ts';
import type * as contract from './contract-reads.ts';
import { findCheckSeries, listConcernedLots, listDeviationRows, type ConcernedLot } from './queries-more.ts';
import { findCheck, listCheckRows, type CheckRow } from './queries.ts';

type Reading = Pick<Context, 'tx' | 'scope'>;

async function getVisible({ tx, scope }: Reading, checkId: string): Promise<CheckRow> {
  const row = await findCheck(tx, checkId);
  if (!row || !scope.includes(row.siteId)) throw notFound('check');
  return row;
}

export async function readCheck(context: Context<typeof contract.getProcessCheck>): Promise<Reply> {
  const row = await getVisible(context, context.params.checkId);
  return { status: 200, body: (await detailsOf(context.tx, [row]))[0] };
}

export async function readChecks(context: Context<typeof contract.listProcessChecks>): Promise<Reply> {
  const { tx, scope, query } = context;
  requirePeriod(query);
  const page = pageOf(query, ['time', 'uuid']);
  const filter = {
    siteId: query.siteId ?? null,
    batchId: query.batchId ?? null,
    lotId: query.lotId ?? null,
    packingRunId: query.packingRunId ?? null,
    stage: query.stage ?? null,
    result: query.result ?? null,
    fromDate: query.fromDate ?? null,
    toDate: query.toDate ?? null,
  };
  const details = await detailsOf(tx, await listCheckRows(tx, scope, filter, page));
  return pageReply(context.path, query, page, details, (row) => [row.occurredAt, row.checkId]);
}

async function getSeries(context: Reading, checkId: string): Promise<{ row: CheckRow; points: SeriesPoint[] }> {
  const row = await getVisible(context, checkId);
  const points = (await findCheckSeries(context.tx, [checkId])).get(checkId);
  if (!points) throw notFound('series of a check');
  return { row, points };
}

export async function readSeriesOf(context: Context<typeof contract.getProcessCheckSeries>): Promise<Reply> {
  const { row, points } = await getSeries(context, context.params.checkId);
  const { limit } = row.limits;
  const steps = limit.form === 'lethality' ? lethality(points, limit.target).steps : null;
  return { status: 200, body: { checkId: row.checkId, points, steps } };
}

/** Minutes along the axis: when a series began is not always known, only what it says of itself. */
export async function readChart(context: Context<typeof contract.getProcessCheckChart>): Promise<Reply> {
  const { row, points } = await getSeries(context, context.params.checkId);
  const { limits, kind, result, judgement } = row;
  const what = limits.label ?? { lethality: 'Heating', cooling: 'Cooling' }[kind as string] ?? kind;
  const of = row.lotCode ?? row.batchCode;
  const title = of === null ? what : `${what}: ${of}`;
  const data = seriesChart({ title, points, limit: limits.limit, judgement: { result, ...judgement } });
  return { status: 200, raw: { contentType: 'image/svg+xml; charset=utf-8', data } };
}

export async function readDeviations(context: Context<typeof contract.listDeviations>): Promise<Reply> {
  const { tx, scope, query, nowMs } = context;
  requirePeriod(query);
  const page = pageOf(query, ['time', 'uuid']);
  const filter = {
    siteId: query.siteId ?? null,
    fromDate: query.fromDate ?? null,
    toDate: query.toDate ?? null,
    state: query.state ?? null,
  };
  const details = await detailsOf(tx, await listDeviationRows(tx, scope, filter, page));
  const sites = await findSites(tx, [...new Set(details.map((one) => one.siteId))]);
  const lots = await listConcernedLots(
    tx,
    details.map((one) => one.checkId),
  );
  const rows = details.map((one) => ({
    ...deviationOf(one, lots, nowMs),
    siteName: sites.get(one.siteId)?.name ?? '',
  }));
  return pageReply(context.path, query, page, rows, (row) => [row.occurredAt, row.checkId]);
}

function deviationOf(check: CheckDetails, lots: readonly ConcernedLot[], nowMs: number) {
  const closing = check.correctiveActions.find((action) => action.closes);
  const endMs = closing ? Date.parse(closing.occurredAt) : nowMs;
  return {
    ...check,
    lots: lots.filter((lot) => lot.checkId === check.checkId).map(({ checkId: _checkId, ...lot }) => lot),
    closedAt: closing?.occurredAt ?? null,
    closedBy: closing?.recordedBy ?? null,
    openMinutes: Math.max(0, Math.round((endMs - Date.parse(check.occurredAt)) / 60_000)),
  };
}
