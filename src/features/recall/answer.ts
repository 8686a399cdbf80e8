/** A case as its answer. Refusal: `not-found`. */
import { notFound } from '../../domain/errors.ts';
import type { SiteScope } from '../../platform/http/contract.ts';
import type { Tx } from '../../platform/db/db.ts';
import { findRecall, listStarts, type LotBriefRow, type RecallRow } from './queries.ts';
import { countRevisions } from './revisions.ts';
import { onTheRoad, standingOf } from './standing.ts';
import { readInForce } from './statements/store.ts';

/** The case, if the actor's sites have to do with it. */
export async function getVisibleRecall(tx: Tx, scope: SiteScope, recallId: string): Promise<RecallRow> {
  const recall = await findRecall(tx, scope, recallId);
  if (!recall) throw notFound('case');
  return recall;
}

export function briefAnswer(row: RecallRow) {
  const { recallId, code, drill, title, state, openedBy, lotCount } = row;
  return { recallId, code, drill, title, state, openedAt: row.openedAt.toISOString(), openedBy, lotCount };
}

export const lotAnswer = (row: LotBriefRow): object => ({ ...row, bornAt: row.bornAt.toISOString() });

export async function recallAnswer(tx: Tx, recall: RecallRow): Promise<object> {
  const scope = { holdId: recall.holdId };
  const starts = await listStarts(tx, recall.recallId);
  const statement = await readInForce(tx, recall.recallId);
  const { sites, totals } = await standingOf(tx, scope);
  return {
    ...briefAnswer(recall),
    holdId: recall.holdId,
    scopeMs: recall.scopeMs,
    drawnWith: recall.drawnWith,
    statement,
    starts: starts.map((start) => ({ ...start, addedAt: start.addedAt.toISOString() })),
    revision: await countRevisions(tx, recall.holdId),
    sites: sites.map(({ siteId, siteName, lotCount }) => ({ siteId, siteName, lotCount })),
    onTheRoad: await onTheRoad(tx, scope),
    totals,
  };
}
