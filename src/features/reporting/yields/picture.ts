/**
 * A recipe's batches over time, one panel a site: what each yielded, what the recipe expects, and between which limits its own history lets one
 * expect it. A batch that stands out is a triangle with its name, pointing to the side on which it does, so that it also reads without colour.
 */
import { drawChart, plot, type Chart } from '../../../platform/charts.ts';
import type { RecipeYields } from './contract.ts';

const INK = '#1c2126';
const SOFT_INK = '#4b545c';
const LINE = '#1d4268';
const BAND = '#dbe7f3';
const OUT = '#8a1c12';
const MS_PER_DAY = 86_400_000;
const PANEL_PX = 270;

type Batch = RecipeYields['batches'][number];

interface Period {
  readonly fromDate: string;
  readonly toDate: string;
}

/** The SVG document; recipes are rows of one recipe at several sites, or none. */
export function drawYields(recipes: readonly RecipeYields[], period: Period): string {
  const name = recipes[0]?.itemName ?? 'No batches';
  const lines = recipes.length === 0 ? ['No batch was completed in the period.'] : recipes.map(sentence);
  return drawChart({
    title: `Yield of ${name}, ${period.fromDate} to ${period.toDate}`,
    description: lines.join(' '),
    lines,
    panels: recipes.map((recipe) => panelOf(recipe)),
    notes: [
      'Dot: a batch. Triangle with its code: a batch that stands out, pointing up or down. Broken line: what the recipe expects.',
      'Band: usual range of the earlier batches at that site (mean ± 3 x mean moving range / 1.128; NIST/SEMATECH e-Handbook, 6.3.2.2),',
      'from the ninth batch on; the line in it is their mean. What stands out is a question to the kitchen, not a verdict.',
    ],
  });
}

function sentence({
  siteName,
  batches,
  median,
  lowest,
  highest,
  standOuts,
  expectedYieldPercent,
}: RecipeYields): string {
  const number = batches.length === 1 ? '1 batch' : `${batches.length} batches`;
  const out = standOuts === 0 ? 'none stands out' : standOuts === 1 ? '1 stands out' : `${standOuts} stand out`;
  const spread = median === null ? '' : ` ${lowest} to ${highest} %, half of them at or above ${median} %;`;
  return `${siteName}: ${number},${spread} expected ${expectedYieldPercent} %; ${out}.`;
}

/** Batches of one day stand side by side, in their order. */
function placed(batches: readonly Batch[]): (Batch & { readonly at: Date })[] {
  const ofDay = new Map<string, number>();
  for (const { completedOn } of batches) ofDay.set(completedOn, (ofDay.get(completedOn) ?? 0) + 1);
  const seen = new Map<string, number>();
  return batches.map((batch) => {
    const no = seen.get(batch.completedOn) ?? 0;
    seen.set(batch.completedOn, no + 1);
    const share = (no + 0.5) / (ofDay.get(batch.completedOn) ?? 1);
    return { ...batch, at: new Date(Date.parse(`${batch.completedOn}T00:00:00Z`) + share * MS_PER_DAY) };
  });
}

const DAY = new Intl.DateTimeFormat('en-GB', { timeZone: 'UTC', day: 'numeric', month: 'short' });
const MARGINS = { marginLeft: 46, marginRight: 128, marginTop: 12, marginBottom: 34 };
/** Between two words at the right edge. */
const WORDS_PX = 15;

interface Step {
  readonly from: Date;
  readonly to: Date;
}

/** Each batch has the time half way to its neighbours. */
function steps<T extends { readonly at: Date }>(batches: readonly T[], marginMs: number): (T & Step)[] {
  const middle = (a: Date, b: Date) => new Date((a.getTime() + b.getTime()) / 2);
  return batches.map((batch, at) => {
    const [before, after] = [batches[at - 1], batches[at + 1]];
    return {
      ...batch,
      from: before ? middle(before.at, batch.at) : new Date(batch.at.getTime() - marginMs),
      to: after ? middle(batch.at, after.at) : new Date(batch.at.getTime() + marginMs),
    };
  });
}

/** A line of steps: both ends of each. */
const stepped = <T extends Step>(rows: readonly T[]): (T & { readonly time: Date })[] =>
  rows.flatMap((row) => [
    { ...row, time: row.from },
    { ...row, time: row.to },
  ]);

/** Moves words apart that would stand on each other, the lowest first. */
function apart(words: readonly { readonly text: string; readonly value: number }[], step: number) {
  const placed: { text: string; value: number }[] = [];
  for (const one of [...words].sort((a, b) => a.value - b.value)) {
    const below = placed.at(-1);
    placed.push({ ...one, value: below ? Math.max(one.value, below.value + step) : one.value });
  }
  return placed;
}

