/**
 * A what-if: a model, an exposure and a further temperature, all sent by whoever asks. It rests on no record and changes none.
 *
 * Refusal: `rule-broken`, with a pointer: a life to take from is missing, or said twice; the reference is not clearly above the model's
 * minimum temperature; and those of sent-exposure.ts.
 */
import { Refused } from '../errors.ts';
import { cautionsOf } from './cautions.ts';
import { totalH, warmestC, type Piece } from './exposure.ts';
import {
  highestInitialCfuPerG,
  LISTERIA_LIMIT_CFU_PER_G,
  LISTERIA_REFERENCE_C,
  LISTERIA_USUAL_MIN_TEMPERATURE_C,
  listeriaLog10Increase,
} from './listeria.ts';
import { meanKineticTemperatureC, USUAL_ACTIVATION_ENERGY_KJ_PER_MOL } from './mean-kinetic.ts';
import { project, roundedDown, roundedUp, type Reference } from './projection.ts';
import type { RateModel } from './relative-rates.ts';
import { readExposure, type ReadExposure } from './sent-exposure.ts';
import { LISTERIA_MINIMUM, RECORDING_INTERVAL, SOURCES, TOXIN, type Source } from './sources.ts';
import { timeToToxinH, TOXIN_LOWEST_C, usedOfToxinTime } from './toxin-time.ts';
import type { ExposureStep, Growth, LifeModel, ToxinAdvisory, WhatIf, WhatIfAnswer } from './what-if-shapes.ts';

export function answerWhatIf(sent: WhatIf): WhatIfAnswer {
  const model = withDefaults(sent.model);
  const exposure = readExposure(sent);
  const reference = referenceOf(sent, model);
  const thenTemperatureC = sent.thenTemperatureC ?? null;
  const { pieces } = exposure;
  const rates = rateModelOf(model);
  const projected = rates && reference ? project(rates, reference, pieces, thenTemperatureC) : null;
  const results = {
    model,
    reference,
    exposureH: roundedUp(totalH(pieces), 3),
    startsAtMs: exposure.startsAtMs,
    betweenReadings: exposure.betweenReadings,
    thenTemperatureC,
    usedFraction: projected?.usedFraction ?? null,
    equivalentAgeH: projected?.equivalentAgeH ?? null,
    remainingH: projected?.remainingH ?? null,
    growth: growthOf(model, pieces),
    meanKineticTemperatureC:
      model.kind === 'mean-kinetic-temperature'
        ? roundedUp(meanKineticTemperatureC(pieces, model.activationEnergyKjPerMol), 3)
        : null,
    toxinAdvisory: toxinAdvisoryOf(pieces, thenTemperatureC),
    steps: (projected?.steps ?? plainSteps(pieces)).map(readable),
  };
  return { ...results, cautions: cautionsOf(sent, results, pieces), sources: sourcesOf(sent.model, results, exposure) };
}

function withDefaults(model: LifeModel): LifeModel {
  if (model.kind === 'listeria-growth') {
    return { ...model, minTemperatureC: model.minTemperatureC ?? LISTERIA_USUAL_MIN_TEMPERATURE_C };
  }
  if (model.kind !== 'mean-kinetic-temperature') return model;
  return { ...model, activationEnergyKjPerMol: model.activationEnergyKjPerMol ?? USUAL_ACTIVATION_ENERGY_KJ_PER_MOL };
}

/** The model as factors of a life; null for the mean kinetic temperature, which is of no life. */
function rateModelOf(model: LifeModel): RateModel | null {
  if (model.kind === 'mean-kinetic-temperature') return null;
  if (model.kind !== 'listeria-growth') return model;
  return { kind: 'square-root', minTemperatureC: model.minTemperatureC ?? LISTERIA_USUAL_MIN_TEMPERATURE_C };
}

const broken = (detail: string, pointer: string): Refused =>
  new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });

/** What a probe can tell. Nearer to the minimum a life at the reference would make every other temperature look deadly or endless. */
const LEAST_ABOVE_MINIMUM_C = 0.1;

