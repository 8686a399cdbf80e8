/**
 * What a plan asks of food before it is packed, and of packs before they leave. A request is refused (`checks-not-passed`); of a run that
 * is over it is a finding, `packed-unchecked`.
 */
import { Refused } from '../../../domain/errors.ts';
import { againstPacking, packsWait, type PointReadiness } from '../../../domain/process-checks/readiness.ts';
import type { StandingCheck } from '../../../domain/process-checks/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { derivedId } from '../../../platform/ids.ts';
import { insertHolds, type FindingDraft, type HoldDraft, type LotRow } from '../../ledger/index.ts';
import { findBatchPlan } from '../../process-checks/index.ts';
import { listBorn } from '../store.ts';
import { pointBrief } from './answer.ts';
import { readinessOf } from './ready.ts';

export interface Unchecked {
  readonly lot: LotRow;
  readonly points: readonly PointReadiness[];
}

/**
 * Of the lots that food is taken from, those that a check should have passed before.
 * @param own what the packing run itself says was measured before the chamber
 */
export async function listUnchecked(
  tx: Tx,
  lots: readonly LotRow[],
  own: readonly StandingCheck[],
): Promise<Unchecked[]> {
  const unchecked: Unchecked[] = [];
  const loads = [...new Map(lots.filter((lot) => lot.origin === 'produced').map((lot) => [lot.lotId, lot])).values()];
  const batchIds = new Set(loads.flatMap(({ batchId }) => (batchId === null ? [] : [batchId])));
  for (const batchId of batchIds) {
    const { byLot } = await readinessOf(tx, batchId, await listBorn(tx, batchId), own);
    for (const lot of loads) {
      const ready = byLot.get(lot.lotId);
      const points = ready ? againstPacking(ready) : [];
      if (points.length > 0) unchecked.push({ lot, points });
    }
  }
  return unchecked;
}

export function requireChecked(unchecked: readonly Unchecked[]): void {
  const first = unchecked[0];
  if (!first) return;
  const labels = first.points.map((point) => point.label).join(', ');
  const detail = `Lot ${first.lot.code} is not to be packed before this has passed: ${labels}.`;
  const lots = unchecked.map(({ lot, points }) => ({
    lotId: lot.lotId,
    lotCode: lot.code,
    points: points.map(pointBrief),
  }));
  throw new Refused('checks-not-passed', detail, { members: { lots } });
}

export function findingsOfUnchecked(
  run: { readonly factId: string; readonly finishedAtMs: number; readonly siteId: string },
  unchecked: readonly Unchecked[],
): FindingDraft[] {
  return unchecked.map(({ lot, points }) => ({
    kind: 'packed-unchecked',
    subject: `${run.factId}|${lot.lotId}`,
    siteId: run.siteId,
    lotId: lot.lotId,
    quantity: null,
    occurredAtMs: run.finishedAtMs,
    detail: { lotCode: lot.code, points: points.map(pointBrief), factId: run.factId },
  }));
}

export const waitOf = (lotId: string): HoldDraft => ({
  holdId: derivedId('awaiting-release', lotId),
  kind: 'awaiting-release',
  lotId,
  siteId: null,
  accountId: null,
  propagates: true,
  note: null,
});

/**
 * Packs wait for a release of their own, beside that of their load, where the plan of a batch asks something of each packing run: of the batch
 * that packs, or of one that the food is from.
 */
export async function letPacksWait(
  tx: Tx,
  batchId: string,
  packed: readonly { readonly fromBatchId: string | null; readonly packLotIds: readonly string[] }[],
  actorId: string,
  nowMs: number,
): Promise<void> {
  const fromIds = packed.flatMap(({ fromBatchId }) => (fromBatchId === null ? [] : [fromBatchId]));
  const plans = await findBatchPlan(tx, [...new Set([batchId, ...fromIds])]);
  const asks = (id: string | null) => {
    const plan = id === null ? undefined : plans.get(id);
    return plan !== undefined && packsWait(plan.plan);
  };
  const waiting = packed.filter(({ fromBatchId }) => asks(batchId) || asks(fromBatchId));
  const lotIds = new Set(waiting.flatMap(({ packLotIds }) => packLotIds));
  await insertHolds(tx, [...lotIds].map(waitOf), actorId, nowMs);
}