function panelOf(recipe: RecipeYields): Chart['panels'][number] {
  const known = placed(recipe.batches.filter(({ yieldPercent }) => yieldPercent !== null));
  const times = known.map(({ at }) => at.getTime());
  const [first, last] = [Math.min(...times), Math.max(...times)];
  const marginMs = Math.max(MS_PER_DAY / 2, (last - first) * 0.02);
  const batches = steps(known, marginMs);
  const judged = batches.flatMap(({ usualRange, from, to }) => (usualRange ? [{ from, to, ...usualRange }] : []));
  const out = batches.filter(({ standsOut }) => standsOut);
  const values = [
    ...batches.flatMap(({ yieldPercent, expectedYieldPercent }) => [yieldPercent ?? 0, expectedYieldPercent ?? 0]),
    ...judged.flatMap(({ lower, upper }) => [lower, upper]),
  ];
  const lowest = Math.floor(Math.min(...values) - 0.5);
  const highest = Math.ceil(Math.max(...values) + 0.5);
  const middle = (first + last) / 2;
  const y = (batch: Batch) => batch.yieldPercent ?? 0;
  const limit = (value: 'lower' | 'upper' | 'mean', strokeOpacity: number) =>
    plot.lineY(stepped(judged), { x: 'time', y: value, stroke: LINE, strokeWidth: 1, strokeOpacity });
  return {
    heading: `${recipe.siteName}: yield, % of what went in`,
    heightPx: PANEL_PX,
    options: {
      ...MARGINS,
      x: {
        type: 'utc',
        domain: [new Date(first - marginMs), new Date(last + marginMs)],
        label: null,
        ticks: 8,
        tickFormat: (tick: Date) => DAY.format(tick),
      },
      y: { domain: [lowest, highest], grid: true, label: null },
      marks: [
        plot.areaY(stepped(judged), { x: 'time', y1: 'lower', y2: 'upper', fill: BAND }),
        limit('mean', 0.5),
        limit('lower', 1),
        limit('upper', 1),
        plot.lineY(stepped(batches), {
          x: 'time',
          y: 'expectedYieldPercent',
          stroke: INK,
          strokeWidth: 1.5,
          strokeDasharray: '7 4',
        }),
        plot.lineY(batches, { x: 'at', y, stroke: SOFT_INK, strokeOpacity: 0.35 }),
        plot.dot(
          batches.filter(({ standsOut }) => !standsOut),
          { x: 'at', y, r: 3.5, fill: LINE },
        ),
        ...(['above', 'below'] as const).flatMap((side) => triangles(side, out, middle)),
        plot.text(wordsAtEdge(batches, judged, ((highest - lowest) * WORDS_PX) / PANEL_PX), {
          frameAnchor: 'right',
          y: 'value',
          text: 'text',
          textAnchor: 'start',
          dx: 8,
          fill: SOFT_INK,
        }),
        plot.frame({ stroke: '#c9ced3' }),
      ],
    },
  };
}

/** What the lines are, where they end. */
function wordsAtEdge(
  batches: readonly Batch[],
  judged: readonly { readonly lower: number; readonly upper: number }[],
  step: number,
) {
  const expected = batches.at(-1)?.expectedYieldPercent ?? null;
  const edge = judged.at(-1);
  return apart(
    [
      ...(expected === null ? [] : [{ text: `expected ${expected} %`, value: expected }]),
      ...(edge
        ? [
            { text: `usual from ${edge.lower} %`, value: edge.lower },
            { text: `usual to ${edge.upper} %`, value: edge.upper },
          ]
        : []),
    ],
    step,
  );
}

/** With their words on the side where there is room. */
function triangles(side: 'above' | 'below', out: readonly (Batch & { readonly at: Date })[], middle: number) {
  const y = (batch: Batch) => batch.yieldPercent ?? 0;
  const own = out.filter((batch) => batch.side === side);
  const words = (toTheRight: boolean) =>
    plot.text(
      own.filter(({ at }) => at.getTime() <= middle === toTheRight),
      {
        x: 'at',
        y,
        text: (batch: Batch) => `${batch.code}: ${batch.yieldPercent} %`,
        dx: toTheRight ? 12 : -12,
        textAnchor: toTheRight ? 'start' : 'end',
        fill: OUT,
        fontWeight: 'bold',
        stroke: '#ffffff',
        strokeWidth: 4,
      },
    );
  const mark = { r: 7, symbol: 'triangle', rotate: side === 'below' ? 180 : 0, fill: OUT, stroke: '#ffffff' } as const;
  return [plot.dot(own, { x: 'at', y, ...mark }), words(true), words(false)];
}
