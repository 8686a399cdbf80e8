/**
 * Release because the checks say so. Whatever completes the record (a check, its correction, a corrective action, a load that comes out, a
 * packing run) asks here; what else waited only for that follows. Nothing else may stand against a lot: a hold for whatever reason, or
 * food before it that is not released, leaves the decision to a person. Refusals: none.
 */
import { NeedsExclusiveGate } from '../../../platform/db/db.ts';
import type { Context } from '../../../platform/http/contract.ts';
import { derivedId } from '../../../platform/ids.ts';
import { outbox } from '../../../platform/jobs.ts';
import { findHoldsReaching, liftHolds, type ReachingHold } from '../../ledger/index.ts';
import { insertDecision, listBorn, lockBatch } from '../store.ts';
import { findBatchPlan, type ReleasedLot } from '../../process-checks/index.ts';
import { ownWait, readinessOf } from './ready.ts';
import { listBatchesReached } from './store.ts';

export type Completing = Pick<Context, 'tx' | 'nowMs' | 'actor' | 'factId'>;

/** Lots that nothing stands against but their own waits and those of each other. */
function freeAmong(lotIds: readonly string[], holds: readonly ReachingHold[]): Set<string> {
  const free = new Set(lotIds.filter((lotId) => holds.some((hold) => hold.lotId === lotId && ownWait(hold))));
  // A date in force is no hold.
  const binding = holds.filter((hold) => hold.kind !== 'use-by');
  for (let before = -1; before !== free.size;) {
    before = free.size;
    for (const { kind, lotId, rootLotId } of binding) {
      if (kind !== 'awaiting-release' || !free.has(rootLotId)) free.delete(lotId);
    }
  }
  return free;
}

interface Released {
  readonly lots: readonly ReleasedLot[];
  readonly liftedHoldIds: readonly string[];
}

const NOTHING: Released = { lots: [], liftedHoldIds: [] };

async function releaseOne({ tx, nowMs, actor, factId }: Completing, batchId: string): Promise<Released> {
  if ((await findBatchPlan(tx, [batchId])).get(batchId)?.plan.release !== 'automatic') return NOTHING;
  // Two who each record one of the last two checks at once: the second sees the first's.
  await lockBatch(tx, batchId);
  const born = await listBorn(tx, batchId);
  const { byLot } = await readinessOf(tx, batchId, born);
  const complete = born.flatMap(({ lotId }) => (byLot.get(lotId)?.releasesByItself ? [lotId] : []));
  if (complete.length === 0) return NOTHING;
  const holds = (await findHoldsReaching(tx, complete, nowMs)).filter((hold) => hold.liftedAt === null);
  const free = freeAmong(complete, holds);
  if (free.size === 0) return NOTHING;
  if (tx.mode !== 'exclusive') throw new NeedsExclusiveGate();
  const holdIds = holds.filter((hold) => free.has(hold.lotId) && ownWait(hold)).map((hold) => hold.holdId);
  const lotIds = [...free].sort();
  await liftHolds(tx, holdIds, actor.actorId, 'Released: every check that was wanted has passed', nowMs);
  const decision = {
    decisionId: derivedId(`automatic-release-${lotIds[0] ?? ''}`, factId),
    batchId,
    lotIds,
    decidedBy: actor.actorId,
    deputyId: null,
    automatic: true,
  };
  await insertDecision(tx, { ...decision, outcome: 'released', reason: null, accepted: [], disposition: null }, nowMs);
  await outbox(tx, 'lots-released', { batchId, lotIds, automatic: true }, nowMs);
  const lots = born.filter((lot) => free.has(lot.lotId)).map(({ lotId, lotCode }) => ({ lotId, lotCode }));
  return { lots, liftedHoldIds: holdIds };
}

/** Releases what in these batches is complete, and then what waited further down for that. */
async function releaseInTurn(context: Completing, batchIds: readonly string[]): Promise<ReleasedLot[]> {
  const next = [...batchIds];
  const released: ReleasedLot[] = [];
  for (let batchId = next.shift(); batchId !== undefined; batchId = next.shift()) {
    const { lots, liftedHoldIds } = await releaseOne(context, batchId);
    if (lots.length === 0) continue;
    released.push(...lots);
    next.push(...(await listBatchesReached(context.tx, liftedHoldIds)));
  }
  return released;
}

/** @returns what it released, of this batch and of those further down */
export const releaseWhatIsComplete = (context: Completing, batchId: string): Promise<ReleasedLot[]> =>
  releaseInTurn(context, [batchId]);

/** Food that was complete and waited only for what was made before it. @param holdIds waits that were lifted */
export async function releaseBelow(context: Completing, holdIds: readonly string[]): Promise<void> {
  await releaseInTurn(context, await listBatchesReached(context.tx, holdIds));
}
