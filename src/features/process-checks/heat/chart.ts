/**
 * A series of temperatures as a picture: what the food went through, what it was held against, and where it crossed it. Readings that are few are
 * dots; a long series is thinned to what a line can show, and keeps its lows and highs.
 */
import type { Judgement, Limit, SeriesPoint } from '../../../domain/process-checks/shapes.ts';
import { drawChart, type Chart } from '../../../platform/charts.ts';
import { clockAxis, type Began, type TimeAxis } from './chart-axis.ts';
import { coolingMarks, coolingTemperatures, tookWords } from './chart-cooling.ts';
import { INK, MARGINS, dots, frame, label, level, line, type Mark } from './chart-marks.ts';
import { lethalityPanel } from './chart-lethality.ts';

export interface SeriesChart {
  readonly title: string;
  /** of the ids in the picture, where several stand on one page */
  readonly name?: string;
  readonly points: readonly SeriesPoint[];
  readonly limit: Limit;
  readonly judgement: Judgement;
  /** when minute 0 was, for a clock along the axis; left out: minutes */
  readonly began?: Began;
}

const MOST_DRAWN = 600;
const MOST_DOTS = 60;
const HEIGHT_PX = 260;

/** The SVG document. The same series gives the same text. */
export function seriesChart({ title, name, points, limit, judgement, began }: SeriesChart): string {
  const axis = clockAxis(points, began ?? null);
  const passed = judgement.result === 'passed';
  const told = passed ? `Passed. ${madeOf(points, limit, judgement)}`.trim() : `Failed. ${judgement.reasons.join(' ')}`;
  return drawChart({
    ...(name !== undefined && { name }),
    title,
    description: `${told} Core temperature over time, ${points.length} readings.`,
    lines: wrapped(told, LINE_LETTERS),
    panels: [
      temperaturePanel(points, limit, axis),
      ...(limit.form === 'lethality' ? [lethalityPanel(points, limit.target, axis)] : []),
    ],
    notes: [
      ...notesOf(limit, points.length),
      // Of a check that failed they stand above.
      ...(passed ? judgement.reasons.flatMap((reason) => wrapped(reason, NOTE_LETTERS)) : []),
    ],
  });
}

/** What a check that passed came to. */
function madeOf(points: readonly SeriesPoint[], limit: Limit, { numbers }: Judgement): string {
  if (limit.form === 'cooling') return tookWords(points, limit.rule);
  if (limit.form !== 'lethality') return '';
  const { countedMinutes } = numbers;
  const counted = typeof countedMinutes === 'number' ? `${Math.floor(countedMinutes * 100) / 100}` : 'enough';
  const { referenceTemperatureC, targetMinutes } = limit.target;
  return `The heat counts like ${counted} minutes at ${Number(referenceTemperatureC.toFixed(1))} °C; ${Number(targetMinutes.toPrecision(4))} are wanted.`;
}

function temperaturePanel(points: readonly SeriesPoint[], limit: Limit, axis: TimeAxis): Chart['panels'][number] {
  const thresholds = temperaturesOf(limit);
  const shown = [...points.map(({ temperatureC }) => temperatureC), ...thresholds];
  // A loop and not Math.min(...): a series may have more points than a call may have arguments.
  const [least, most] = shown.reduce<[number, number]>(
    ([low, high], one) => [Math.min(low, one), Math.max(high, one)],
    [Infinity, -Infinity],
  );
  const pad = Math.max(2, (most - least) * 0.08);
  return {
    heading: 'Core temperature, °C',
    heightPx: HEIGHT_PX,
    options: {
      ...MARGINS,
      x: axis.scale,
      // below: room for what is written under a bar
      y: { domain: [least - 1.7 * pad, most + pad], grid: true, label: null },
      marks: [
        ...marksBelow(limit, axis),
        line(thinned(points), 'temperatureC', INK.food),
        ...(points.length <= MOST_DOTS ? [dots(points, 'temperatureC', INK.food)] : []),
        ...(limit.form === 'cooling' ? coolingMarks(points, limit.rule, axis) : []),
        frame(),
      ],
    },
  };
}

function temperaturesOf(limit: Limit): number[] {
  if (limit.form === 'cooling') return coolingTemperatures(limit.rule);
  return limit.form === 'lethality' ? [limit.target.referenceTemperatureC] : [];
}

function marksBelow(limit: Limit, axis: TimeAxis): Mark[] {
  const levels = temperaturesOf(limit).map((temperatureC) => level(temperatureC));
  if (limit.form !== 'lethality') return levels;
  const { referenceTemperatureC } = limit.target;
  return [
    ...levels,
    label(`reference ${Number(referenceTemperatureC.toFixed(1))} °C`, axis.least, referenceTemperatureC, {
      dx: 6,
      dy: -7,
    }),
  ];
}

function notesOf(limit: Limit, readings: number): string[] {
  const dense = readings > MOST_DOTS ? 'the line keeps the lows and highs of all readings' : 'dot: a reading';
  const taken = 'Between readings the temperature is taken to run straight.';
  if (limit.form === 'cooling') {
    return [
      `${readings} readings (${dense}). ${taken}`,
      'Diamond: where a threshold was crossed. Bar: the time that a point of the rule allows; its end mark is the latest.',
      ...wrapped(`Rule: ${limit.rule.label}. ${limit.rule.source.source} (${limit.rule.source.basis}).`, NOTE_LETTERS),
    ];
  }
  if (limit.form === 'lethality') {
    const { label: named, source } = limit.target;
    return [
      `${readings} readings (${dense}). ${taken}`,
      ...wrapped(`Target: ${named}. ${source.source} (${source.basis}).`, NOTE_LETTERS),
    ];
  }
  return [`${readings} readings (${dense}).`];
}

/** The lowest and the highest reading of each share of the time, in order; the first and the last stay. */
function thinned(points: readonly SeriesPoint[]): readonly SeriesPoint[] {
  if (points.length <= MOST_DRAWN) return points;
  const [first, last] = [points[0], points.at(-1)];
  if (!first || !last) return points;
  const share = (last.minute - first.minute) / (MOST_DRAWN / 2);
  const parts = new Map<number, { low: SeriesPoint; high: SeriesPoint }>();
  for (const point of points) {
    const key = Math.floor((point.minute - first.minute) / share);
    const part = parts.get(key);
    if (!part) parts.set(key, { low: point, high: point });
    else if (point.temperatureC < part.low.temperatureC) part.low = point;
    else if (point.temperatureC > part.high.temperatureC) part.high = point;
  }
  const kept = [...parts.values()].flatMap(({ low, high }) =>
    low === high ? [low] : low.minute < high.minute ? [low, high] : [high, low],
  );
  return [first, ...kept.filter((point) => point !== first && point !== last), last];
}

/** That fit on the sheet at the size of each. */
const LINE_LETTERS = 118;
const NOTE_LETTERS = 134;

/** Broken at spaces, so that no line is wider than the sheet. */
function wrapped(text: string, mostLetters: number): string[] {
  const lines: string[] = [];
  let current = '';
  for (const word of text.split(' ')) {
    if (current !== '' && current.length + word.length >= mostLetters) {
      lines.push(current);
      current = word;
    } else current = current === '' ? word : `${current} ${word}`;
  }
  return [...lines, current];
}
