/** Batches over the period by recipe: each batch's yield, and what the recipe expects as a broken line. */
import { plot } from '../../../platform/charts.ts';
import type { MonthReportAnswer } from '../month/shapes.ts';
import { CALM, draw, HALF_PX, INK, LOSS, shortened, SOFT_INK, type Picture } from './chart-parts.ts';
import { percentText } from './words.ts';

const MOST_RECIPES = 4;
const DAY_MS = 86_400_000;

type Batch = MonthReportAnswer['batches'][number];
interface Point {
  readonly atMs: number;
  readonly value: number;
  readonly expected: number | null;
  readonly under: boolean;
}

function pointsOf(batches: readonly Batch[]): Point[] {
  return batches
    .flatMap(({ completedOn, yieldPercent, expectedYieldPercent }) =>
      yieldPercent === null
        ? []
        : [
            {
              atMs: Date.parse(completedOn),
              value: yieldPercent,
              expected: expectedYieldPercent,
              under: expectedYieldPercent !== null && yieldPercent < expectedYieldPercent,
            },
          ],
    )
    .sort((a, b) => a.atMs - b.atMs);
}

function panelOf(
  heading: string,
  points: readonly Point[],
  period: { readonly fromMs: number; readonly toMs: number },
) {
  const values = points.flatMap(({ value, expected }) => (expected === null ? [value] : [value, expected]));
  const low = Math.min(...values);
  const high = Math.max(...values);
  const pad = Math.max(2, (high - low) * 0.25);
  const expected = points.filter((point) => point.expected !== null);
  const steps = expected.flatMap((point, at) => [
    ...(at === 0 ? [{ atMs: period.fromMs, expected: point.expected }] : []),
    point,
    ...(at === expected.length - 1 ? [{ atMs: period.toMs, expected: point.expected }] : []),
  ]);
  return {
    heading,
    heightPx: 118,
    options: {
      marginLeft: 48,
      marginRight: 12,
      marginTop: 8,
      marginBottom: 22,
      x: {
        type: 'utc' as const,
        domain: [new Date(period.fromMs), new Date(period.toMs)],
        label: null,
        ticks: 8,
        tickFormat: '%-d',
      },
      y: {
        domain: [low - pad, high + pad],
        label: null,
        ticks: 4,
        grid: true,
        tickFormat: (value: number) => `${value} %`,
      },
      marks: [
        plot.lineY(steps, {
          x: 'atMs',
          y: 'expected',
          stroke: INK,
          strokeDasharray: '6 4',
          strokeWidth: 1.4,
          curve: 'step-after',
        }),
        plot.lineY(points, { x: 'atMs', y: 'value', stroke: SOFT_INK, strokeWidth: 1 }),
        plot.dot(points, {
          x: 'atMs',
          y: 'value',
          r: 4.5,
          symbol: (point: Point) => (point.under ? 'triangle2' : 'circle'),
          fill: (point: Point) => (point.under ? LOSS : CALM),
        }),
      ],
    },
  };
}

/** Null when no batch with a yield was completed. */
export function yieldPicture(report: MonthReportAnswer): Picture | null {
  const groups = new Map<string, Batch[]>();
  for (const batch of report.batches)
    if (batch.yieldPercent !== null) groups.set(batch.recipeId, [...(groups.get(batch.recipeId) ?? []), batch]);
  const recipes = [...groups.values()].sort((a, b) => b.length - a.length);
  const shown = recipes.slice(0, MOST_RECIPES);
  if (shown.length === 0) return null;
  const period = { fromMs: Date.parse(report.from), toMs: Date.parse(report.to) - DAY_MS };
  const described = shown.map((batches) => {
    const points = pointsOf(batches);
    const values = points.map(({ value }) => value);
    const under = points.filter((point) => point.under).length;
    const count = points.length === 1 ? '1 batch' : `${points.length} batches`;
    const heading = `${shortened(batches[0]?.itemName ?? '', 34)}: ${count}, ${under} below expected`;
    const range = `${percentText(Math.min(...values))} to ${percentText(Math.max(...values))}`;
    return { heading, points, text: `${heading}, ${range}` };
  });
  const left = recipes.length - shown.length;
  return draw('yields', {
    widthPx: HALF_PX,
    title: 'Yield of batches over the period',
    description: described.map(({ text }) => text).join('. '),
    lines: ['Broken line: expected. Circle: as expected or above. Triangle: below.'],
    panels: described.map(({ heading, points }) => panelOf(heading, points, period)),
    notes: left === 0 ? [] : [`${left} more recipes in the table of batches.`],
  });
}
