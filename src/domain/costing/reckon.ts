/**
 * What every lot cost. Bought lots by their price, made lots by what went in, process by process in the order of the graph. The same
 * facts give the same numbers, whatever the order in which they are given and whichever lots are taken as known. Refusals: none.
 */
import { orderProcesses } from './order.ts';
import { reckonBought, reckonOutputs, unknown, type Put } from './process.ts';
import type { CostLot, CostProcess, CostTaking, LotCost } from './shapes.ts';

/**
 * @param lots those to reckon, and all that went into the processes
 * @param processes those to reckon; every lot in `lots` that one of them made is reckoned
 * @param takings all of each process, reversals net
 * @param known costs that stand already; they are not reckoned again. A lot that is neither known nor from outside nor made by one of the
 *   processes is a fault of the caller.
 */
export function reckonCosts(
  lots: readonly CostLot[],
  processes: readonly CostProcess[],
  takings: readonly CostTaking[],
  known: ReadonlyMap<string, LotCost>,
): Map<string, LotCost> {
  const lotById = new Map(lots.map((lot) => [lot.lotId, lot]));
  const at = new Map(processes.map((process, index) => [process.processId, index]));
  const costs = new Map<string, LotCost>();
  const outputs: CostLot[][] = processes.map(() => []);
  for (const lot of lots) {
    if (known.has(lot.lotId)) continue;
    if (lot.source !== 'made') costs.set(lot.lotId, reckonBought(lot));
    else if (lot.processId !== null) outputs[at.get(lot.processId) ?? -1]?.push(lot);
  }
  const puts: CostTaking[][] = processes.map(() => []);
  const arcs: { from: number; to: number; taking: CostTaking }[] = [];
  for (const taking of takings) {
    const to = at.get(taking.processId);
    if (to === undefined) continue;
    puts[to]?.push(taking);
    const lot = lotById.get(taking.lotId);
    if (!lot || lot.processId === null || known.has(lot.lotId)) continue;
    const from = at.get(lot.processId);
    if (from !== undefined) arcs.push({ from, to, taking });
  }
  const { order, closing } = orderProcesses(processes.length, arcs);
  for (const index of order) {
    const process = processes[index] as CostProcess;
    const went = (puts[index] ?? []).map((taking): Put => {
      const lot = lotById.get(taking.lotId);
      if (!lot) throw new Error(`lot ${taking.lotId} was not loaded`);
      if (closing.has(taking)) return { taking, lot, cost: null };
      // Made, and undone since: nobody can say what it cost.
      if (lot.source === 'made' && lot.stands <= 0) return { taking, lot, cost: unknown(lot.lotId) };
      const cost = known.get(lot.lotId) ?? costs.get(lot.lotId);
      if (!cost) throw new Error(`lot ${lot.lotId} has no cost yet`);
      return { taking, lot, cost };
    });
    for (const one of reckonOutputs(process, went, outputs[index] ?? [])) costs.set(one.lotId, one);
  }
  return costs;
}
