/**
 * Reject rates of a machine over time, one panel a programme: dots are periods, the line is the mean, the band what chance explains. A period
 * that stands out is a triangle with its number, pointing to the side on which it does, so that it also reads without colour.
 */
import { programmeSuggestions } from '../../../domain/process-checks/programmes.ts';
import { drawChart, plot, type Chart } from '../../../platform/charts.ts';
import type { RejectRow } from './contract.ts';

const INK = '#1c2126';
const SOFT_INK = '#4b545c';
const LINE = '#1d4268';
const BAND = '#dbe7f3';
const OUT = '#8a1c12';
const MS_PER_DAY = 86_400_000;
const PANEL_PX = 200;
/** More programmes than this would make a sheet that nobody reads. */
const MOST_PANELS = 12;
const MOST_TICKS = 9;
const MARGINS = { marginLeft: 46, marginRight: 128, marginTop: 14, marginBottom: 34 };

interface Asked {
  readonly fromDate: string;
  readonly toDate: string;
  readonly by: 'week' | 'month';
}

type Period = RejectRow['periods'][number] & { readonly from: Date; readonly at: Date; readonly to: Date };

/** The SVG document. */
export function drawRejects(machine: string, rows: readonly RejectRow[], asked: Asked): string {
  const shown = [...rows].sort((a, b) => b.packsMade - a.packsMade).slice(0, MOST_PANELS);
  const lines = shown.length === 0 ? ['Nothing was packed on it in the period.'] : shown.map(sentence);
  const left = rows.length - shown.length;
  return drawChart({
    title: `Rejected packs on ${machine}, ${asked.fromDate} to ${asked.toDate}, by ${asked.by}`,
    description: lines.join(' '),
    lines: left > 0 ? [...lines, `${left} more programmes with fewer packs are not drawn.`] : lines,
    panels: shown.map((row) => panelOf(row, asked, axisOf(shown, asked))),
    notes: [
      'Dot: a period, share of rejected packs among all that were sealed. Triangle with its share: a period that stands out. Line: mean of the programme.',
      'Band: mean ± 3 x sqrt(mean x (1 - mean) / n), wider where fewer packs were sealed (p-chart; NIST/SEMATECH e-Handbook of Statistical Methods,',
      '6.3.3.2), with five periods or more. What stands out is a question to the kitchen; what does not may still be too much.',
    ],
  });
}

/** As in a sentence. */
function labelOf(reason: string): string {
  const label = programmeSuggestions.rejectReasons.find(({ code }) => code === reason)?.label ?? reason;
  return label.toLowerCase();
}

function sentence({ programme, packsMade, packsRejected, rejectPercent, periods, byReason }: RejectRow): string {
  const out = periods.filter(({ standsOut }) => standsOut !== null).length;
  const judged = periods.some(({ limits }) => limits !== null);
  const [reason = '', most] = Object.entries(byReason)
    .filter(([code]) => code !== 'not-said')
    .reduce((top, one) => (one[1] > top[1] ? one : top), ['', 0]);
  const why = most > 0 ? `, most often ${labelOf(reason)} (${most})` : '';
  const verdict = !judged
    ? 'fewer than five periods, no limits'
    : out === 0
      ? 'none stands out'
      : `${out} out of limits`;
  return `${programme}: ${packsRejected} rejected of ${packsMade + packsRejected} (${rejectPercent ?? 0} %)${why}; ${verdict}.`;
}

function endOf(begins: Date, by: Asked['by']): Date {
  if (by === 'week') return new Date(begins.getTime() + 7 * MS_PER_DAY);
  return new Date(Date.UTC(begins.getUTCFullYear(), begins.getUTCMonth() + 1, 1));
}

function placed(row: RejectRow, by: Asked['by']): Period[] {
  return row.periods
    .filter(({ rejectPercent }) => rejectPercent !== null)
    .map((period) => {
      const from = new Date(`${period.begins}T00:00:00Z`);
      const to = endOf(from, by);
      return { ...period, from, to, at: new Date((from.getTime() + to.getTime()) / 2) };
    });
}

/** Steps: both ends of each period. Periods without packs leave a gap. */
function stepped(periods: readonly Period[]) {
  return periods.flatMap((period) => {
    if (!period.limits) return [];
    const { lowerPercent: lower, upperPercent: upper } = period.limits;
    const step = { begins: period.begins, lower, upper };
    return [
      { ...step, time: period.from },
      { ...step, time: period.to },
    ];
  });
}

