/**
 * What lots cost as known at a cut: the rows of the newest checkpoint at or before it, and in memory whatever facts since then change.
 * From a checkpoint and from nothing the numbers are the same, bit for bit. Refusals: none.
 */
import type { LotCost } from '../../../domain/costing/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Cut } from '../../ledger/index.ts';
import { reckonAll, reckonSince, storedCosts } from './since.ts';
import { findCheckpoint, listChangedIds, type Checkpoint } from './store.ts';

export interface CostView {
  readonly cut: Cut;
  /** the checkpoint whose rows are read */
  readonly sqlAsOf: Checkpoint;
  /** lots whose cost was reckoned since then; they go before the rows */
  readonly overrides: ReadonlyMap<string, LotCost>;
}

export async function loadCosts(tx: Tx, cut: Cut): Promise<CostView> {
  const sqlAsOf = await findCheckpoint(tx, cut);
  if (sqlAsOf === null) return { cut, sqlAsOf: { seq: 0, moneyNo: 0 }, overrides: await reckonAll(tx, cut) };
  return { cut, sqlAsOf, overrides: await reckonSince(tx, sqlAsOf, cut) };
}

/** @returns one for every lot asked for */
export async function findUnitCosts(tx: Tx, view: CostView, lotIds: readonly string[]): Promise<Map<string, LotCost>> {
  const found = await storedCosts(
    tx,
    view.sqlAsOf,
    lotIds.filter((lotId) => !view.overrides.has(lotId)),
  );
  for (const lotId of lotIds) {
    const cost = view.overrides.get(lotId);
    if (cost) found.set(lotId, cost);
  }
  return found;
}

export interface ChangedLot {
  readonly lotId: string;
  readonly beforeFine: bigint;
  readonly afterFine: bigint;
}

/** Lots that had moved by the earlier cut and cost something else by now. */
export async function listChangedLots(tx: Tx, before: Cut, after: CostView): Promise<ChangedLot[]> {
  const earlier = await loadCosts(tx, before);
  const reckoned = [...earlier.overrides.keys(), ...after.overrides.keys()];
  const lotIds = await listChangedIds(tx, before, earlier.sqlAsOf, after.sqlAsOf, reckoned);
  const was = await findUnitCosts(tx, earlier, lotIds);
  const is = await findUnitCosts(tx, after, lotIds);
  return lotIds.flatMap((lotId): ChangedLot[] => {
    const beforeFine = was.get(lotId)?.unitFine ?? 0n;
    const afterFine = is.get(lotId)?.unitFine ?? 0n;
    return beforeFine === afterFine ? [] : [{ lotId, beforeFine, afterFine }];
  });
}
