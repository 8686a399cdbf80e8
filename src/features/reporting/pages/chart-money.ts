/** Where the money went, from what stood and came to what became of it: each step starts where the one above ended. */
import { plot } from '../../../platform/charts.ts';
import type { MonthReportAnswer } from '../month/shapes.ts';
import { bands, CALM, draw, HALF_PX, INK, LOSS, shortened, type Picture } from './chart-parts.ts';
import { moneySteps, type Step } from './waterfall.ts';
import { MINUS, moneyText } from './words.ts';

const NAMES_PX = 204;
const PALE = { loss: '#f3c5aa', use: '#e4edf2' } as const;
const THIN_SPACE = '\u202F';

type Bar = Step & { readonly at: number; readonly low: number; readonly high: number };

function barsOf(steps: readonly Step[]): Bar[] {
  const signed = steps.map(({ side, minor }) => (side === 'in' ? minor : -minor));
  return steps.map((step, at) => {
    const from = signed.slice(0, at).reduce((sum, one) => sum + one, 0);
    const to = from + (signed[at] ?? 0);
    return { ...step, at, low: Math.min(from, to), high: Math.max(from, to) };
  });
}

const signed = ({ side, minor }: Step): number => (side === 'in' ? minor : -minor);
const edge = (bar: Bar): string => (bar.loss ? LOSS : CALM);
const inside = (bar: Bar): string => (bar.side === 'in' ? CALM : bar.loss ? PALE.loss : PALE.use);

/** Null when nothing that has a price stood or moved. */
export function moneyPicture(report: MonthReportAnswer): Picture | null {
  const { code, minorDigits } = report.currency;
  const bars = barsOf(moneySteps(report));
  if (bars.length === 0) return null;
  const text = (bar: Bar): string => {
    const value = signed(bar);
    return `${value < 0 ? MINUS : '+'}${THIN_SPACE}${moneyText(Math.abs(value), minorDigits)}`;
  };
  return draw('money', {
    widthPx: HALF_PX,
    title: `Where the money went (${code})`,
    description: bars.map((bar) => `${bar.label}: ${text(bar)}`).join('. '),
    lines: ['From the top: what stood and came (full bars), then what became of it (pale bars).'],
    panels: [
      {
        heading: '',
        heightPx: 8 + bars.length * 20,
        options: {
          marginLeft: NAMES_PX,
          marginRight: 80,
          marginTop: 2,
          marginBottom: 4,
          x: {
            domain: [Math.min(0, ...bars.map(({ low }) => low)), Math.max(1, ...bars.map(({ high }) => high))],
            axis: null,
          },
          y: { type: 'band', domain: bands(bars.length), axis: null, padding: 0.25 },
          marks: [
            plot.ruleX([0], { stroke: '#c9cfd4' }),
            plot.barX(bars, { x1: 'low', x2: 'high', y: 'at', strokeWidth: 1.2, fill: inside, stroke: edge }),
            plot.text(bars, { x: 'high', y: 'at', textAnchor: 'start', dx: 5, fill: INK, text }),
            plot.text(bars, {
              y: 'at',
              frameAnchor: 'left',
              textAnchor: 'start',
              dx: -NAMES_PX,
              fill: INK,
              text: (bar: Bar) => shortened(bar.label, 34),
            }),
          ],
        },
      },
    ],
    notes: [
      'Wasted: with packaging. What went into making and what was made',
      'cancel, but for what was added and lost.',
    ],
  });
}
