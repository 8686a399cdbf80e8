/** What changed since a checkpoint: lots touched by facts since then and all that was made of them, reckoned anew. */
import { costsNothing } from '../../../domain/costing/process.ts';
import { reckonCosts } from '../../../domain/costing/reckon.ts';
import type { LotCost } from '../../../domain/costing/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Cut } from '../../ledger/index.ts';
import { listTakers, listTouchedBatches, listTouchedBought, listTouchedProcesses } from './dirty-store.ts';
import { loadCostBatches, loadCostLots, processesOf } from './facts.ts';
import { listCostTakings, listOutputsOf, setLoops } from './facts-store.ts';
import { listStoredCosts, type Checkpoint } from './store.ts';

interface Dirty {
  readonly lotIds: ReadonlySet<string>;
  readonly processIds: ReadonlySet<string>;
}

/** Level by level, so that there are as many statements as the longest chain has links. */
async function listDirty(tx: Tx, from: Checkpoint, to: Cut): Promise<Dirty> {
  const lotIds = new Set<string>();
  const processIds = new Set<string>();
  let lots = from.seq < to.seq || from.moneyNo < to.moneyNo ? await listTouchedBought(tx, from, to) : [];
  let processes = from.seq < to.seq ? await listTouchedProcesses(tx, from, to) : [];
  if (from.moneyNo < to.moneyNo) processes = [...processes, ...(await listTouchedBatches(tx, from, to))];
  while (lots.length + processes.length > 0) {
    const takers = lots.length > 0 ? await listTakers(tx, to, lots) : [];
    for (const lotId of lots) lotIds.add(lotId);
    const fresh = [...new Set([...processes, ...takers])].filter((processId) => !processIds.has(processId));
    for (const processId of fresh) processIds.add(processId);
    processes = [];
    lots = fresh.length > 0 ? (await listOutputsOf(tx, fresh)).filter((lotId) => !lotIds.has(lotId)) : [];
  }
  return { lotIds, processIds };
}

/** Of these lots, what they cost at a checkpoint; those without a row cost nothing and lack nothing, as when nothing stands of them. */
export async function storedCosts(tx: Tx, at: Checkpoint, lotIds: readonly string[]): Promise<Map<string, LotCost>> {
  const found = new Map(lotIds.map((lotId) => [lotId, costsNothing(lotId)]));
  if (lotIds.length === 0 || at.seq + at.moneyNo === 0) return found;
  for (const row of await listStoredCosts(tx, at, lotIds)) {
    found.set(row.lotId, {
      lotId: row.lotId,
      unitFine: BigInt(row.unitFine),
      uncosted: row.reason !== null,
      reason: row.reason,
      unpricedPpm: row.unpricedPpm,
      boughtUgPerUnit: BigInt(row.boughtUg),
    });
  }
  return found;
}

/** Lots whose cost may differ from the checkpoint's, as it is at the cut. */
export async function reckonSince(tx: Tx, from: Checkpoint, to: Cut): Promise<Map<string, LotCost>> {
  const { lotIds, processIds } = await listDirty(tx, from, to);
  if (lotIds.size === 0) return new Map();
  const ids = [...processIds];
  const takings = ids.length > 0 ? await listCostTakings(tx, to, ids) : [];
  const batches = await loadCostBatches(tx, to, ids);
  const inputs = new Set<string>();
  for (const { lotId } of takings) if (!lotIds.has(lotId)) inputs.add(lotId);
  const known = await storedCosts(tx, from, [...inputs]);
  const lots = await loadCostLots(tx, to, [...lotIds, ...inputs]);
  return reckonCosts(lots, processesOf(lots, takings, batches), takings, known);
}

/** Every lot of the group, from nothing. */
export async function reckonAll(tx: Tx, cut: Cut): Promise<Map<string, LotCost>> {
  await setLoops(tx, 'off');
  const takings = await listCostTakings(tx, cut, null);
  const batches = await loadCostBatches(tx, cut, null);
  const lots = await loadCostLots(tx, cut, null);
  await setLoops(tx, 'on');
  return reckonCosts(lots, processesOf(lots, takings, batches), takings, new Map());
}

export function sameCost(a: LotCost, b: LotCost): boolean {
  const same: (keyof LotCost)[] = ['unitFine', 'reason', 'unpricedPpm', 'boughtUgPerUnit'];
  return same.every((field) => a[field] === b[field]);
}
