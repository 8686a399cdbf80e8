/**
 * What became of a batch's loss, in one row that adds up: input + gains = output + planned + recorded waste + unexplained. Why: loss that the
 * recipe plans is the price of cooking and is carried by the food; what was lost beyond it is waste, and what nobody wrote down is neither.
 *
 * `planned`: what trim, cooking and drip took, as far as the recipe allows for it. The recipe allows for input + gains - expected output; for
 * food that takes up nothing that is input x (1 - expected yield). `recorded waste`: everything else that was written down as lost.
 * `unexplained`: the signed rest, as in ../yields.ts, never spread over other lines.
 *
 * Refusals: none. Masses that no batch has throw RangeError there.
 */
import Fraction from 'fraction.js';
import { largestRemainder, roundHalfAwayFromZero, sumFractions } from '../exact.ts';
import { batchYield, type BatchMasses, type BatchYield } from '../yields.ts';

const MG_PER_G = 1000n;
const ZERO = new Fraction(0n);
/** Losses that belong to the process; a sample or something dropped is in no recipe. */
const OF_THE_PROCESS: readonly string[] = ['trim', 'cooking-loss', 'drip-loss'];

/** Whole grams; `inputG` + `gainsG` = `outputG` + `plannedLossG` + `recordedWasteG` + `unexplainedG`, exactly. */
interface LossGrams {
  readonly inputG: number;
  readonly gainsG: Readonly<Record<string, number>>;
  readonly outputG: number;
  readonly plannedLossG: number;
  readonly recordedWasteG: number;
  /** as they were written down, by kind: together planned and recorded waste */
  readonly lossesG: Readonly<Record<string, number>>;
  readonly unexplainedG: number;
}

export interface LossSplit {
  readonly exact: BatchYield;
  readonly plannedMg: Fraction;
  readonly recordedWasteMg: Fraction;
  readonly grams: LossGrams;
}

/** The split of one batch; masses in milligrams. */
export function splitLoss(masses: BatchMasses): LossSplit {
  const exact = batchYield(masses);
  const allowed = exact.expected ? exact.consumedMg.add(exact.gainsMg).sub(exact.expected.outputsMg) : ZERO;
  const processMg = sumFractions(OF_THE_PROCESS.map((kind) => exact.lossesByKindMg[kind] ?? ZERO));
  const plannedMg = least(allowed.s < 0n ? ZERO : allowed, processMg);
  return {
    exact,
    plannedMg,
    recordedWasteMg: exact.lossesMg.sub(plannedMg),
    grams: inGrams(exact, masses.gainsMg ?? {}, plannedMg),
  };
}

/** Rounded once, by largest remainder over the signed row, so that whole grams add up as well. */
function inGrams(exact: BatchYield, gainsMg: NonNullable<BatchMasses['gainsMg']>, plannedMg: Fraction): LossGrams {
  const gains = Object.entries(gainsMg).sort(byName);
  const losses = Object.entries(exact.lossesByKindMg).sort(byName);
  const row = [
    exact.consumedMg,
    ...gains.map(([, mass]) => new Fraction(mass)),
    exact.outputsMg.neg(),
    ...losses.map(([, mass]) => mass.neg()),
    exact.unexplainedMg.neg(),
  ];
  const grams = largestRemainder(row, MG_PER_G).map((mg) => Number(mg / MG_PER_G));
  const lossesAt = 2 + gains.length;
  const lossesG = Object.fromEntries(losses.map(([kind], at) => [kind, 0 - (grams[lossesAt + at] ?? 0)]));
  const lostG = Object.values(lossesG).reduce((sum, g) => sum + g, 0);
  const plannedLossG = Math.min(Number(roundHalfAwayFromZero(plannedMg.div(MG_PER_G))), lostG);
  return {
    inputG: grams[0] ?? 0,
    gainsG: Object.fromEntries(gains.map(([kind], at) => [kind, grams[1 + at] ?? 0])),
    outputG: 0 - (grams[1 + gains.length] ?? 0),
    plannedLossG,
    recordedWasteG: lostG - plannedLossG,
    lossesG,
    unexplainedG: 0 - (grams.at(-1) ?? 0),
  };
}

const byName = ([a]: readonly [string, unknown], [b]: readonly [string, unknown]): number => (a < b ? -1 : 1);

const least = (a: Fraction, b: Fraction): Fraction => (a.compare(b) <= 0 ? a : b);
