/**
 * A person's decision to reject: the food is discarded, or goes into a batch that makes it safe. What was to be made safe may still be
 * discarded. Refusals: `not-found`, `wrong-state`.
 */
import { notFound, Refused } from '../../../domain/errors.ts';
import { deputyOf } from '../../../platform/auth/actor.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { derivedId } from '../../../platform/ids.ts';
import { outbox } from '../../../platform/jobs.ts';
import { findHoldsReaching, insertHolds, liftHolds } from '../../ledger/index.ts';
import { batchReply, getBatchForWrite } from '../commands-batch.ts';
import { insertDecision, listBorn, type BornRow } from '../store.ts';
import type * as contract from './contract.ts';
import { ownWait } from './ready.ts';

export async function reject(context: Context<typeof contract.createRejection>): Promise<Reply> {
  const { body, tx, params, nowMs, actor, factId } = context;
  const { lotIds: named, disposition = 'discard' } = body;
  const batch = await getBatchForWrite(context, params.batchId);
  const born = await listBorn(tx, batch.batchId);
  if (named?.some((lotId) => !born.some((lot) => lot.lotId === lotId))) throw notFound('lot of this batch');
  const chosen = born.filter((lot) => (named ? named.includes(lot.lotId) : lot.origin === 'produced'));
  const allIds = born.map((lot) => lot.lotId);
  const holds = (await findHoldsReaching(tx, allIds, nowMs)).filter((hold) => hold.liftedAt === null);
  const final = disposition === 'rework' ? ['rejected', 'for-rework'] : ['rejected'];
  const decided = (lot: BornRow) =>
    holds.some((hold) => hold.lotId === lot.lotId && hold.rootLotId === lot.lotId && final.includes(hold.kind));
  const target = chosen.filter((lot) => !decided(lot));
  if (target.length === 0 || (named && target.length < chosen.length)) {
    throw new Refused('wrong-state', chosen.length === 0 ? 'The batch has no loads.' : 'It is rejected already.');
  }
  const deputyId = deputyOf(actor, 'release.write', batch.siteId);
  // From here on only success.
  const kind = disposition === 'rework' ? 'for-rework' : 'rejected';
  const placed = target.map((lot) => ({
    holdId: derivedId(kind, lot.lotId),
    kind,
    lotId: lot.lotId,
    siteId: null,
    accountId: null,
    propagates: true,
    note: body.reason,
    // What was made of it with heat, by the earlier decision, is decided there.
    stopsAtHeat: holds.some((hold) => hold.lotId === lot.lotId && hold.kind === 'for-rework'),
  }));
  await insertHolds(tx, placed, actor.actorId, nowMs, deputyId);
  // Packs made from it are decided with it: they wait for nothing any more.
  const placedIds = new Set(placed.map((hold) => hold.holdId));
  const reached = new Set(
    (await findHoldsReaching(tx, allIds, nowMs)).flatMap(({ holdId, lotId }) => (placedIds.has(holdId) ? [lotId] : [])),
  );
  // The decision takes the place of what its checks held it for; what is to be made safe must get into the batch that does it.
  const over = ['failed-check', 'for-rework'];
  const lifted = holds.filter(
    (hold) => reached.has(hold.lotId) && hold.rootLotId === hold.lotId && (ownWait(hold) || over.includes(hold.kind)),
  );
  await liftHolds(
    tx,
    lifted.map((hold) => hold.holdId),
    actor.actorId,
    disposition === 'rework' ? 'Rejected, for rework' : 'Rejected',
    nowMs,
    deputyId,
  );
  const lotIds = target.map((lot) => lot.lotId);
  const decision = { decisionId: factId, batchId: batch.batchId, lotIds, decidedBy: actor.actorId, deputyId };
  await insertDecision(
    tx,
    { ...decision, outcome: 'rejected', reason: body.reason, automatic: false, accepted: [], disposition },
    nowMs,
  );
  await outbox(tx, 'lots-rejected', { batchId: batch.batchId, lotIds, disposition }, nowMs);
  return batchReply(context, batch.batchId);
}
