/**
 * A what-if as a picture: above what the food went through, below what is left of its life, one time axis for both. What happened is
 * drawn in full lines, what is only supposed from here on in broken ones, so that it also reads without colour.
 */
import type { ExposureStep, WhatIfAnswer } from '../../domain/life/what-if-shapes.ts';
import { drawChart, plot, type Chart } from '../../platform/charts.ts';

const INK = '#1c2126';
const SOFT_INK = '#4b545c';
const WARM = { line: '#b3401b', fill: '#f3c9a5' };
const COLD = '#cfe0f1';
const LIFE = { line: '#1d4268', fill: '#dbe7f3' };
const USED = '#8a1c12';
const MS_PER_H = 3_600_000;

interface Point {
  /** since the beginning */
  readonly h: number;
  readonly value: number;
}

function modelName(model: WhatIfAnswer['model']): string {
  switch (model.kind) {
    case 'square-root':
      return `square-root model, minimum ${model.minTemperatureC} °C`;
    case 'q10':
      return `Q10 model, Q10 = ${model.q10}`;
    case 'arrhenius':
      return `Arrhenius model, ${model.activationEnergyKjPerMol} kJ/mol`;
    case 'listeria-growth':
      return `growth of Listeria monocytogenes, minimum ${model.minTemperatureC} °C`;
    case 'mean-kinetic-temperature':
      return 'mean kinetic temperature';
  }
}

/** The SVG document. */
export function drawProjection(answer: WhatIfAnswer): string {
  const life = answer.usedFraction === null ? null : lifeLeft(answer);
  const endH = answer.exposureH + (life ? (answer.remainingH ?? 0) : 0);
  const axis = timeAxis(answer, endH);
  const lines = sentences(answer);
  return drawChart({
    title: `What if: ${modelName(answer.model)}`,
    description: lines.join(' '),
    lines,
    panels: [temperaturePanel(answer, axis, endH), ...(life ? [lifePanel(answer, axis, life, endH)] : [])],
    notes: [
      'Calculation for trained people to judge; it changes no date. The food-safety plan and the printed date come first.',
      ...(answer.toxinAdvisory === null
        ? []
        : [
            `Vacuum-packed at 3 °C or warmer: ${percent(answer.toxinAdvisory.usedFraction)} of the time to possible toxin of ` +
              'C. botulinum used (advisory, from memory).',
          ]),
      'The JSON answer of the same request says sources and cautions.',
    ],
  });
}

function sentences(answer: WhatIfAnswer): string[] {
  const { reference, exposureH, usedFraction, remainingH, thenTemperatureC, growth, meanKineticTemperatureC } = answer;
  const exposed = `Exposed for ${hours(exposureH)}`;
  if (meanKineticTemperatureC !== null) {
    return [
      `${exposed}. Mean kinetic temperature ${meanKineticTemperatureC.toFixed(1)} °C: not a measure for microbes.`,
    ];
  }
  const grown = growth ? [`Growth of Listeria in that time: ${growth.log10Increase.toFixed(2)} log10.`] : [];
  if (reference === null || usedFraction === null) return [`${exposed}.`, ...grown];
  const left =
    remainingH === null ? '' : ` Left at ${thenTemperatureC} °C: ${remainingH === 0 ? 'nothing' : hours(remainingH)}.`;
  return [
    `Life ${hours(reference.lifeH)} at ${reference.temperatureC} °C. ${exposed}: ${percent(usedFraction)} used.${left}`,
    ...grown,
  ];
}

/** Rounded up: a share that is used. */
function percent(share: number): string {
  return `${Math.ceil(share * 1000 - 1e-6) / 10} %`;
}

/** Rounded down; minutes and days where people think in them. */
function hours(h: number): string {
  if (h < 1) return `${Math.floor(h * 60 + 1e-6)} min`;
  const text = `${Math.floor(h * 10 + 1e-6) / 10} h`;
  return h >= 48 ? `${text} (${Math.floor((h / 24) * 10) / 10} days)` : text;
}

const DAY = new Intl.DateTimeFormat('en-GB', { timeZone: 'UTC', day: 'numeric', month: 'short' });

function dayOf(time: Date): string {
  return DAY.format(time);
}

