/**
 * How much to make as a picture: above the days by date, below how often so much was enough, on one scale of quantity each. Days that ran
 * out have a shape of their own (a triangle that points up: at least so much), so that it also reads without colour.
 */
import { drawChart, plot, type Chart } from '../../../platform/charts.ts';
import type { HowMuchAnswer } from './contract.ts';
import { nameOfUnit } from './answer.ts';

type Panel = Chart['panels'][number];
type Mark = NonNullable<Panel['options']['marks']>[number];
type Day = HowMuchAnswer['days'][number];

const INK = '#1c2126';
const SOFT_INK = '#4b545c';
const SEEN = '#1d4268';
const RAN_OUT = '#b3401b';
const OFFER = '#2c6b3f';
const MARGINS = { marginLeft: 46, marginRight: 20, marginTop: 14, marginBottom: 36 };
const FRAME = { stroke: '#c9ced3' };

const DAY = new Intl.DateTimeFormat('en-GB', { timeZone: 'UTC', day: 'numeric', month: 'short' });
const DAY_MS = 86_400_000;
const DASH_MS = 0.4 * DAY_MS;
const timeOf = (date: string): Date => new Date(`${date}T00:00:00Z`);

/** The SVG document. */
export function drawHowMuch(answer: HowMuchAnswer): string {
  const lines = sentences(answer.offer);
  const most = Math.max(answer.tail.largestSeen, answer.quantity ?? 0, answer.requiredForDate ?? 0, 1);
  return drawChart({
    title: `${answer.itemName}: how much to make for ${answer.weekday} ${answer.date}`,
    description: answer.offer,
    lines: [answer.siteName, ...lines],
    panels: [daysPanel(answer, most), sharesPanel(answer, most)],
    notes: [
      ...sentences(answer.method.text),
      ...(answer.tail.text === null ? [] : sentences(answer.tail.text)),
      'The JSON answer of the same request lists every day, what things cost and what is assumed.',
    ],
  });
}

/** Broken at spaces, so that no line is wider than the sheet. */
function sentences(text: string): string[] {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ')) {
    if (line.length + word.length > 112) {
      lines.push(line);
      line = word;
    } else line = line === '' ? word : `${line} ${word}`;
  }
  return [...lines, line];
}

/** The day that is asked about: what is offered, and what is required so far. */
function offered(answer: HowMuchAnswer, quantity: number): Mark[] {
  const x = timeOf(answer.date);
  return [
    plot.ruleY([quantity], { stroke: OFFER, strokeWidth: 1.5, strokeDasharray: '6 4' }),
    plot.dot([quantity], { x, y: quantity, r: 6, symbol: 'diamond', fill: OFFER }),
    plot.text([`offered ${quantity}`], {
      x,
      y: quantity,
      // away from the dash of what is required
      dy: (answer.requiredForDate ?? -1) >= quantity ? 16 : -14,
      fill: OFFER,
      fontWeight: 'bold',
      stroke: '#ffffff',
      strokeWidth: 4,
    }),
  ];
}

/** Dashes as wide as most of a day. */
function dashes(days: readonly { readonly date: string; readonly required: number | null }[]): Mark {
  return plot.ruleY(days, {
    x1: (day: { date: string }) => new Date(timeOf(day.date).getTime() - DASH_MS),
    x2: (day: { date: string }) => new Date(timeOf(day.date).getTime() + DASH_MS),
    y: (day: { required: number | null }) => day.required ?? 0,
    stroke: SOFT_INK,
    strokeWidth: 1.5,
  });
}

