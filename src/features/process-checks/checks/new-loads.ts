/** Loads that come out of a batch after a check of it failed for good: held as those are that were there already. Refusals: none. */
import type { Tx } from '../../../platform/db/db.ts';
import { insertFollowingHolds } from '../../ledger/index.ts';
import { failedCheckHold } from './follows.ts';
import { listFailedForGood } from './queries-more.ts';

/** Of loads that are born in this transaction, so that nothing was made from them yet. */
export async function holdNewLoads(
  tx: Tx,
  batchId: string,
  lotIds: readonly string[],
  actorId: string,
  nowMs: number,
): Promise<void> {
  const failed = await listFailedForGood(tx, batchId);
  const holds = failed.flatMap(({ checkId, reason }) => lotIds.map((lotId) => failedCheckHold(checkId, lotId, reason)));
  await insertFollowingHolds(tx, holds, actorId, nowMs);
}