const DAY = new Intl.DateTimeFormat('en-GB', { timeZone: 'UTC', day: 'numeric', month: 'short' });
const MONTH = new Intl.DateTimeFormat('en-GB', { timeZone: 'UTC', month: 'short', year: 'numeric' });
const share = ({ rejectPercent }: Period): number => rejectPercent ?? 0;

interface Axis {
  readonly firstMs: number;
  readonly lastMs: number;
  readonly ticks: readonly Date[];
}

/** One for all panels, so that the same week stands below itself; ticks where periods begin, at most about nine. */
function axisOf(rows: readonly RejectRow[], { fromDate, toDate, by }: Asked): Axis {
  const periods = rows.flatMap((row) => placed(row, by));
  const firstMs = Math.min(Date.parse(`${fromDate}T00:00:00Z`), ...periods.map(({ from }) => from.getTime()));
  const lastMs = Math.max(Date.parse(`${toDate}T00:00:00Z`) + MS_PER_DAY, ...periods.map(({ to }) => to.getTime()));
  const begins: Date[] = [];
  // Any Monday, any first of a month.
  let next = by === 'week' ? new Date(Date.UTC(2000, 0, 3)) : new Date(Date.UTC(2000, 0, 1));
  while (next.getTime() < lastMs) {
    if (next.getTime() >= firstMs) begins.push(next);
    next = endOf(next, by);
  }
  const every = Math.ceil(begins.length / MOST_TICKS);
  return { firstMs, lastMs, ticks: begins.filter((_, at) => at % every === 0) };
}

function panelOf(row: RejectRow, { by }: Asked, { firstMs, lastMs, ticks }: Axis): Chart['panels'][number] {
  const periods = placed(row, by);
  const band = stepped(periods);
  const mean = row.rejectPercent ?? 0;
  const top = Math.max(1, mean, ...periods.map(share), ...band.map(({ upper }) => upper));
  const format = by === 'week' ? DAY : MONTH;
  const inside = periods.filter(({ standsOut }) => standsOut === null);
  const limitLine = (value: 'lower' | 'upper') =>
    plot.lineY(band, { x: 'time', y: value, z: 'begins', stroke: LINE, strokeWidth: 1 });
  return {
    heading: `${row.programme}: rejected, % of packs sealed`,
    heightPx: PANEL_PX,
    options: {
      ...MARGINS,
      x: {
        type: 'utc',
        domain: [new Date(firstMs), new Date(lastMs)],
        label: null,
        ticks: [...ticks],
        tickFormat: (tick: Date) => format.format(tick),
      },
      y: { domain: [0, top * 1.12], grid: true, label: null, ticks: 5 },
      marks: [
        plot.frame({ stroke: '#c9ced3' }),
        plot.areaY(band, { x: 'time', y1: 'lower', y2: 'upper', z: 'begins', fill: BAND }),
        limitLine('lower'),
        limitLine('upper'),
        plot.ruleY([mean], { stroke: INK, strokeWidth: 1.5, strokeDasharray: '7 4' }),
        plot.lineY(periods, { x: 'at', y: share, stroke: SOFT_INK, strokeOpacity: 0.35 }),
        plot.dot(inside, { x: 'at', y: share, r: 3.5, fill: LINE }),
        ...outMarks(periods, (firstMs + lastMs) / 2),
        plot.text([{ text: `mean ${mean} %`, value: mean }], {
          frameAnchor: 'right',
          y: 'value',
          text: 'text',
          textAnchor: 'start',
          dx: 8,
          fill: SOFT_INK,
        }),
      ],
    },
  };
}

/** With their words on the side where there is room. */
function outMarks(periods: readonly Period[], middleMs: number) {
  return (['above', 'below'] as const).flatMap((side) => {
    const own = periods.filter(({ standsOut }) => standsOut === side);
    const words = (toTheRight: boolean) =>
      plot.text(
        own.filter(({ at }) => at.getTime() <= middleMs === toTheRight),
        {
          x: 'at',
          y: share,
          text: (period: Period) => `${share(period)} % of ${period.packsMade + period.packsRejected}`,
          dx: toTheRight ? 12 : -12,
          textAnchor: toTheRight ? 'start' : 'end',
          fill: OUT,
          fontWeight: 'bold',
          stroke: '#ffffff',
          strokeWidth: 4,
        },
      );
    const mark = {
      r: 7,
      symbol: 'triangle',
      rotate: side === 'below' ? 180 : 0,
      fill: OUT,
      stroke: '#ffffff',
    } as const;
    return [plot.dot(own, { x: 'at', y: share, ...mark }), words(true), words(false)];
  });
}
