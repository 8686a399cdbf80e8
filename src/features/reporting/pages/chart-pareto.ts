/** Waste by reason, the largest first, with the share added up: lying down, so that the reasons can be read in full. */
import { plot } from '../../../platform/charts.ts';
import type { MonthReportAnswer } from '../month/shapes.ts';
import { bands, CALM, draw, HALF_PX, INK, LOSS, wrapped, type Picture } from './chart-parts.ts';
import { moneyText, percentText, roughMassText } from './words.ts';

const NAMES_PX = 176;
const ROW_PX = 34;
/** Bars take the left part, the line of shares the right one, of an axis of 1. */
const BARS_TO = 0.42;
const SHARES = { from: 0.7, to: 0.94 } as const;

interface Row {
  readonly at: number;
  readonly label: string;
  readonly value: number;
  readonly bar: number;
  readonly share: number;
  readonly point: number;
}

/** Null when nothing was wasted. */
export function paretoPicture({ wasteBy, currency }: MonthReportAnswer): Picture | null {
  // By worth; by weight where nothing has a price.
  const priced = wasteBy.reason.some(({ valueMinor }) => valueMinor > 0);
  const values = wasteBy.reason
    .map((one) => ({ label: one.label, value: priced ? one.valueMinor : one.foodG + one.inediblePartsG }))
    .filter(({ value }) => value > 0)
    .sort((a, b) => b.value - a.value);
  const whole = values.reduce((sum, { value }) => sum + value, 0);
  if (whole === 0) return null;
  const top = values[0]?.value ?? 1;
  const rows = values.map(({ label, value }, at): Row => {
    const share = values.slice(0, at + 1).reduce((sum, one) => sum + one.value, 0) / whole;
    const point = SHARES.from + share * (SHARES.to - SHARES.from);
    return { at, label, value, bar: (value / top) * BARS_TO, share, point };
  });
  const valueText = (value: number): string => (priced ? moneyText(value, currency.minorDigits) : roughMassText(value));
  const ends = [{ point: SHARES.from }, { point: SHARES.to }];
  return draw('pareto', {
    widthPx: HALF_PX,
    title: `Waste by reason (${priced ? currency.code : 'weight'})`,
    description: rows
      .map((row) => `${row.label}: ${valueText(row.value)}, together ${percentText(row.share * 100)}`)
      .join('. '),
    lines: ['Bars: each reason, the largest first. Line of dots: their share of all, added up.'],
    panels: [
      {
        heading: '',
        heightPx: 6 + rows.length * ROW_PX,
        options: {
          marginLeft: NAMES_PX,
          marginRight: 24,
          marginTop: 4,
          marginBottom: 2,
          x: { domain: [0, 1], axis: null },
          y: { type: 'band', domain: bands(rows.length), axis: null, padding: 0.35 },
          marks: [
            plot.barX(rows, { x1: 0, x2: 'bar', y: 'at', fill: LOSS }),
            plot.ruleX([0], { stroke: INK }),
            plot.ruleX(ends, { x: 'point', stroke: '#c9cfd4', strokeDasharray: '2 3' }),
            plot.text(rows, {
              x: 'bar',
              y: 'at',
              dx: 5,
              textAnchor: 'start',
              fill: INK,
              text: (row: Row) => valueText(row.value),
            }),
            plot.line(rows, { x: 'point', y: 'at', stroke: CALM, strokeWidth: 2 }),
            plot.dot(rows, { x: 'point', y: 'at', fill: CALM, r: 4 }),
            plot.text(rows, {
              x: 'point',
              y: 'at',
              dx: (SHARES.to - SHARES.from) * 20,
              dy: -9,
              textAnchor: 'start',
              fill: INK,
              fontSize: 10.5,
              text: (row: Row) => percentText(row.share * 100),
            }),
            plot.text(rows, {
              y: 'at',
              frameAnchor: 'left',
              textAnchor: 'start',
              dx: -NAMES_PX,
              fill: INK,
              text: (row: Row) => wrapped(row.label, 27, 2),
            }),
          ],
        },
      },
    ],
    notes: [],
  });
}
