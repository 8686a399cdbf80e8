/** A batch as an answer: what went in, what came out, what is unexplained. */
import type Fraction from 'fraction.js';
import { massOfMg } from '../../domain/exact.ts';
import { batchYield } from '../../domain/yields.ts';
import type { Tx } from '../../platform/db/db.ts';
import type { FindingDraft } from '../ledger/index.ts';
import { planBrief } from './release/answer.ts';
import { readinessOf } from './release/ready.ts';
import { listReworked } from './release/store.ts';
import { listInputs } from './store-inputs.ts';
import { listBorn, listDecisions, listGains, listLosses, type BatchRow, type BornRow } from './store.ts';

const grams = (mg: Fraction): number => mg.div(1000).valueOf();

/** The gravest of what is decided and what is not. */
export function stateOf({
  awaiting,
  rejected,
  forRework,
}: Pick<BornRow, 'awaiting' | 'rejected' | 'forRework'>): 'awaiting-release' | 'released' | 'rejected' | 'for-rework' {
  if (rejected) return 'rejected';
  if (forRework) return 'for-rework';
  return awaiting ? 'awaiting-release' : 'released';
}

export function batchHead(batch: BatchRow) {
  return {
    batchId: batch.batchId,
    code: batch.code,
    siteId: batch.siteId,
    recipeId: batch.recipeId,
    recipeVersion: batch.recipeVersion,
    itemId: batch.itemId,
    state: batch.state,
    killStep: batch.killStep,
    startedAt: batch.startedAt.toISOString(),
    completedAt: batch.completedAt?.toISOString() ?? null,
    version: batch.version,
  };
}

export async function batchAnswer(tx: Tx, batch: BatchRow) {
  const inputs = await listInputs(tx, batch.batchId);
  const born = await listBorn(tx, batch.batchId);
  const gains = await listGains(tx, batch.batchId);
  const losses = await listLosses(tx, batch.batchId);
  const decisions = await listDecisions(tx, batch.batchId);
  const { plan, byLot } = await readinessOf(tx, batch.batchId, born);
  const yields = batchYield({
    inputsMg: inputs.map((one) => massOfMg(BigInt(one.quantity), BigInt(one.lotQuantity), BigInt(one.lotMassMg))),
    outputsMg: born.filter((lot) => lot.origin === 'produced').map((lot) => BigInt(lot.massMg)),
    gainsMg: Object.fromEntries(gains.map((gain) => [gain.kind, BigInt(gain.massMg)])),
    lossesMg: Object.fromEntries(losses.map((loss) => [loss.kind, BigInt(loss.massMg)])),
    expectedYieldPpm: batch.expectedYieldPpm,
  });
  return {
    ...batchHead(batch),
    inputs: inputs.map(({ entryId, lotId, lotCode, itemName, quantity, unit }) => ({
      entryId,
      lotId,
      lotCode,
      itemName,
      quantity,
      unit,
    })),
    lots: born.map((lot) => ({
      lotId: lot.lotId,
      lotCode: lot.lotCode,
      itemName: lot.itemName,
      loadNo: lot.loadNo,
      packingRunId: lot.packingRunId,
      quantity: lot.quantity,
      unit: lot.unit,
      useByAt: lot.useByAt?.toISOString() ?? null,
      useByDate: lot.useByDate,
      state: stateOf(lot),
      checks: byLot.get(lot.lotId)?.state ?? null,
    })),
    gains: gains.map((gain) => ({ kind: gain.kind, massG: gain.massMg / 1000 })),
    losses: losses.map(({ kind, massMg, destination, inedibleMassMg }) => ({
      kind,
      massG: massMg / 1000,
      destination,
      inedibleMassG: inedibleMassMg === null ? null : inedibleMassMg / 1000,
    })),
    yield: {
      consumedG: grams(yields.consumedMg),
      gainsG: grams(yields.gainsMg),
      outputsG: grams(yields.outputsMg),
      lossesG: grams(yields.lossesMg),
      unexplainedG: grams(yields.unexplainedMg),
      percent: yields.yieldPercent,
      expectedPercent: yields.expected?.yieldPercent ?? 0,
    },
    decisions: decisions.map((decision) => ({ ...decision, decidedAt: decision.decidedAt.toISOString() })),
    processPlan: planBrief(plan),
    reworkOf: await listReworked(tx, batch.batchId),
  };
}

export const findingBriefs = (findings: readonly FindingDraft[]) =>
  findings.map(({ kind, lotId, quantity, detail }) => ({ kind, lotId, quantity, detail }));