interface Axis {
  readonly scale: NonNullable<Chart['panels'][number]['options']['x']>;
  readonly at: (h: number) => number | Date;
}

function timeAxis({ startsAtMs }: WhatIfAnswer, endH: number): Axis {
  if (startsAtMs !== null) {
    const at = (h: number) => new Date(startsAtMs + h * MS_PER_H);
    return {
      scale: {
        type: 'utc',
        domain: [at(0), at(endH)],
        label: `UTC, from ${dayOf(at(0))} ${at(0).getUTCFullYear()}`,
        labelArrow: 'none',
        labelAnchor: 'center',
        tickFormat: (tick: Date) =>
          tick.getTime() % (24 * MS_PER_H) === 0 ? dayOf(tick) : tick.toISOString().slice(11, 16),
      },
      at,
    };
  }
  return {
    scale: { domain: [0, endH], label: 'Hours since the beginning', labelArrow: 'none', labelAnchor: 'center' },
    at: (h) => h,
  };
}

function temperaturePanel(answer: WhatIfAnswer, axis: Axis, endH: number): Chart['panels'][number] {
  const { steps, reference, meanKineticTemperatureC, thenTemperatureC, exposureH } = answer;
  const baseC = meanKineticTemperatureC ?? reference?.temperatureC ?? null;
  const points = withCrossings(steps.flatMap(endsOf), baseC);
  const then = thenTemperatureC === null || endH <= exposureH ? [] : [exposureH, endH];
  const all = [
    ...points.map(({ value }) => value),
    ...(baseC === null ? [] : [baseC]),
    ...(then.length > 0 ? [thenTemperatureC ?? 0] : []),
  ];
  const lowest = Math.min(0, ...all);
  const highest = Math.max(...all);
  const x = (point: Point) => axis.at(point.h);
  const shades =
    baseC === null
      ? []
      : [
          plot.areaY(points, { x, y1: baseC, y2: (point: Point) => Math.max(point.value, baseC), fill: WARM.fill }),
          plot.areaY(points, { x, y1: baseC, y2: (point: Point) => Math.min(point.value, baseC), fill: COLD }),
          plot.ruleY([baseC], { stroke: SOFT_INK, strokeDasharray: '2 3' }),
          plot.text(
            [meanKineticTemperatureC === null ? `reference ${baseC} °C` : `mean kinetic ${baseC.toFixed(1)} °C`],
            {
              frameAnchor: 'right',
              y: baseC,
              dy: -8,
              dx: -4,
              textAnchor: 'end',
              fill: SOFT_INK,
            },
          ),
        ];
  return {
    heading: `Temperature, °C${then.length > 0 ? ': full line as sent, broken line supposed' : ''}`,
    heightPx: 210,
    options: {
      ...MARGINS,
      x: answer.usedFraction === null ? axis.scale : { ...axis.scale, label: null },
      // Room above for the words.
      y: { domain: [lowest - 1, highest + Math.max(2, (highest - lowest) * 0.2)], grid: true, label: null, nice: true },
      marks: [
        ...shades,
        plot.lineY(points, { x, y: 'value', stroke: WARM.line, strokeWidth: 2 }),
        plot.lineY(then, {
          x: axis.at,
          y: thenTemperatureC ?? 0,
          stroke: WARM.line,
          strokeWidth: 2,
          strokeDasharray: '6 4',
        }),
        ...exposureEnd(axis, exposureH, endH),
        plot.frame({ stroke: '#c9ced3' }),
      ],
    },
  };
}

/** Where what was sent ends and what is supposed begins. */
function exposureEnd(axis: Axis, exposureH: number, endH: number) {
  const toTheLeft = exposureH > endH / 2;
  return [
    plot.ruleX([axis.at(exposureH)], { stroke: SOFT_INK, strokeOpacity: 0.5 }),
    plot.text(['exposure ends'], {
      x: [axis.at(exposureH)],
      frameAnchor: 'top',
      dy: 8,
      dx: toTheLeft ? -6 : 6,
      textAnchor: toTheLeft ? 'end' : 'start',
      fill: SOFT_INK,
      stroke: '#ffffff',
      strokeWidth: 4,
    }),
  ];
}

const MARGINS = { marginLeft: 46, marginRight: 16, marginTop: 10, marginBottom: 34 };

