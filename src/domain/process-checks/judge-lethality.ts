/** A core-temperature series against a lethality target, for a record. */
import { lethality, reaches, straightMinutes, type Lethality } from './lethality.ts';
import type { Judgement, LethalityTarget, SeriesPoint } from './shapes.ts';
import { leastShownOf } from './targets.ts';

/** The two sums part by more than this share: the series is too coarse to be taken at its word. Common practice. */
export const COARSE_SHARE = 0.05;

/** Passes only when both sums reach the target: the less safe one counts. */
export function judgeLethality(points: readonly SeriesPoint[], target: LethalityTarget): Judgement {
  const sums = lethality(points, target);
  const { equivalentMinutes, equivalentMinutesStraight } = sums;
  const countedMinutes = Math.min(equivalentMinutes, equivalentMinutesStraight);
  const shown = leastShownOf(target.code);
  const numbers = {
    equivalentMinutes,
    equivalentMinutesStraight,
    countedMinutes,
    targetMinutes: target.targetMinutes,
    logReductionOfTarget: (target.logReduction * countedMinutes) / target.targetMinutes,
    highestC: points.reduce((most, { temperatureC }) => Math.max(most, temperatureC), -Infinity),
    points: points.length,
    ...(shown && {
      leastShownC: shown.temperatureC,
      countedMinutesFromLeastShown: Math.min(countedMinutes, straightMinutes(points, target, shown.temperatureC)),
    }),
  };
  const cautions = lethalityCautions(points, target, sums);
  if (reaches(countedMinutes, target.targetMinutes)) return { result: 'passed', reasons: cautions, numbers };
  const which = reaches(equivalentMinutes, target.targetMinutes)
    ? ` By the trapezoid it would be ${down(equivalentMinutes)}, which the few points overstate.`
    : '';
  const reason = `The heat counts like ${down(countedMinutes)} minutes at ${short(target.referenceTemperatureC)} °C; ${short(target.targetMinutes)} are wanted.${which}`;
  return { result: 'failed', reasons: [reason, ...cautions], numbers };
}

/** What whoever relies on the number should know. */
export function lethalityCautions(
  points: readonly SeriesPoint[],
  target: LethalityTarget,
  { equivalentMinutes, equivalentMinutesStraight }: Lethality,
): string[] {
  const cautions: string[] = [];
  const larger = Math.max(equivalentMinutes, equivalentMinutesStraight);
  const apart = larger === 0 ? 0 : Math.abs(equivalentMinutes - equivalentMinutesStraight) / larger;
  if (apart > COARSE_SHARE) {
    cautions.push(
      `The points are far apart: ${down(equivalentMinutes)} minutes by the trapezoid, ${down(equivalentMinutesStraight)} if the temperature ran straight between them. The lower one is the safer; record more often.`,
    );
  }
  if (reaches(equivalentMinutes, target.targetMinutes) !== reaches(equivalentMinutesStraight, target.targetMinutes)) {
    cautions.push('Only one of the two sums meets the target; a check that is recorded passes only when both do.');
  }
  const shown = leastShownOf(target.code);
  if (shown) {
    const fromShown = straightMinutes(points, target, shown.temperatureC);
    const counted = Math.min(equivalentMinutes, equivalentMinutesStraight);
    if (reaches(counted, target.targetMinutes) && !reaches(fromShown, target.targetMinutes)) {
      cautions.push(
        `Without what lies below ${shown.temperatureC} °C it is ${down(fromShown)} minutes, less than the target. ${shown.why}`,
      );
    }
  }
  if (target.source.basis === 'from-memory') {
    cautions.push(
      `The target rests on a number from memory: ${target.source.source}. A competent person has to confirm it.`,
    );
  }
  return cautions;
}

const short = (minutes: number): string => String(Number(minutes.toPrecision(4)));
/** Never rounded up to a target that was missed. */
const down = (minutes: number): string =>
  String(minutes < 0.01 ? Number(minutes.toPrecision(2)) : Math.floor(minutes * 100) / 100);
