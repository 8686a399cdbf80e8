/**
 * Batches of a month, in whole grams: input + gains = output + losses + unexplained, by largest remainder over the whole row; yields come
 * from the exact masses.
 *
 * Refusals: none.
 */
import Fraction from 'fraction.js';
import { largestRemainder, massOfMg, sumFractions } from '../exact.ts';
import { batchYield, type BatchYield } from '../yields.ts';
import { percentOf } from './percent.ts';

const MG_PER_G = 1000n;

/** One lot's quantity into or out of a batch, reversals netted. */
interface BatchFlow {
  readonly lotQuantity: number;
  readonly lotMassMg: number;
  readonly quantity: number;
}

export interface BatchFacts {
  readonly inputs: readonly BatchFlow[];
  readonly outputs: readonly BatchFlow[];
  readonly gainsMg: Readonly<Record<string, number>>;
  readonly lossesMg: Readonly<Record<string, number>>;
  readonly expectedYieldPpm: number;
}

/** Whole grams: input + gains = output + losses + unexplained, exactly. */
interface BatchGrams {
  inputG: number;
  gainsG: Record<string, number>;
  outputG: number;
  lossesG: Record<string, number>;
  unexplainedG: number;
}

export interface BatchResult {
  readonly exact: BatchYield;
  readonly grams: BatchGrams;
}

/** A batch's yield, rounded by largest remainder over input, gains, output, losses and the unexplained rest. */
export function batchResult({ inputs, outputs, gainsMg, lossesMg, expectedYieldPpm }: BatchFacts): BatchResult {
  const massesOf = (flows: readonly BatchFlow[]) =>
    flows.map((flow) => massOfMg(BigInt(flow.quantity), BigInt(flow.lotQuantity), BigInt(flow.lotMassMg)));
  const byKind = (masses: Readonly<Record<string, number>>) =>
    Object.entries(masses)
      .sort(([a], [b]) => (a < b ? -1 : 1))
      .map(([kind, mg]) => [kind, BigInt(mg)] as const);
  const gains = byKind(gainsMg);
  const losses = byKind(lossesMg);
  const exact = batchYield({
    inputsMg: massesOf(inputs),
    outputsMg: massesOf(outputs),
    gainsMg: Object.fromEntries(gains),
    lossesMg: Object.fromEntries(losses),
    expectedYieldPpm,
  });
  const out = (masses: readonly (readonly [string, bigint])[]) => masses.map(([, mg]) => new Fraction(-mg));
  const coming = [exact.consumedMg, ...gains.map(([, mg]) => new Fraction(mg))];
  const row = [...coming, exact.outputsMg.neg(), ...out(losses), exact.unexplainedMg.neg()];
  const grams = largestRemainder(row, MG_PER_G).map((mg) => Number(mg / MG_PER_G));
  const outputAt = coming.length;
  return {
    exact,
    grams: {
      inputG: grams[0] ?? 0,
      gainsG: Object.fromEntries(gains.map(([kind], at) => [kind, grams[at + 1] ?? 0])),
      outputG: 0 - (grams[outputAt] ?? 0),
      lossesG: Object.fromEntries(losses.map(([kind], at) => [kind, 0 - (grams[outputAt + 1 + at] ?? 0)])),
      unexplainedG: 0 - (grams.at(-1) ?? 0),
    },
  };
}

export interface RecipeResult extends BatchGrams {
  readonly batches: number;
  /** Percent to one decimal; null when nothing went in. */
  readonly yieldPercent: number | null;
  /** What the batches' recipes expected of what went into them. */
  readonly expectedYieldPercent: number | null;
}

/** Several batches as one: grams are sums of what is printed for each, yields come from the exact masses. */
export function sumBatches(results: readonly BatchResult[]): RecipeResult {
  const sumG = (pick: (grams: BatchGrams) => number) => results.reduce((sum, { grams }) => sum + pick(grams), 0);
  const sumByKind = (pick: (grams: BatchGrams) => Record<string, number>) => {
    const kinds = [...new Set(results.flatMap(({ grams }) => Object.keys(pick(grams))))].sort();
    return Object.fromEntries(kinds.map((kind) => [kind, sumG((grams) => pick(grams)[kind] ?? 0)]));
  };
  const consumed = sumFractions(results.map(({ exact }) => exact.consumedMg));
  const outputs = sumFractions(results.map(({ exact }) => exact.outputsMg));
  const expected = sumFractions(results.flatMap(({ exact }) => exact.expected?.outputsMg ?? []));
  return {
    batches: results.length,
    inputG: sumG((grams) => grams.inputG),
    gainsG: sumByKind((grams) => grams.gainsG),
    outputG: sumG((grams) => grams.outputG),
    lossesG: sumByKind((grams) => grams.lossesG),
    unexplainedG: sumG((grams) => grams.unexplainedG),
    yieldPercent: percentOf(outputs, consumed),
    expectedYieldPercent: percentOf(expected, consumed),
  };
}
