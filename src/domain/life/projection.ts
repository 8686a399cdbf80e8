/**
 * What is left of a life after an exposure. A life is hours at a reference temperature; every hour takes its factor of it
 * (relative-rates.ts), and what is left is said for one further temperature. Hours, °C, shares without unit.
 *
 * More warmth never gives more: factors never fall with temperature. The numbers are the model's own: an exposure colder than the
 * reference leaves more hours than the life had, and it is for a person, not for this file, to accept that.
 *
 * Rounding goes to the less safe side: what is used up, what is left down.
 */
import { integrated, type Piece } from './exposure.ts';
import { factorOf, type RateModel } from './relative-rates.ts';

/** Ten years; a model that says more says nothing about food. */
const MOST_REMAINING_H = 87_600;
const HOUR_DECIMALS = 3;
const SHARE_DECIMALS = 6;

export interface Reference {
  readonly temperatureC: number;
  readonly lifeH: number;
}

export interface ProjectedStep extends Piece {
  /** since the beginning of the exposure */
  readonly fromH: number;
  /** mean over the step, as against the reference temperature */
  readonly relativeRate: number;
  readonly usedFraction: number;
  readonly usedFractionSoFar: number;
}

export interface Projection {
  /** 1: the life is used; more: by how much too far */
  readonly usedFraction: number;
  /** hours at the reference temperature that would have used as much */
  readonly equivalentAgeH: number;
  /** at the further temperature; null without one, and where it would be beyond ten years */
  readonly remainingH: number | null;
  readonly steps: readonly ProjectedStep[];
}

/** @throws RangeError when the reference is not above the model's minimum temperature */
export function project(
  model: RateModel,
  reference: Reference,
  pieces: readonly Piece[],
  thenTemperatureC: number | null,
): Projection {
  const factor = (temperatureC: number): number => factorOf(model, temperatureC, reference.temperatureC);
  const steps: ProjectedStep[] = [];
  let fromH = 0;
  let soFar = 0;
  for (const piece of pieces) {
    const equivalentH = integrated(piece, factor);
    const usedFraction = equivalentH / reference.lifeH;
    soFar += usedFraction;
    steps.push({
      ...piece,
      fromH,
      relativeRate: equivalentH / piece.durationH,
      usedFraction: roundedUp(usedFraction, SHARE_DECIMALS),
      usedFractionSoFar: roundedUp(soFar, SHARE_DECIMALS),
    });
    fromH += piece.durationH;
  }
  return {
    usedFraction: roundedUp(soFar, SHARE_DECIMALS),
    equivalentAgeH: roundedUp(soFar * reference.lifeH, HOUR_DECIMALS),
    remainingH: thenTemperatureC === null ? null : left(soFar, reference.lifeH, factor(thenTemperatureC)),
    steps,
  };
}

function left(usedFraction: number, lifeH: number, factor: number): number | null {
  if (usedFraction >= 1) return 0;
  const hours = ((1 - usedFraction) * lifeH) / factor;
  return hours > MOST_REMAINING_H ? null : roundedDown(hours, HOUR_DECIMALS);
}

/** Twelve digits hold what was meant; the rest is how binary fractions are kept, and must not tip a whole number over. */
function meant(value: number): number {
  return Number(value.toPrecision(12));
}

/** Never less than the value, beyond what is lost to binary fractions. */
export function roundedUp(value: number, decimals: number): number {
  const shifted = meant(value * 10 ** decimals);
  return Number.isSafeInteger(Math.ceil(shifted)) ? Math.ceil(shifted) / 10 ** decimals : meant(value);
}

/** Never more than the value, beyond what is lost to binary fractions. */
export function roundedDown(value: number, decimals: number): number {
  const shifted = meant(value * 10 ** decimals);
  return Number.isSafeInteger(Math.floor(shifted)) ? Math.floor(shifted) / 10 ** decimals : meant(value);
}