function daysPanel(answer: HowMuchAnswer, most: number): Panel {
  const used = answer.days.filter((day) => day.leftOut === null);
  const known = used.filter((day) => day.ranOut.length === 0);
  const ranOut = used.filter((day) => day.ranOut.length > 0);
  const x = (day: Day) => timeOf(day.date);
  const asked = { date: answer.date, required: answer.requiredForDate };
  const required = [...used, asked].filter((day) => day.required !== null);
  const legend = [
    'dot: a day',
    ...(ranOut.length > 0 ? ['triangle: ran out, at least so much'] : []),
    ...(required.length > 0 ? ['dash: required'] : []),
  ];
  const times = [...used.map(x), timeOf(answer.date)].map((time) => time.getTime());
  return {
    heading: `What was asked for, ${nameOfUnit(answer.unit)} (${legend.join('; ')})`,
    heightPx: 220,
    options: {
      ...MARGINS,
      x: {
        type: 'utc',
        domain: [new Date(Math.min(...times) - DAY_MS), new Date(Math.max(...times) + DAY_MS)],
        label: null,
        ticks: 8,
        tickFormat: (tick: Date) => DAY.format(tick),
      },
      y: { domain: [0, most * 1.25], grid: true, label: null },
      marks: [
        dashes(required),
        plot.dot(known, { x, y: 'demand', r: 4, fill: SEEN }),
        plot.dot(ranOut, {
          x,
          y: 'demand',
          r: 5.5,
          symbol: 'triangle',
          fill: '#ffffff',
          stroke: RAN_OUT,
          strokeWidth: 2,
        }),
        ...(answer.quantity === null ? [] : offered(answer, answer.quantity)),
        plot.frame(FRAME),
      ],
    },
  };
}

function sharesPanel(answer: HowMuchAnswer, most: number): Panel {
  const steps = [
    { quantity: 0, share: 0 },
    ...answer.distribution.map(({ quantity, chanceAtMost }) => ({ quantity, share: 100 * chanceAtMost })),
  ];
  const last = steps.at(-1)?.share ?? 0;
  const end = most * 1.08;
  const largest = answer.tail.largestSeen;
  const drawn = [...steps, { quantity: answer.tail.unknown ? largest : end, share: last }];
  const ratio = answer.criticalRatio?.value ?? null;
  return {
    heading: 'Share of days for which so much is enough, %',
    heightPx: 220,
    options: {
      ...MARGINS,
      x: { domain: [0, end], label: nameOfUnit(answer.unit), labelArrow: 'none', labelAnchor: 'center' },
      y: { domain: [0, 105], grid: true, label: null, ticks: [0, 25, 50, 75, 100] },
      marks: [
        plot.lineY(drawn, { x: 'quantity', y: 'share', curve: 'step-after', stroke: SEEN, strokeWidth: 2 }),
        ...(answer.tail.unknown
          ? [
              plot.lineY([largest, end], {
                x: (q: number) => q,
                y: last,
                stroke: RAN_OUT,
                strokeWidth: 2,
                strokeDasharray: '2 4',
              }),
              note('beyond: not known', largest, last, RAN_OUT, largest > end / 2),
            ]
          : []),
        ...(ratio === null
          ? []
          : [
              plot.ruleY([100 * ratio], { stroke: SOFT_INK, strokeDasharray: '2 3' }),
              plot.text([`critical ratio ${Math.round(ratio * 1000) / 10} %`], {
                frameAnchor: 'left',
                y: 100 * ratio,
                dx: 6,
                dy: -8,
                textAnchor: 'start',
                fill: SOFT_INK,
                stroke: '#ffffff',
                strokeWidth: 4,
              }),
            ]),
        ...(answer.quantity === null
          ? []
          : [
              plot.ruleX([answer.quantity], { stroke: OFFER, strokeWidth: 1.5, strokeDasharray: '6 4' }),
              note(`offered ${answer.quantity}`, answer.quantity, 16, OFFER, answer.quantity > end / 2),
            ]),
        plot.frame({ ...FRAME, fill: 'none' }),
      ],
      style: { color: INK },
    },
  };
}

/** Words beside a point, on the side where there is room. */
function note(words: string, x: number, y: number, fill: string, toTheLeft: boolean): Mark {
  return plot.text([words], {
    x,
    y,
    dx: toTheLeft ? -8 : 8,
    dy: 10,
    textAnchor: toTheLeft ? 'end' : 'start',
    fill,
    fontWeight: 'bold',
    stroke: '#ffffff',
    strokeWidth: 4,
  });
}
