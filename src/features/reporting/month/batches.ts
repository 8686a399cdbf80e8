/** Batches and recipes of a month: masses, yields, what they cost and what was lost beyond the plan. */
import { batchResult, sumBatches, type BatchResult } from '../../../domain/month/batches.ts';
import { roundedQuotient } from '../../../domain/exact.ts';
import { FINE_PER_MINOR } from '../../../domain/month/printed.ts';
import { groupBy } from '../../../domain/grouping.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { costsOfBatches, type CostView } from '../costs/index.ts';
import { listBatchFlows, listCompletedBatches, type BatchQuestion, type CompletedBatchRow } from './queries.ts';
import type { MonthReportAnswer } from './shapes.ts';

export interface MadeBatch {
  readonly batch: CompletedBatchRow;
  readonly result: BatchResult;
  readonly costMinor: number;
  readonly abnormalLossMinor: number;
}

const minorOf = (fine: bigint): number => Number(roundedQuotient(fine, FINE_PER_MINOR));

export async function readBatches(tx: Tx, asked: BatchQuestion, costs: CostView): Promise<MadeBatch[]> {
  const batches = await listCompletedBatches(tx, asked);
  const batchIds = batches.map((batch) => batch.batchId);
  const flows = groupBy(await listBatchFlows(tx, batchIds, asked.cutSeq), (flow) => flow.batchId);
  const worth = await costsOfBatches(tx, costs, batchIds);
  return batches.map((batch) => {
    const own = flows.get(batch.batchId) ?? [];
    const result = batchResult({
      inputs: own.filter((flow) => flow.side === 'input'),
      outputs: own.filter((flow) => flow.side === 'output'),
      gainsMg: batch.gainsMg,
      lossesMg: batch.lossesMg,
      expectedYieldPpm: batch.expectedYieldPpm,
    });
    const cost = worth.get(batch.batchId);
    const costMinor = minorOf(cost?.poolFine ?? 0n);
    return { batch, result, costMinor, abnormalLossMinor: minorOf(cost?.restFine ?? 0n) };
  });
}

export const batchAnswers = (made: readonly MadeBatch[]): MonthReportAnswer['batches'] =>
  made.map(({ batch, result, costMinor, abnormalLossMinor }) => ({
    batchId: batch.batchId,
    code: batch.code,
    siteId: batch.siteId,
    recipeId: batch.recipeId,
    itemName: batch.itemName,
    completedOn: batch.completedOn,
    ...result.grams,
    yieldPercent: result.exact.yieldPercent,
    expectedYieldPercent: result.exact.expected?.yieldPercent ?? null,
    costMinor,
    abnormalLossMinor,
  }));

/** By code of the recipe. */
export function recipeAnswers(made: readonly MadeBatch[]): MonthReportAnswer['recipes'] {
  const recipes = [...groupBy(made, ({ batch }) => batch.recipeId)];
  const answers = recipes.flatMap(([recipeId, own]) => {
    const [first] = own;
    if (!first) return [];
    const { recipeCode, itemName } = first.batch;
    return {
      recipeId,
      recipeCode,
      itemName,
      ...sumBatches(own.map(({ result }) => result)),
      costMinor: own.reduce((sum, one) => sum + one.costMinor, 0),
      abnormalLossMinor: own.reduce((sum, one) => sum + one.abnormalLossMinor, 0),
    };
  });
  return answers.sort((a, b) => (a.recipeCode < b.recipeCode ? -1 : 1));
}
