/**
 * A thermometer held against something that is known. Ice in water is 0 °C everywhere; water boils at 100 °C only at the pressure of the sea's
 * level: 300 m of height, or a deep low in the weather, take off a degree, which is all the tolerance there is. So the pressure is asked for,
 * or the height; without either the sea's level is assumed and said.
 *
 * Numbers and sources: shared/policies/probe-defaults.json. Refusals: `rule-broken`.
 */
import defaults from '../../../shared/policies/probe-defaults.json' with { type: 'json' };
import { Refused } from '../errors.ts';
import type { CalibrationMethod } from './probes.ts';
import type { Source } from './shapes.ts';

const HPA_PER_MMHG = 1.333224;

export interface CalibrationAsked {
  readonly method: CalibrationMethod;
  readonly measuredC: number;
  /** what the better thermometer, or the laboratory's bath, said; of those two methods only */
  readonly referenceC: number | null;
  /** boiling point only, at most one of the two */
  readonly altitudeM: number | null;
  readonly airPressureHpa: number | null;
  /** tighter than the usual one */
  readonly toleranceC: number | null;
}

export interface CalibrationJudged {
  readonly referenceC: number;
  readonly measuredC: number;
  /** measured less reference */
  readonly errorC: number;
  readonly toleranceC: number;
  readonly result: 'passed' | 'failed';
  readonly basis: {
    /** where the reference comes from, in words */
    readonly reference: string;
    readonly referenceSource: Source | null;
    readonly tolerance: Source;
  };
  readonly cautions: readonly string[];
}

/** Pressure of the standard atmosphere, in hPa, at a height above the sea in metres. */
export function pressureAt(altitudeM: number): number {
  const { seaLevelHpa, scaleHeightM, exponent } = defaults.boilingPoint.atmosphere;
  return seaLevelHpa * (1 - altitudeM / scaleHeightM) ** exponent;
}

/** Where pure water boils, in °C, at a pressure in hPa: Antoine's equation, solved for the temperature. */
export function boilingPointC(pressureHpa: number): number {
  const { a, b, c } = defaults.boilingPoint.antoine;
  return b / (a - Math.log10(pressureHpa / HPA_PER_MMHG)) - c;
}

const broken = (detail: string, pointer: string) =>
  new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });

const sourceOf = ({ source, edition, basis }: { source: string; edition: string; basis: string }): Source => ({
  source,
  edition,
  basis: basis as Source['basis'],
});

/** What is kept has two decimals; sums of such numbers may not fail by their last binary digit. */
const hundredths = (value: number): number => Math.round(value * 100) / 100;

function requireFields({ method, referenceC, altitudeM, airPressureHpa }: CalibrationAsked): void {
  const compared = method === 'reference-thermometer' || method === 'laboratory';
  if (compared !== (referenceC !== null)) {
    const detail = compared
      ? 'Say what the reference read.'
      : 'Ice and boiling water are their own reference: what they should read is worked out here.';
    throw broken(detail, '#/referenceC');
  }
  if (method !== 'boiling-point' && (altitudeM !== null || airPressureHpa !== null)) {
    throw broken('Only boiling water depends on the pressure of the air.', '#/altitudeM');
  }
  if (altitudeM !== null && airPressureHpa !== null) {
    throw broken('Give the height or the pressure, not both: the pressure where the probe is counts.', '#/altitudeM');
  }
}

function boilingReference({ altitudeM, airPressureHpa }: CalibrationAsked) {
  const { antoine, atmosphere } = defaults.boilingPoint;
  const pressureHpa = airPressureHpa ?? pressureAt(altitudeM ?? 0);
  const value = hundredths(boilingPointC(pressureHpa));
  const at = `Water boils at ${value.toFixed(2)} °C at ${pressureHpa.toFixed(0)} hPa`;
  if (airPressureHpa !== null) return { value, words: `${at}, as measured.`, source: sourceOf(antoine), cautions: [] };
  const height = altitudeM === null ? 'the level of the sea, which is assumed' : `${altitudeM} m above the sea`;
  const cautions = [
    ...(altitudeM === null ? ['No height and no air pressure were given: the level of the sea was assumed.'] : []),
    'Weather moves the boiling point by up to about 1 °C; the air pressure at the kitchen tells it better than the height.',
  ];
  const source = {
    ...sourceOf(antoine),
    source: `${antoine.source}; ${atmosphere.source}`,
    edition: atmosphere.edition,
  };
  return { value, words: `${at}, the standard pressure at ${height}.`, source, cautions };
}

function referenceOf(asked: CalibrationAsked): {
  value: number;
  words: string;
  source: Source | null;
  cautions: readonly string[];
} {
  switch (asked.method) {
    case 'ice-point':
      return {
        value: defaults.icePoint.value,
        words: 'Ice in water is 0 °C.',
        source: sourceOf(defaults.icePoint),
        cautions: ['It holds with more crushed ice than water, stirred, the tip in the middle (common practice).'],
      };
    case 'boiling-point':
      return boilingReference(asked);
    default:
      return {
        value: hundredths(asked.referenceC ?? 0),
        words: asked.method === 'laboratory' ? "The laboratory's reference." : 'A better thermometer in the same bath.',
        source: null,
        cautions: ['It is worth what the reference is worth: keep its own certificate.'],
      };
  }
}

export function judgeCalibration(asked: CalibrationAsked): CalibrationJudged {
  requireFields(asked);
  const usual = defaults.tolerance[asked.method];
  if (asked.toleranceC !== null && asked.toleranceC > usual.value) {
    throw broken(
      `A probe may be ${usual.value} °C out; a tighter limit may be asked for, no looser one.`,
      '#/toleranceC',
    );
  }
  const reference = referenceOf(asked);
  const toleranceC = asked.toleranceC ?? usual.value;
  const measuredC = hundredths(asked.measuredC);
  const errorC = hundredths(measuredC - reference.value);
  return {
    referenceC: reference.value,
    measuredC,
    errorC,
    toleranceC,
    result: Math.abs(errorC) <= toleranceC ? 'passed' : 'failed',
    basis: { reference: reference.words, referenceSource: reference.source, tolerance: sourceOf(usual) },
    cautions: reference.cautions,
  };
}

const plusDays = (date: string, days: number): string =>
  new Date(Date.parse(`${date}T00:00:00Z`) + days * 86_400_000).toISOString().slice(0, 10);

/**
 * The last day on which it counts. One that failed counts for nothing, so the next is due the same day.
 * @param on the site's date of the calibration
 * @param wanted another day than the usual one
 */
export function nextDueOn(
  { method, result }: { readonly method: CalibrationMethod; readonly result: 'passed' | 'failed' },
  on: string,
  wanted: string | null,
): { date: string; source: Source } {
  const interval = defaults.interval[method];
  if (wanted !== null && (wanted < on || wanted > plusDays(on, interval.mostDays))) {
    throw broken(`The next one is due within ${interval.mostDays} days of this one.`, '#/nextDueOn');
  }
  const usual = wanted ?? plusDays(on, interval.days);
  return { date: result === 'failed' ? on : usual, source: sourceOf(interval) };
}
