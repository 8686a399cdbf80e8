/** Reading what a case reaches, and how that came about. Refusals: `not-found`, `bad-cursor`. */
import { groupBy } from '../../domain/grouping.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import { quantitiesOfLots } from '../tracing/index.ts';
import { getVisibleRecall, lotAnswer } from './answer.ts';
import type * as contract from './contract-scope.ts';
import { listExceptions, listReasonSteps, listScopeLots, type ExceptionRow } from './scope.ts';
import { listRevisionLots, listRevisions, type RevisionRow } from './revisions.ts';

const MOST_SHOWN = 50;

export async function readLots(context: Context<typeof contract.listRecallLots>): Promise<Reply> {
  const { tx, scope, params, query } = context;
  const { holdId } = await getVisibleRecall(tx, scope, params.recallId);
  const page = pageOf(query, ['uuid']);
  const rows = await listScopeLots(tx, holdId, query.siteId ?? null, page);
  const lotIds = rows.map((row) => row.lotId);
  const steps = groupBy(await listReasonSteps(tx, holdId, lotIds), (step) => step.toLotId);
  const amounts = await quantitiesOfLots(tx, lotIds);
  const items = rows.map((row) => {
    const amount = amounts.get(row.lotId);
    return {
      ...lotAnswer(row),
      lotId: row.lotId,
      reasonPath: (steps.get(row.lotId) ?? []).map(({ toLotId: _toLotId, ...step }) => step),
      quantities: { produced: amount?.produced ?? 0, ...amount?.sums, balanced: amount?.balanced ?? true },
      where: amount?.where ?? [],
    };
  });
  return pageReply(context.path, query, page, items, (item) => [item.lotId]);
}

function whyText(row: RevisionRow): string {
  if (row.revision === 1) return 'Opened: all that the starting points reached.';
  if (row.factId === null) return 'The starting points matched more than before.';
  if (row.operation === 'addRecallStarts') return 'Starting points were added.';
  const who = row.actorName === null ? '' : ` by ${row.actorName}`;
  return `A fact was recorded afterwards (${row.operation ?? 'by the service'}${who}).`;
}

export async function readRevisions(context: Context<typeof contract.listRecallRevisions>): Promise<Reply> {
  const { tx, scope, params } = context;
  const { holdId } = await getVisibleRecall(tx, scope, params.recallId);
  const rows = await listRevisions(tx, holdId);
  const lots = groupBy(await listRevisionLots(tx, holdId, MOST_SHOWN), (row) => String(row.revision));
  const revisions = rows.map((row) => ({
    revision: row.revision,
    at: row.reachedAt.toISOString(),
    factId: row.factId,
    operation: row.operation,
    actorName: row.actorName,
    addedLotCount: row.addedLotCount,
    addedLots: (lots.get(String(row.revision)) ?? []).map(({ revision: _revision, ...lot }) => lotAnswer(lot)),
    whyText: whyText(row),
  }));
  return { status: 200, body: { revisions } };
}

const DID: Readonly<Record<ExceptionRow['kind'], string>> = {
  use: 'Served',
  departure: 'Sent out',
  'batch-input': 'Put into a batch',
  packing: 'Packed',
  conversion: 'Turned into another lot',
};

export async function readExceptions(context: Context<typeof contract.listRecallExceptions>): Promise<Reply> {
  const { tx, scope, params, query } = context;
  const { holdId, openedSeq, code } = await getVisibleRecall(tx, scope, params.recallId);
  const page = pageOf(query, ['int', 'uuid']);
  const rows = await listExceptions(tx, holdId, openedSeq, page);
  const items = rows.map(({ reachedAt, ...row }) => ({
    ...row,
    occurredAt: row.occurredAt.toISOString(),
    recordedAt: row.recordedAt.toISOString(),
    whyText: `${DID[row.kind]} although the hold of ${code} had reached the lot at ${reachedAt.toISOString()}.`,
  }));
  return pageReply(context.path, query, page, items, (item) => [String(item.seq), item.lotId]);
}
