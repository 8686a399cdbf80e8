/** Batches with what they yielded, and what their recipe's history at their site says about them. */
import { massOfMg } from '../../../domain/exact.ts';
import { groupBy } from '../../../domain/grouping.ts';
import { splitLoss, type LossSplit } from '../../../domain/yields/split.ts';
import { judgeBatches, yieldPpm, type Judged, type MadeBatch } from '../../../domain/yields/spread.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { listBatchFlows, type BatchFlowRow } from '../month/queries.ts';
import type { YieldBatchRow } from './queries.ts';

export interface MeasuredBatch extends MadeBatch {
  readonly row: YieldBatchRow;
  readonly split: LossSplit;
  readonly judged: Judged;
}

/**
 * Measures and judges batches by entries up to `seq`.
 * @param rows of each recipe and site in the order in which they were completed, with what comes before
 */
export async function measureBatches(tx: Tx, rows: readonly YieldBatchRow[], seq: number): Promise<MeasuredBatch[]> {
  const masses = await listBatchFlows(
    tx,
    rows.map((row) => row.batchId),
    seq,
  );
  const massesOf = groupBy(masses, (mass) => mass.batchId);
  const measured = rows.map((row) => {
    const split = splitOf(row, massesOf.get(row.batchId) ?? []);
    const made = { batchId: row.batchId, recipeVersion: row.recipeVersion, yieldPpm: yieldPpm(split.exact.yield) };
    return { ...made, row, split };
  });
  const streams = groupBy(measured, ({ row }) => `${row.recipeId} ${row.siteId}`);
  return [...streams.values()].flatMap((stream) => {
    const judgements = judgeBatches(stream);
    return stream.flatMap((batch, at) => {
      const judged = judgements[at];
      return judged ? [{ ...batch, judged }] : [];
    });
  });
}

function splitOf(row: YieldBatchRow, masses: readonly BatchFlowRow[]): LossSplit {
  const side = (name: BatchFlowRow['side']) =>
    masses
      .filter((mass) => mass.side === name)
      .map((mass) => massOfMg(BigInt(mass.quantity), BigInt(mass.lotQuantity), BigInt(mass.lotMassMg)));
  const whole = (byKind: Readonly<Record<string, number>>) =>
    Object.fromEntries(Object.entries(byKind).map(([kind, mg]) => [kind, BigInt(mg)]));
  return splitLoss({
    inputsMg: side('input'),
    outputsMg: side('output'),
    gainsMg: whole(row.gainsMg),
    lossesMg: whole(row.lossesMg),
    expectedYieldPpm: row.expectedYieldPpm,
  });
}
