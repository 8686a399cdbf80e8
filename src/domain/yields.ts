/**
 * Yield of a batch: what came out over what went in, by mass, exactly. Why: consumed + gains = outputs + losses +
 * unexplained, and the unexplained part is shown with its sign, never spread over other lines. Yield is a report over the ledger,
 * not a rule that the ledger must meet: rice and pasta gain water, so a yield above 100 % is normal and the gain has its own line.
 *
 * Refusals: none. Negative inputs, outputs or gains, or an expected yield not above zero, are faults and throw RangeError.
 */
import Fraction from 'fraction.js';
import { roundHalfAwayFromZero, sumFractions } from './exact.ts';

/** A mass in milligrams: whole, or exact where it is a share of a lot. */
type MassMg = Fraction | bigint;

export interface BatchMasses {
  inputsMg: readonly MassMg[];
  outputsMg: readonly MassMg[];
  /** By kind, as in `water-uptake`; not below zero. */
  gainsMg?: Readonly<Record<string, MassMg>>;
  /** By kind, as in `trim` or `cooking-loss`. */
  lossesMg: Readonly<Record<string, MassMg>>;
  /** Millionths, 885_000 for 88.5 %; null when the recipe expects none. */
  expectedYieldPpm: number | null;
}

export interface BatchYield {
  consumedMg: Fraction;
  gainsMg: Fraction;
  outputsMg: Fraction;
  lossesMg: Fraction;
  lossesByKindMg: Record<string, Fraction>;
  /** consumed + gains - outputs - losses: above zero is missing, below zero is more than went in. */
  unexplainedMg: Fraction;
  /** outputs / consumed; null when nothing was consumed. */
  yield: Fraction | null;
  /** Percent, rounded to 0.1, halves up. */
  yieldPercent: number | null;
  /** What the recipe expects; null when it expects none. */
  expected: { outputsMg: Fraction; yieldPercent: number; shortOfExpectedMg: Fraction } | null;
}

const exact = (mass: MassMg): Fraction => new Fraction(mass);

function sumNotNegative(masses: readonly MassMg[], what: string): Fraction {
  const fractions = masses.map(exact);
  if (fractions.some((mass) => mass.s < 0n)) throw new RangeError(`${what} of a batch do not weigh less than nothing`);
  return sumFractions(fractions);
}

function percentToTenth(ratio: Fraction): number {
  return Number(roundHalfAwayFromZero(ratio.mul(1000n))) / 10;
}

/**
 * Consumed, gains, outputs, losses, the unexplained rest, and yield. All masses in milligrams.
 * Yield as edible portion over as purchased: Wall, Trade Calculations, 2007.
 * @throws RangeError on a negative input, output or gain, or an expected yield not above zero
 */
export function batchYield({ inputsMg, gainsMg = {}, outputsMg, lossesMg, expectedYieldPpm }: BatchMasses): BatchYield {
  if (expectedYieldPpm !== null && !(Number.isInteger(expectedYieldPpm) && expectedYieldPpm > 0)) {
    throw new RangeError(`An expected yield is a whole number of millionths above zero, not ${expectedYieldPpm}`);
  }
  const consumed = sumNotNegative(inputsMg, 'Inputs');
  const gains = sumNotNegative(Object.values(gainsMg), 'Gains');
  const outputs = sumNotNegative(outputsMg, 'Outputs');
  const lossesByKindMg = Object.fromEntries(Object.entries(lossesMg).map(([kind, mass]) => [kind, exact(mass)]));
  const losses = sumFractions(Object.values(lossesByKindMg));
  const ratio = consumed.n === 0n ? null : outputs.div(consumed);
  return {
    consumedMg: consumed,
    gainsMg: gains,
    outputsMg: outputs,
    lossesMg: losses,
    lossesByKindMg,
    unexplainedMg: consumed.add(gains).sub(outputs).sub(losses),
    yield: ratio,
    yieldPercent: ratio === null ? null : percentToTenth(ratio),
    expected: expectedYieldPpm === null ? null : expectation(consumed, outputs, expectedYieldPpm),
  };
}

function expectation(consumed: Fraction, outputs: Fraction, expectedYieldPpm: number): BatchYield['expected'] {
  const ratio = new Fraction(BigInt(expectedYieldPpm), 1_000_000n);
  const expected = consumed.mul(ratio);
  return { outputsMg: expected, yieldPercent: percentToTenth(ratio), shortOfExpectedMg: expected.sub(outputs) };
}
