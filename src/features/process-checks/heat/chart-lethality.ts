/** The second panel of a cooking series: equivalent minutes as they add up, and the target. The sum that counts is the lower of the two. */
import { COARSE_SHARE } from '../../../domain/process-checks/judge-lethality.ts';
import { lethality, reaches, type LethalStep } from '../../../domain/process-checks/lethality.ts';
import type { LethalityTarget, SeriesPoint } from '../../../domain/process-checks/shapes.ts';
import { plot, type Chart } from '../../../platform/charts.ts';
import type { TimeAxis } from './chart-axis.ts';
import { INK, MARGINS, frame, label, level, line, type Mark } from './chart-marks.ts';

type Sum = 'cumulativeMinutes' | 'cumulativeMinutesStraight';

const OTHER: Readonly<Record<Sum, string>> = {
  cumulativeMinutes: 'by trapezoids',
  cumulativeMinutesStraight: 'straight between readings',
};
const MOST_DRAWN = 400;

export function lethalityPanel(
  points: readonly SeriesPoint[],
  target: LethalityTarget,
  axis: TimeAxis,
): Chart['panels'][number] {
  const { equivalentMinutes, equivalentMinutesStraight, steps } = lethality(points, target);
  const straight = equivalentMinutesStraight <= equivalentMinutes;
  const counted: Sum = straight ? 'cumulativeMinutesStraight' : 'cumulativeMinutes';
  const other: Sum = straight ? 'cumulativeMinutes' : 'cumulativeMinutesStraight';
  const most = Math.max(equivalentMinutes, equivalentMinutesStraight, target.targetMinutes);
  const apart = Math.abs(equivalentMinutes - equivalentMinutesStraight) > COARSE_SHARE * most;
  const ends = Math.min(equivalentMinutes, equivalentMinutesStraight);
  const met = reaches(ends, target.targetMinutes);
  const drawn = every(steps);
  const reference = Number(target.referenceTemperatureC.toFixed(1));
  return {
    heading: `Equivalent minutes at ${reference} °C, added up${apart ? ` (line: the lower sum, which counts; dashed: ${OTHER[other]})` : ''}`,
    heightPx: 190,
    options: {
      ...MARGINS,
      x: axis.scale,
      y: { domain: [0, most * 1.18], grid: true, label: null, ticks: 5 },
      marks: [
        level(target.targetMinutes, met ? INK.met : INK.missed),
        label(`target ${Number(target.targetMinutes.toPrecision(4))} min`, axis.least, target.targetMinutes, {
          dx: 6,
          dy: -7,
          fill: met ? INK.met : INK.missed,
        }),
        ...(apart ? [line(drawn, other, INK.soft, true)] : []),
        line(drawn, counted, INK.food),
        ...reached(steps, counted, target.targetMinutes),
        label(`${Math.floor(ends * 100) / 100} min`, axis.most, ends, {
          dx: -6,
          dy: 22,
          textAnchor: 'end',
          fontWeight: 'bold',
          fill: met ? INK.met : INK.missed,
        }),
        frame(),
      ],
    },
  };
}

/** Where the sum that counts comes to the target. */
function reached(steps: readonly LethalStep[], counted: Sum, targetMinutes: number): Mark[] {
  const step = steps.find((one) => reaches(one[counted], targetMinutes));
  if (!step) return [];
  const diamond = { r: 5.5, symbol: 'diamond', fill: '#ffffff', stroke: INK.met, strokeWidth: 2 } as const;
  return [plot.dot([step], { x: 'minute', y: counted, ...diamond })];
}

/** A sum only rises, so every so manieth step shows it; the last one stays. */
function every(steps: readonly LethalStep[]): readonly LethalStep[] {
  const stride = Math.ceil(steps.length / MOST_DRAWN);
  return steps.filter((_step, at) => at % stride === 0 || at === steps.length - 1);
}
