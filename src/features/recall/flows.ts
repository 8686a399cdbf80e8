/** How a set of lots flowed, in memory: loaded by one statement per table. Refusals: none. */
import { shareOut, worthOfLots, type ValueLot, type Worth } from '../../domain/purchase-value.ts';
import type { Tx } from '../../platform/db/db.ts';
import {
  listBarren,
  listEdgesInto,
  listFlowLots,
  listStands,
  listTakings,
  type FlowEdgeRow,
  type FlowLotRow,
  type StandRow,
  type TakingRow,
} from './store-flows.ts';

/** `in-process`: in a batch that nothing has come out of yet. */
export type StandKind = Exclude<StandRow['kind'], 'produced'> | 'in-process';

export interface Stand {
  readonly kind: StandKind;
  readonly siteId: string;
  readonly quantity: number;
  /** billionths of a minor unit */
  readonly fine: bigint;
  readonly unpricedMg: bigint;
}

export interface FlowLot extends FlowLotRow {
  /** what is not in another lot, and its part of the worth */
  readonly stands: readonly Stand[];
}

export interface Flow {
  readonly lots: ReadonlyMap<string, FlowLot>;
  readonly edges: readonly FlowEdgeRow[];
  readonly takings: readonly TakingRow[];
}

/** Came from outside; anything else is worth what went into it. */
const BOUGHT = new Set<FlowLotRow['origin']>(['supplied', 'opening', 'pseudo']);

function grouped<T extends { readonly lotId: string }>(rows: readonly T[]): Map<string, T[]> {
  const groups = new Map<string, T[]>();
  for (const row of rows) {
    const group = groups.get(row.lotId);
    if (group) group.push(row);
    else groups.set(row.lotId, [row]);
  }
  return groups;
}

/**
 * @param lotIds with everything before them; a price of what is missing would be missing too
 * @param shownIds those of them of which it is asked where they stand; the others have no stands
 */
export async function loadFlow(tx: Tx, lotIds: readonly string[], shownIds: ReadonlySet<string>): Promise<Flow> {
  const rows = await listFlowLots(tx, lotIds);
  const edges = await listEdgesInto(tx, lotIds);
  // Water and salt have no deliveries of their own; what was taken of them, every day, is neither priced nor missed.
  const counted = rows.filter((row) => row.origin !== 'pseudo' || row.lotTracked);
  const takings = await listTakings(
    tx,
    counted.map((row) => row.lotId),
  );
  const standing = grouped(await listStands(tx, lotIds));
  const valued = rows.map((row): ValueLot => {
    const { lotId, quantity, massMg, priceMinor } = row;
    let stands = 0;
    for (const stand of standing.get(lotId) ?? []) if (stand.kind === 'produced') stands -= stand.quantity;
    return { lotId, quantity, massMg, priceMinor, stands, bought: BOUGHT.has(row.origin) };
  });
  const worths = worthOfLots(valued, takings, edges);
  const living = new Set(valued.flatMap((lot) => (lot.stands > 0 ? [lot.lotId] : [])));
  const fruitful = new Set(edges.flatMap((edge) => (living.has(edge.childLotId) ? [edge.processId] : [])));
  // What came out of the others may lie beyond the lots that were asked for.
  const others = takings.flatMap(({ lotId, processId }) =>
    shownIds.has(lotId) && !fruitful.has(processId) ? [processId] : [],
  );
  const barren = new Set(await listBarren(tx, [...new Set(others)]));
  const takenFrom = grouped(takings);
  const lots = rows.map((row): [string, FlowLot] => {
    if (!shownIds.has(row.lotId)) return [row.lotId, { ...row, stands: [] }];
    const taken = takenFrom.get(row.lotId) ?? [];
    const stands = standsOf(row, worths.get(row.lotId), standing.get(row.lotId) ?? [], taken, barren);
    return [row.lotId, { ...row, stands }];
  });
  return { lots: new Map(lots), edges, takings };
}

function standsOf(
  lot: FlowLotRow,
  worth: Worth | undefined,
  rows: readonly StandRow[],
  taken: readonly TakingRow[],
  barren: ReadonlySet<string>,
): Stand[] {
  let passed = 0;
  const parts: Omit<Stand, 'fine' | 'unpricedMg'>[] = rows.flatMap(({ kind, siteId, quantity }) =>
    kind === 'produced' ? [] : [{ kind, siteId, quantity }],
  );
  for (const { processId, siteId, quantity } of taken) {
    if (barren.has(processId)) parts.push({ kind: 'in-process', siteId, quantity });
    else passed += quantity;
  }
  const quantities = parts.map((part) => BigInt(part.quantity));
  const of = BigInt(lot.quantity);
  const fines = shareOut(worth?.fine ?? 0n, of, quantities, BigInt(passed));
  const masses = shareOut(worth?.unpricedMg ?? 0n, of, quantities, BigInt(passed));
  return parts.map((part, at) => ({ ...part, fine: fines[at] ?? 0n, unpricedMg: masses[at] ?? 0n }));
}