function endsOf({ fromH, durationH, fromC, toC }: ExposureStep): Point[] {
  return [
    { h: fromH, value: fromC },
    { h: fromH + durationH, value: toC },
  ];
}

/** With the points where the line passes the base, so that what is shaded above and below it is exactly that. */
function withCrossings(points: readonly Point[], base: number | null): Point[] {
  if (base === null) return [...points];
  return points.flatMap((point, at) => {
    const before = points[at - 1];
    if (!before || (before.value - base) * (point.value - base) >= 0) return [point];
    const share = (base - before.value) / (point.value - before.value);
    return [{ h: before.h + share * (point.h - before.h), value: base }, point];
  });
}

/** Percent of the life left at the ends of the steps; a step in which it runs out ends there. */
function lifeLeft({ steps }: WhatIfAnswer): Point[] {
  const points: Point[] = [{ h: 0, value: 100 }];
  for (const { fromH, durationH, usedFraction, usedFractionSoFar } of steps) {
    const before = points.at(-1)?.value ?? 100;
    const value = 100 * (1 - (usedFractionSoFar ?? 0));
    if (value > 0) {
      points.push({ h: fromH + durationH, value });
      continue;
    }
    points.push({ h: fromH + (durationH * before) / (100 * (usedFraction ?? 1)), value: 0 });
    break;
  }
  return points;
}

function lifePanel(answer: WhatIfAnswer, axis: Axis, life: readonly Point[], endH: number): Chart['panels'][number] {
  const { remainingH, exposureH } = answer;
  const last = life.at(-1) ?? { h: 0, value: 100 };
  const runsOut = last.value === 0;
  const supposed: Point[] = runsOut || remainingH === null ? [] : [last, { h: exposureH + remainingH, value: 0 }];
  const x = (point: Point) => axis.at(point.h);
  const drawn = [...life, ...supposed.slice(1)];
  const end = drawn.at(-1) ?? last;
  const place = labelPlace(drawn, end, endH);
  const label = runsOut
    ? `used up after ${hours(last.h)}`
    : remainingH === null
      ? `${Math.floor(last.value * 10) / 10} % left`
      : `${hours(remainingH)} left`;
  return {
    heading: 'Life left, %',
    heightPx: 210,
    options: {
      ...MARGINS,
      x: axis.scale,
      y: { domain: [0, 100], grid: true, label: null },
      marks: [
        plot.areaY(drawn, { x, y: 'value', fill: LIFE.fill }),
        plot.lineY(life, { x, y: 'value', stroke: LIFE.line, strokeWidth: 2.5 }),
        plot.lineY(supposed, { x, y: 'value', stroke: LIFE.line, strokeWidth: 2, strokeDasharray: '6 4' }),
        plot.ruleX([axis.at(exposureH)], { stroke: SOFT_INK, strokeOpacity: 0.5 }),
        plot.frame({ stroke: '#c9ced3' }),
        plot.dot([end], { x, y: 'value', r: 4.5, fill: runsOut ? USED : LIFE.line }),
        plot.text([end], {
          x,
          y: () => place.value,
          text: () => label,
          dx: place.besideIt ? 10 : -6,
          dy: -10,
          textAnchor: place.besideIt ? 'start' : 'end',
          fill: runsOut ? USED : INK,
          fontWeight: 'bold',
          stroke: '#ffffff',
          strokeWidth: 4,
        }),
      ],
    },
  };
}

/** Widest label, as a share of the panel's width. */
const LABEL_SHARE = 0.25;

/** Right of the end where there is room; else over it, higher than the line is where the label begins; under it near the top. */
function labelPlace(drawn: readonly Point[], end: Point, endH: number): { value: number; besideIt: boolean } {
  if (end.h + LABEL_SHARE * endH < endH) return { value: end.value, besideIt: true };
  const fromH = end.h - LABEL_SHARE * endH;
  const after = drawn.findIndex(({ h }) => h > fromH);
  const [a, b] = [drawn[after - 1] ?? end, drawn[after] ?? end];
  const there = b.h > a.h ? a.value + ((fromH - a.h) / (b.h - a.h)) * (b.value - a.value) : a.value;
  const below = there > 84 && end.value > 30;
  return { value: below ? end.value - 18 : Math.min(90, there + 6), besideIt: false };
}
