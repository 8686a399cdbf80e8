/** Reading packing runs. Refusals: `not-found`, `bad-cursor`, `rule-broken` (days that are none, or the wrong way round). */
import { notFound } from '../../../domain/errors.ts';
import { requirePeriod } from '../../../domain/query-days.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { listFaultsOfRun } from '../faults/store.ts';
import type * as contract from './contract.ts';
import {
  findRunHead,
  listRejects,
  listRunChecks,
  listRunFills,
  listRunHeads,
  type RunCheckRow,
  type RunHeadRow,
} from './store.ts';

const headAnswer = (row: RunHeadRow) => ({
  ...row,
  startedAt: row.startedAt.toISOString(),
  finishedAt: row.finishedAt.toISOString(),
});

const field = (measured: unknown, form: string, name: string): number | null => {
  const said = measured as Readonly<Record<string, unknown>> | null;
  const value = said?.form === form ? said[name] : null;
  return typeof value === 'number' ? value : null;
};

const checkAnswer = ({ measured, judgement, ...row }: RunCheckRow) => ({
  ...row,
  reasons: judgement.reasons,
  temperatureC: row.kind === 'core-temperature' ? field(measured, 'value', 'value') : null,
  tested: field(measured, 'sample', 'tested'),
  failed: field(measured, 'sample', 'failed'),
  occurredAt: row.occurredAt.toISOString(),
});

export async function readRun({ tx, params, scope }: Context<typeof contract.getPackingRun>): Promise<Reply> {
  const head = await findRunHead(tx, params.packingRunId);
  if (!head || !scope.includes(head.siteId)) throw notFound('packing run');
  const fills = await listRunFills(tx, head.packingRunId);
  const checks = await listRunChecks(tx, head.packingRunId);
  const faults = await listFaultsOfRun(tx, head.packingRunId);
  const body = {
    ...headAnswer(head),
    rejects: await listRejects(tx, head.packingRunId),
    fills: fills.map((fill) => ({ ...fill, changedOverAt: fill.changedOverAt.toISOString() })),
    checks: checks.map(checkAnswer),
    faults: faults.map((fault) => ({ ...fault, occurredAt: fault.occurredAt.toISOString() })),
  };
  return { status: 200, body };
}

export async function readRuns({ tx, query, scope, path }: Context<typeof contract.listPackingRuns>): Promise<Reply> {
  requirePeriod(query);
  const page = pageOf(query, ['time', 'uuid']);
  const filter = {
    siteId: query.siteId ?? null,
    equipmentId: query.equipmentId ?? null,
    programme: query.programme ?? null,
    programmeId: query.programmeId ?? null,
    fromDate: query.fromDate ?? null,
    toDate: query.toDate ?? null,
  };
  const rows = await listRunHeads(tx, scope, filter, page);
  return pageReply(path, query, page, rows.map(headAnswer), (row) => [row.finishedAt, row.packingRunId]);
}
