/** The quality decision on a batch. Refusals: `not-found`, `wrong-state`, `ancestors-not-released`. */
import { notFound, Refused } from '../../domain/errors.ts';
import { deputyOf } from '../../platform/auth/actor.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { derivedId } from '../../platform/ids.ts';
import { outbox } from '../../platform/jobs.ts';
import { findHoldsReaching, findLots, insertHolds, liftHolds, type ReachingHold } from '../ledger/index.ts';
import { batchReply, getBatchForWrite } from './commands-batch.ts';
import type * as contract from './contract-release.ts';
import { insertDecision, listBorn, type BornRow } from './store.ts';

interface Loads {
  readonly chosen: readonly BornRow[];
  readonly holds: readonly ReachingHold[];
}

async function loadsOf(context: Context, batchId: string, lotIds: readonly string[] | undefined): Promise<Loads> {
  const loads = (await listBorn(context.tx, batchId)).filter((lot) => lot.origin === 'produced');
  if (lotIds?.some((lotId) => !loads.some((lot) => lot.lotId === lotId))) throw notFound('load of this batch');
  const chosen = lotIds ? loads.filter((lot) => lotIds.includes(lot.lotId)) : loads;
  const holds = await findHoldsReaching(
    context.tx,
    chosen.map((lot) => lot.lotId),
    context.nowMs,
  );
  return { chosen, holds: holds.filter((hold) => hold.liftedAt === null) };
}

const ownWait = (hold: ReachingHold): boolean => hold.kind === 'awaiting-release' && hold.rootLotId === hold.lotId;

export async function release(context: Context<typeof contract.createRelease>): Promise<Reply> {
  const { body, tx, params, nowMs, actor, factId } = context;
  const batch = await getBatchForWrite(context, params.batchId);
  const { chosen, holds } = await loadsOf(context, batch.batchId, body.lotIds);
  const waiting = chosen.filter((lot) => holds.some((hold) => hold.lotId === lot.lotId && ownWait(hold)));
  const late = body.lotIds ? chosen.filter((lot) => !waiting.includes(lot)) : [];
  if (waiting.length === 0 || late.length > 0) {
    throw new Refused(
      'wrong-state',
      late[0] ? `Lot ${late[0].lotCode} does not await release.` : 'No load of this batch awaits release.',
    );
  }
  // Sibling loads do not stand in each other's way; what the food was made from does.
  const before = holds.filter(
    (hold) => hold.kind === 'awaiting-release' && !ownWait(hold) && waiting.some((lot) => lot.lotId === hold.lotId),
  );
  if (before.length > 0) {
    const roots = await findLots(tx, [...new Set(before.map((hold) => hold.rootLotId))]);
    const names = [...roots.values()].map((lot) => ({ lotId: lot.lotId, lotCode: lot.code }));
    const detail = `Not released yet: ${names.map((one) => one.lotCode).join(', ')}.`;
    throw new Refused('ancestors-not-released', detail, { members: { lots: names } });
  }
  const deputyId = deputyOf(actor, 'release.write', batch.siteId);
  // From here on only success.
  const lifting = holds.filter((hold) => ownWait(hold) && waiting.some((lot) => lot.lotId === hold.lotId));
  await liftHolds(
    tx,
    lifting.map((hold) => hold.holdId),
    actor.actorId,
    body.note ?? 'Released',
    nowMs,
    deputyId,
  );
  const lotIds = waiting.map((lot) => lot.lotId);
  const decision = { decisionId: factId, batchId: batch.batchId, lotIds, decidedBy: actor.actorId, deputyId };
  await insertDecision(tx, { ...decision, outcome: 'released', reason: body.note ?? null }, nowMs);
  await outbox(tx, 'lots-released', { batchId: batch.batchId, lotIds }, nowMs);
  return batchReply(context, batch.batchId);
}

export async function reject(context: Context<typeof contract.createRejection>): Promise<Reply> {
  const { body, tx, params, nowMs, actor, factId } = context;
  const batch = await getBatchForWrite(context, params.batchId);
  const { chosen, holds } = await loadsOf(context, batch.batchId, body.lotIds);
  const rejected = (lot: BornRow) =>
    holds.some((hold) => hold.lotId === lot.lotId && hold.kind === 'rejected' && hold.rootLotId === lot.lotId);
  const target = chosen.filter((lot) => !rejected(lot));
  const again = body.lotIds ? chosen.filter(rejected) : [];
  if (target.length === 0 || again.length > 0) {
    throw new Refused('wrong-state', chosen.length === 0 ? 'The batch has no loads.' : 'It is rejected already.');
  }
  const deputyId = deputyOf(actor, 'release.write', batch.siteId);
  // From here on only success.
  const holdsToPlace = target.map((lot) => ({
    holdId: derivedId('rejected', lot.lotId),
    kind: 'rejected',
    lotId: lot.lotId,
    siteId: null,
    accountId: null,
    propagates: true,
    note: body.reason,
  }));
  await insertHolds(tx, holdsToPlace, actor.actorId, nowMs, deputyId);
  const waits = holds.filter((hold) => ownWait(hold) && target.some((lot) => lot.lotId === hold.lotId));
  await liftHolds(
    tx,
    waits.map((hold) => hold.holdId),
    actor.actorId,
    'Rejected',
    nowMs,
    deputyId,
  );
  const lotIds = target.map((lot) => lot.lotId);
  const decision = { decisionId: factId, batchId: batch.batchId, lotIds, decidedBy: actor.actorId, deputyId };
  await insertDecision(tx, { ...decision, outcome: 'rejected', reason: body.reason }, nowMs);
  await outbox(tx, 'lots-rejected', { batchId: batch.batchId, lotIds }, nowMs);
  return batchReply(context, batch.batchId);
}