/** The life that hours are taken from; null where there is none to take from. */
function referenceOf({ reference }: WhatIf, model: LifeModel): Reference | null {
  if (model.kind === 'mean-kinetic-temperature') return null;
  const minTemperatureC = 'minTemperatureC' in model ? (model.minTemperatureC ?? null) : null;
  if (reference && minTemperatureC !== null && reference.temperatureC < minTemperatureC + LEAST_ABOVE_MINIMUM_C) {
    throw broken(
      `At ${reference.temperatureC} °C nothing or next to nothing grows by this model, whose minimum is ${minTemperatureC} °C: no life can ` +
        `end there. Give the life at a temperature at least ${LEAST_ABOVE_MINIMUM_C} °C above it.`,
      '#/reference/temperatureC',
    );
  }
  if (model.kind === 'listeria-growth') {
    const { growthAt5CLog10PerDay: growth, allowedIncreaseLog10: allowed } = model;
    if (allowed !== undefined && growth === undefined) {
      throw broken('An allowed increase needs growthAt5CLog10PerDay beside it.', '#/model/growthAt5CLog10PerDay');
    }
    if (allowed !== undefined && reference) {
      throw broken('The life is said twice: give reference or allowedIncreaseLog10.', '#/model/allowedIncreaseLog10');
    }
    if (allowed !== undefined && growth !== undefined) {
      return { temperatureC: LISTERIA_REFERENCE_C, lifeH: Number(((allowed / growth) * 24).toPrecision(9)) };
    }
    if (growth !== undefined) return reference ?? null;
  }
  if (reference) return reference;
  throw broken('There is no life to take from: give reference, with its temperature and hours.', '#/reference');
}

function growthOf(model: LifeModel, pieces: readonly Piece[]): Growth | null {
  if (model.kind !== 'listeria-growth' || model.growthAt5CLog10PerDay === undefined) return null;
  const increase = listeriaLog10Increase(pieces, {
    at5CLog10PerDay: model.growthAt5CLog10PerDay,
    minTemperatureC: model.minTemperatureC ?? LISTERIA_USUAL_MIN_TEMPERATURE_C,
  });
  return {
    log10Increase: roundedUp(increase, 4),
    limitCfuPerG: LISTERIA_LIMIT_CFU_PER_G,
    highestInitialCfuPerG: downTo3Digits(highestInitialCfuPerG(increase)),
  };
}

/** A count of microbes is not known to more than three digits; zero where not one in a million grams may be there. */
function downTo3Digits(value: number): number {
  return roundedDown(value, Math.min(6, 2 - Math.floor(Math.log10(value))));
}

function toxinAdvisoryOf(pieces: readonly Piece[], thenTemperatureC: number | null): ToxinAdvisory | null {
  const warmest = Math.max(...pieces.map(warmestC), thenTemperatureC ?? -Infinity);
  if (warmest < TOXIN_LOWEST_C) return null;
  const used = usedOfToxinTime(pieces);
  const wholeH = thenTemperatureC === null ? null : timeToToxinH(thenTemperatureC);
  return {
    usedFraction: roundedUp(used, 6),
    remainingH: wholeH === null ? null : roundedDown(Math.max(0, 1 - used) * wholeH, 3),
  };
}

function plainSteps(pieces: readonly Piece[]): ExposureStep[] {
  let fromH = 0;
  return pieces.map((piece) => {
    const step = { ...piece, fromH, relativeRate: null, usedFraction: null, usedFractionSoFar: null };
    fromH += piece.durationH;
    return step;
  });
}

/** Hours and rates as people read them; shares are rounded already. */
function readable(step: ExposureStep): ExposureStep {
  return {
    ...step,
    fromH: Number(step.fromH.toFixed(3)),
    durationH: Number(step.durationH.toPrecision(7)),
    relativeRate: step.relativeRate === null ? null : Number(step.relativeRate.toPrecision(6)),
  };
}

function sourcesOf(
  sent: LifeModel,
  { toxinAdvisory }: Pick<WhatIfAnswer, 'toxinAdvisory'>,
  { betweenReadings }: ReadExposure,
): Source[] {
  return [
    ...SOURCES[sent.kind],
    ...(sent.kind === 'listeria-growth' && sent.minTemperatureC === undefined ? [LISTERIA_MINIMUM] : []),
    ...(betweenReadings === null ? [] : [RECORDING_INTERVAL]),
    ...(toxinAdvisory === null ? [] : TOXIN),
  ];
}
