/** The money of processes at a cut: what went in, what was added, what the output carries, what is left. Read, never stored. */
import { moneyOfProcess } from '../../../domain/costing/process.ts';
import type { CostLot, CostTaking, ProcessCost } from '../../../domain/costing/shapes.ts';
import { groupBy } from '../../../domain/grouping.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { loadCostBatches, loadCostLots, processesOf, type CostBatch } from './facts.ts';
import { listCostTakings, listOutputsOf } from './facts-store.ts';
import { findUnitCosts, type CostView } from './view.ts';

export interface ProcessMoney extends ProcessCost {
  readonly takings: readonly CostTaking[];
  readonly outputs: readonly CostLot[];
  /** null: a packing run or a conversion */
  readonly batch: CostBatch | null;
}

/** @returns by process id; those that nothing is known of at the cut are left out */
export async function moneyOfProcesses(
  tx: Tx,
  view: CostView,
  processIds: readonly string[],
): Promise<Map<string, ProcessMoney>> {
  const takings = await listCostTakings(tx, view.cut, processIds);
  const batches = await loadCostBatches(tx, view.cut, processIds);
  const lots = await loadCostLots(tx, view.cut, await listOutputsOf(tx, processIds));
  const lotIds = [...new Set([...takings.map((taking) => taking.lotId), ...lots.map((lot) => lot.lotId)])];
  const costs = await findUnitCosts(tx, view, lotIds);
  const taken = groupBy(takings, (taking) => taking.processId);
  const made = groupBy(lots, (lot) => lot.processId);
  const unitFineOf = (lotId: string) => costs.get(lotId)?.unitFine ?? 0n;
  return new Map(
    processesOf(lots, takings, batches).map((process): [string, ProcessMoney] => {
      const { processId } = process;
      const puts = taken.get(processId) ?? [];
      const outputs = made.get(processId) ?? [];
      const money = moneyOfProcess(process, puts, outputs, unitFineOf);
      return [processId, { ...money, takings: puts, outputs, batch: batches.get(processId) ?? null }];
    }),
  );
}

export interface BatchCost {
  readonly poolFine: bigint;
  readonly addedFine: bigint;
  readonly carriedFine: bigint;
  /** open: work in process; completed: lost beyond the plan */
  readonly restFine: bigint;
  readonly state: 'open' | 'completed';
}

/** @returns by batch id; a batch that nothing went into or came out of at the cut is left out */
export async function costsOfBatches(
  tx: Tx,
  view: CostView,
  batchIds: readonly string[],
): Promise<Map<string, BatchCost>> {
  const found = await moneyOfProcesses(tx, view, batchIds);
  return new Map(
    [...found].flatMap(([batchId, { batch, poolFine, addedFine, carriedFine, restFine }]): [string, BatchCost][] => {
      if (!batch) return [];
      const state = batch.completed ? 'completed' : 'open';
      return [[batchId, { poolFine, addedFine, carriedFine, restFine, state }]];
    }),
  );
}
