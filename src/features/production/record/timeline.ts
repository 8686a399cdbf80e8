/** The batch on one line of time: what went in, what came out, what was checked, packed and decided. */
import { DateTime } from 'luxon';
import { drawChart, plot } from '../../../platform/charts.ts';
import type { BatchRecord } from './contract.ts';

const INK = '#1c2126';
const LINE = '#1d4268';
const GOOD = '#1f6b3a';
const BAD = '#8a1c12';
const ROW_PX = 30;
const MIN_SPAN_MS = 60 * 60_000;

interface Mark {
  readonly row: string;
  readonly at: Date;
}

const ROWS = ['Put in', 'Came out', 'Checked', 'Packed', 'Decided'] as const;

export function timelinePicture(record: BatchRecord): string {
  const mark =
    (row: (typeof ROWS)[number]) =>
    (instant: string): Mark => ({ row, at: new Date(instant) });
  const inputs = record.inputs.map(({ takenAt }) => mark('Put in')(takenAt));
  const loads = record.lots.filter(({ kind }) => kind === 'load').map(({ bornAt }) => mark('Came out')(bornAt));
  const standing = record.checks.filter(({ supersededByCheckId }) => supersededByCheckId === null);
  const ofResult = (result: string) =>
    standing.filter((check) => check.result === result).map(({ occurredAt }) => mark('Checked')(occurredAt));
  const runs = record.runs
    .filter(({ reversed }) => !reversed)
    .map(({ startedAt, finishedAt }) => ({ row: 'Packed', from: new Date(startedAt), to: new Date(finishedAt) }));
  const decided = (outcome: string) =>
    record.decisions.filter((one) => one.outcome === outcome).map(({ decidedAt }) => mark('Decided')(decidedAt));
  const times = [
    Date.parse(record.startedAt),
    ...[
      ...inputs,
      ...loads,
      ...ofResult('passed'),
      ...ofResult('failed'),
      ...decided('released'),
      ...decided('rejected'),
    ].map(({ at }) => at.getTime()),
    ...runs.map(({ to }) => to.getTime()),
  ];
  const first = Math.min(...times);
  const last = Math.max(...times, first + MIN_SPAN_MS);
  const margin = (last - first) * 0.02;
  const long = last - first > 20 * MIN_SPAN_MS;
  const clock = (at: Date) =>
    DateTime.fromJSDate(at, { zone: record.timeZone })
      .setLocale('en-GB')
      .toFormat(long ? 'd LLL HH:mm' : 'HH:mm');
  const ticks = (rows: readonly Mark[], stroke: string) =>
    plot.tickX(rows, { x: 'at', y: 'row', stroke, strokeWidth: 2, inset: 5 });
  const dots = (rows: readonly Mark[], fill: string, symbol: 'circle' | 'diamond' | 'times') =>
    plot.dot(rows, {
      x: 'at',
      y: 'row',
      r: 5,
      symbol,
      ...(symbol === 'times' ? { stroke: fill, strokeWidth: 3 } : { fill, stroke: '#ffffff' }),
    });
  return drawChart({
    name: 'timeline',
    title: `The batch in time: ${clock(new Date(first))} to ${clock(new Date(last))}`,
    description: `Times of inputs, loads, checks, packing and decisions of batch ${record.code}.`,
    lines: [],
    panels: [
      {
        heading: '',
        heightPx: ROWS.length * ROW_PX + 34,
        options: {
          marginLeft: 74,
          marginRight: 20,
          marginTop: 6,
          marginBottom: 28,
          x: {
            type: 'utc',
            domain: [new Date(first - margin), new Date(last + margin)],
            label: null,
            ticks: 8,
            tickFormat: clock,
            grid: true,
          },
          y: { type: 'band', domain: [...ROWS], label: null, tickSize: 0 },
          marks: [
            plot.ruleY(ROWS, { stroke: '#e3e7ea' }),
            ticks(inputs, LINE),
            ticks(loads, INK),
            plot.barX(runs, { x1: 'from', x2: 'to', y: 'row', fill: LINE, inset: 7 }),
            dots(ofResult('passed'), GOOD, 'circle'),
            dots(ofResult('failed'), BAD, 'times'),
            dots(decided('released'), GOOD, 'diamond'),
            dots(decided('rejected'), BAD, 'times'),
            plot.frame({ stroke: '#c9ced3' }),
          ],
        },
      },
    ],
    notes: [
      'Dot: a check that passed. Cross: one that failed, or a rejection. Diamond: a release. Bar: a packing run.',
    ],
  });
}
