/** Facts of costs in the shapes of the domain. One statement a table. */
import type { BatchRates } from '../../../domain/costing/process.ts';
import { ratesInForce, ratesOf } from '../../../domain/costing/rates.ts';
import type { CostLot, CostPrice, CostProcess, CostTaking } from '../../../domain/costing/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Cut } from '../../ledger/index.ts';
import {
  listCostBatches,
  listCostLots,
  listRatesKnown,
  listStanding,
  type CostBatchRow,
  type CostLotRow,
  type RateRow,
} from './facts-store.ts';

function priceOf(row: CostLotRow): CostPrice | null {
  if (row.saidMinor !== null && row.saidPer !== null) {
    return { minor: BigInt(row.saidMinor), perQuantity: BigInt(row.saidPer) };
  }
  if (row.deliveredPer === null) return null;
  const minor = row.deliveredMinor === null ? null : BigInt(row.deliveredMinor);
  return { minor, perQuantity: BigInt(row.deliveredPer), zero: row.deliveredZero ?? false };
}

function sourceOf(row: CostLotRow): CostLot['source'] {
  if (row.origin === 'supplied' || row.origin === 'opening') return 'bought';
  if (row.origin !== 'pseudo') return 'made';
  return row.lotTracked ? 'unbought' : 'free';
}

const MADE_BY: Partial<Record<CostLotRow['origin'], CostProcess['kind']>> = {
  produced: 'batch',
  packed: 'packing',
  converted: 'conversion',
};

/** @param lotIds null: all */
export async function loadCostLots(tx: Tx, cut: Cut, lotIds: readonly string[] | null): Promise<CostLot[]> {
  const stands = new Map((await listStanding(tx, cut, lotIds)).map((row) => [row.lotId, row.quantity]));
  const rows = await listCostLots(tx, cut, lotIds);
  return rows.map((row): CostLot => {
    const source = sourceOf(row);
    const made = source === 'made';
    return {
      lotId: row.lotId,
      quantity: row.quantity,
      massMg: row.massMg,
      packaging: row.packaging,
      source,
      price: made ? null : priceOf(row),
      processId: made ? row.processId : null,
      madeBy: MADE_BY[row.origin] ?? null,
      stands: made ? (stands.get(row.lotId) ?? 0) : 0,
    };
  });
}

export interface CostBatch extends CostBatchRow {
  /** of each kind the one that applies */
  readonly rates: readonly RateRow[];
}

/** @param batchIds null: all */
export async function loadCostBatches(
  tx: Tx,
  cut: Cut,
  batchIds: readonly string[] | null,
): Promise<Map<string, CostBatch>> {
  const rates = ratesInForce(await listRatesKnown(tx, cut));
  const rows = await listCostBatches(tx, cut, batchIds);
  return new Map(rows.map((row) => [row.batchId, { ...row, rates: ratesOf(rates, row) }]));
}

/** The processes that made these lots or that took something, in no order. */
export function processesOf(
  lots: readonly CostLot[],
  takings: readonly CostTaking[],
  batches: ReadonlyMap<string, CostBatch>,
): CostProcess[] {
  const kinds = new Map<string, CostProcess['kind']>();
  for (const taking of takings) kinds.set(taking.processId, batches.has(taking.processId) ? 'batch' : 'conversion');
  for (const lot of lots) if (lot.processId !== null && lot.madeBy !== null) kinds.set(lot.processId, lot.madeBy);
  return [...kinds].map(([processId, kind]): CostProcess => {
    const batch = batches.get(processId);
    return {
      processId,
      kind,
      expectedYieldPpm: batch?.expectedYieldPpm ?? 0,
      gainsMg: batch?.gainsMg ?? 0,
      ...ratesSummed(batch),
    };
  });
}

/** What the rates of a batch come to for it and for each kg; nothing for what is no batch. */
export function ratesSummed(batch: CostBatch | undefined): BatchRates {
  const sum = (field: 'perBatchMinor' | 'perKgMinor') =>
    (batch?.rates ?? []).reduce((total, rate) => total + BigInt(rate[field] ?? 0), 0n);
  return { perBatchMinor: sum('perBatchMinor'), perKgMinor: sum('perKgMinor') };
}
