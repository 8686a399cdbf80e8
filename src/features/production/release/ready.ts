/** What the plan of a batch and the checks that stand say of its lots. Refusals: none. */
import { readiness, type LotReadiness } from '../../../domain/process-checks/readiness.ts';
import type { StandingCheck } from '../../../domain/process-checks/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { ReachingHold } from '../../ledger/index.ts';
import { findBatchPlan, listDoubtedChecks, listStandingChecks, type BatchPlan } from '../../process-checks/index.ts';
import { findBatch, type BornRow } from '../store.ts';
import { listPackSources, listReworkedInto } from './store.ts';

export interface Ready {
  /** null: the batch was opened before its recipe had a plan, or the recipe has none; then a person releases as before */
  readonly plan: BatchPlan | null;
  readonly byLot: ReadonlyMap<string, LotReadiness>;
  /** codes of lots in it that were rejected for rework, before or after they went in */
  readonly reworked: readonly string[];
}

/**
 * @param born all lots of the batch
 * @param also checks that are decided and not written yet
 */
export async function readinessOf(
  tx: Tx,
  batchId: string,
  born: readonly BornRow[],
  also: readonly StandingCheck[] = [],
): Promise<Ready> {
  const plan = (await findBatchPlan(tx, [batchId])).get(batchId) ?? null;
  const batch = await findBatch(tx, batchId);
  const loadIds = born.filter((lot) => lot.origin === 'produced').map((lot) => lot.lotId);
  const reworked = await listReworkedInto(tx, batchId, loadIds);
  if (!plan || !batch) return { plan, byLot: new Map(), reworked };
  const checks = [...(await listStandingChecks(tx, { batchIds: [batchId] })), ...also];
  const doubted = await listDoubtedChecks(tx, batchId);
  const sources = await listPackSources(tx, batchId);
  const lots = born.map(({ lotId, origin, packingRunId }) => ({
    lotId,
    kind: origin === 'produced' ? ('load' as const) : ('packs' as const),
    packingRunId,
    fromLotIds: sources.filter((one) => one.packLotId === lotId).map((one) => one.fromLotId),
  }));
  const ready = readiness(plan.plan, lots, checks, {
    startedAtMs: batch.startedAt.getTime(),
    completed: batch.state === 'completed',
    doubted,
    reworks: reworked.length > 0,
  });
  return { plan, byLot: new Map(ready.map((one) => [one.lotId, one])), reworked };
}

/** The lot's own wait, not one that it has from what it was made from. */
export const ownWait = (hold: ReachingHold): boolean =>
  hold.kind === 'awaiting-release' && hold.rootLotId === hold.lotId;
