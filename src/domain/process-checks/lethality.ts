/**
 * Equivalent minutes at a reference temperature, by the general method: each point's lethal rate is 10^((T - Tref) / z), and the rates are summed over time.
 * Two sums are given. The trapezoid of the rates is the method of the published worksheet. The straight one takes the temperature, not the rate, to run
 * straight between two points and is exact for that: rates curve upwards, so with one z it is never more than the trapezoid, and the two part where points
 * are far apart. (Where z above is larger than z below, the curve has a dent at the reference, and a pair of points that closely straddles it can turn that round.)
 */
import type { LethalityTarget, SeriesPoint } from './shapes.ts';

export type Lethal = Pick<LethalityTarget, 'referenceTemperatureC' | 'zBelowC' | 'zAboveC'>;

export interface LethalStep extends SeriesPoint {
  /** equivalent minutes in one minute at this temperature */
  readonly lethalRate: number;
  /** by the trapezoid, from the first point */
  readonly cumulativeMinutes: number;
  /** if the temperature runs straight between the points */
  readonly cumulativeMinutesStraight: number;
}

export interface Lethality {
  readonly equivalentMinutes: number;
  readonly equivalentMinutesStraight: number;
  readonly steps: readonly LethalStep[];
}

/** Points that lie this close to a target have reached it: sums of many small steps carry rounding. */
const NEARLY = 1e-9;

/** Whether the minutes reach the target, rounding apart. */
export const reaches = (minutes: number, targetMinutes: number): boolean => minutes >= targetMinutes * (1 - NEARLY);

/** @param points at least two, times rising, as readSeries gives them */
export function lethality(points: readonly SeriesPoint[], lethal: Lethal): Lethality {
  const steps: LethalStep[] = [];
  let cumulativeMinutes = 0;
  let cumulativeMinutesStraight = 0;
  for (const point of points) {
    const lethalRate = rateAt(point.temperatureC, lethal);
    const before = steps.at(-1);
    if (before) {
      cumulativeMinutes += ((before.lethalRate + lethalRate) / 2) * (point.minute - before.minute);
      cumulativeMinutesStraight += between(before, point, lethal, -Infinity);
    }
    const { minute, temperatureC } = point;
    steps.push({ minute, temperatureC, lethalRate, cumulativeMinutes, cumulativeMinutesStraight });
  }
  return { equivalentMinutes: cumulativeMinutes, equivalentMinutesStraight: cumulativeMinutesStraight, steps };
}

/** The straight sum over what is at or above a temperature. */
export function straightMinutes(points: readonly SeriesPoint[], lethal: Lethal, leastC: number): number {
  let sum = 0;
  for (let at = 1; at < points.length; at += 1) {
    const [from, to] = [points[at - 1], points[at]];
    if (from && to) sum += between(from, to, lethal, leastC);
  }
  return sum;
}

function between(from: SeriesPoint, to: SeriesPoint, lethal: Lethal, leastC: number): number {
  const { referenceTemperatureC, zBelowC, zAboveC } = lethal;
  const minutes = to.minute - from.minute;
  const [lowC, highC] = [Math.min(from.temperatureC, to.temperatureC), Math.max(from.temperatureC, to.temperatureC)];
  if (lowC === highC) return lowC >= leastC ? minutes * rateAt(lowC, lethal) : 0;
  // Straight up and straight down take the same time through the same temperatures.
  const part = (startC: number, endC: number, z: number): number => {
    if (endC <= startC) return 0;
    const exponent = (Math.LN10 * (endC - startC)) / z;
    const startRate = 10 ** ((startC - referenceTemperatureC) / z);
    return minutes * ((endC - startC) / (highC - lowC)) * startRate * meanGrowth(exponent);
  };
  const fromC = Math.max(lowC, leastC);
  return (
    part(fromC, Math.min(highC, referenceTemperatureC), zBelowC) +
    part(Math.max(fromC, referenceTemperatureC), highC, zAboveC)
  );
}

/** The mean of e^x from 0 to the exponent; of the tiniest rises the quotient is nothing but rounding. */
const meanGrowth = (exponent: number): number => (exponent < 1e-6 ? 1 + exponent / 2 : Math.expm1(exponent) / exponent);

function rateAt(temperatureC: number, { referenceTemperatureC, zBelowC, zAboveC }: Lethal): number {
  const overC = temperatureC - referenceTemperatureC;
  return 10 ** (overC / (overC < 0 ? zBelowC : zAboveC));
}
