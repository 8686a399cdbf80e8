/** What a cooling rule adds to the picture of a series. */
import { cool, type JudgedPoint } from '../../../domain/process-checks/cooling.ts';
import type { CoolingRule, SeriesPoint } from '../../../domain/process-checks/shapes.ts';
import { plot } from '../../../platform/charts.ts';
import type { TimeAxis } from './chart-axis.ts';
import { INK, label, type Mark } from './chart-marks.ts';

/** A label of a bar is about a third of the sheet wide. */
const ROOM_SHARE = 0.62;

/** Every threshold once, warmest first. */
export function coolingTemperatures(rule: CoolingRule): number[] {
  const all = rule.points.flatMap(({ fromC, toC }) => (fromC === null ? [toC] : [fromC, toC]));
  return [...new Set(all)].sort((one, other) => other - one);
}

export function coolingMarks(points: readonly SeriesPoint[], rule: CoolingRule, axis: TimeAxis): Mark[] {
  const judged = cool(points, rule);
  return [
    ...coolingTemperatures(rule).map((temperatureC) =>
      label(degrees(temperatureC), axis.most, temperatureC, { dx: -6, dy: -7, textAnchor: 'end' }),
    ),
    ...judged.flatMap((point) => allowed(point, axis)),
    ...judged.flatMap((point) => crossings(point, points)),
  ];
}

/** The bar along `toC`: from the start of the clock for as long as is allowed, as far as it is on the sheet. */
function allowed(point: JudgedPoint, axis: TimeAxis): Mark[] {
  if (point.startedAtMinute === null) return [];
  const { startedAtMinute: from, toC, withinMinutes, met } = point;
  const latest = from + withinMinutes;
  const stroke = met ? INK.met : INK.missed;
  const onSheet = latest <= axis.most;
  const took = point.tookMinutes === null ? 'not reached' : `took ${minutes(point.tookMinutes)}`;
  const words = `${withinMinutes} min allowed, ${took}${met ? '' : ': failed'}`;
  // Right of the end mark there is room above the level for what was met, and below it for what was not; else under the bar.
  const beside = latest < axis.least + ROOM_SHARE * (axis.most - axis.least);
  const place = beside ? { x: latest, dx: 8, dy: met ? -9 : 11 } : { x: from, dx: 6, dy: 13 };
  return [
    plot.ruleY([toC], { x1: from, x2: Math.min(latest, axis.most), stroke, strokeWidth: 5, strokeOpacity: 0.45 }),
    ...(onSheet ? [plot.ruleX([latest], { y1: toC - 2.5, y2: toC + 2.5, stroke, strokeWidth: 3 })] : []),
    label(words, place.x, toC, { dx: place.dx, dy: place.dy, fill: stroke, fontWeight: 'bold' }),
  ];
}

/** One sentence of what was met, for a check that passed. */
export const tookWords = (points: readonly SeriesPoint[], rule: CoolingRule): string =>
  cool(points, rule)
    .map(
      ({ label: named, tookMinutes, withinMinutes }) => `${named}: ${minutes(tookMinutes ?? 0)} of ${withinMinutes}.`,
    )
    .join(' ');

function crossings(
  { fromC, toC, startedAtMinute, endedAtMinute }: JudgedPoint,
  points: readonly SeriesPoint[],
): Mark[] {
  const began = fromC ?? points[0]?.temperatureC ?? null;
  return [
    { minute: startedAtMinute, temperatureC: began },
    { minute: endedAtMinute, temperatureC: toC },
  ].flatMap(({ minute, temperatureC }) =>
    minute === null || temperatureC === null
      ? []
      : [
          plot.dot([temperatureC], {
            x: minute,
            y: temperatureC,
            r: 5.5,
            symbol: 'diamond',
            fill: '#ffffff',
            stroke: INK.food,
            strokeWidth: 2,
          }),
        ],
  );
}

const degrees = (temperatureC: number): string => `${Number(temperatureC.toFixed(1))} °C`;
const minutes = (took: number): string => `${Math.ceil(took * 10 - 1e-6) / 10} min`;
