/** What is left of a part's life over time, by the limits that drive. */
import type { Limit } from '../../../domain/limits/shapes.ts';
import { plot, type Chart } from '../../../platform/charts.ts';
import type { ComputedLot } from '../limits/compute.ts';
import type { PartInForce } from './parts.ts';
import { INK, MARGINS, SOFT_INK, type Axis } from './picture-parts.ts';

const LIFE = { line: '#1d4268', fill: '#dbe7f3' };
const USED = '#8a1c12';
const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;

interface Point {
  readonly ms: number;
  readonly leftMs: number;
}

/**
 * Left at a time: until the earliest of the ends that were there by then. An end that something brought about counts from when it happened,
 * so the line falls there.
 */
function lifeLine(limits: readonly Limit[], bornAtMs: number, untilMs: number): Point[] {
  const ends = limits.filter(({ drives, endsAtMs }) => drives && endsAtMs !== null);
  const endAt = (ms: number): number =>
    Math.min(
      Infinity,
      ...ends.filter(({ sinceMs }) => (sinceMs ?? bornAtMs) <= ms).map((one) => one.endsAtMs as number),
    );
  const turns = [...new Set(ends.flatMap(({ sinceMs }) => (sinceMs === null || sinceMs <= bornAtMs ? [] : [sinceMs])))];
  const times = [bornAtMs, ...turns.filter((ms) => ms < untilMs).sort((a, b) => a - b)];
  const points: Point[] = [];
  for (const [no, fromMs] of times.entries()) {
    const end = endAt(fromMs);
    if (!Number.isFinite(end)) continue;
    const toMs = Math.min(times[no + 1] ?? untilMs, Math.max(end, fromMs), untilMs);
    points.push({ ms: fromMs, leftMs: Math.max(0, end - fromMs) }, { ms: toMs, leftMs: Math.max(0, end - toMs) });
  }
  return points;
}

function words(leftMs: number): string {
  const hours = Math.floor(leftMs / HOUR_MS);
  return hours >= 72 ? `${hours} h (${Math.floor(hours / 2.4) / 10} days) left` : `${hours} h left`;
}

export function lifePanel(
  { facts }: ComputedLot,
  { part }: PartInForce,
  axis: Axis,
  nowMs: number,
): Chart['panels'][number] {
  const known = lifeLine(part.limits, facts.bornAtMs, nowMs);
  const printedMs = facts.printedUseByAtMs;
  const longest = Math.max(0, ...known.map(({ leftMs }) => leftMs));
  const inDays = longest >= 3 * DAY_MS;
  const unitMs = inDays ? DAY_MS : HOUR_MS;
  const endMs = part.effectiveAtMs;
  const now: Point = { ms: nowMs, leftMs: Math.max(0, (endMs ?? nowMs) - nowMs) };
  const then = endMs === null || endMs <= nowMs ? [] : [now, { ms: endMs, leftMs: 0 }];
  const printed =
    printedMs === null || printedMs === endMs
      ? []
      : [
          { ms: facts.bornAtMs, leftMs: printedMs - facts.bornAtMs },
          { ms: printedMs, leftMs: 0 },
        ];
  const x = ({ ms }: Point) => axis.at(ms);
  const y = ({ leftMs }: Point) => leftMs / unitMs;
  const top = (Math.max(longest, ...printed.map(({ leftMs }) => leftMs), unitMs) / unitMs) * 1.1;
  const forbidden = part.forbiddenBy !== null;
  const over = forbidden || now.leftMs === 0;
  const label = forbidden ? 'must not be eaten' : endMs === null ? 'no limit' : over ? 'used up' : words(now.leftMs);
  const nearEnd = axis.px(nowMs) > 600;
  return {
    heading: `Life left, ${inDays ? 'days' : 'hours'}: by the limits that drive; broken line supposed${printed.length > 0 ? ', dotted as printed' : ''}`,
    heightPx: 220,
    options: {
      ...MARGINS,
      x: axis.scale,
      y: { domain: [0, top], grid: true, label: null, ticks: 6 },
      marks: [
        plot.areaY(known, { x, y1: 0, y2: y, fill: LIFE.fill }),
        plot.lineY(printed, { x, y, clip: true, stroke: SOFT_INK, strokeWidth: 1.2, strokeDasharray: '1 4' }),
        plot.lineY(known, { x, y, stroke: LIFE.line, strokeWidth: 2.5 }),
        plot.lineY(then, { x, y, clip: true, stroke: LIFE.line, strokeWidth: 2, strokeDasharray: '6 4' }),
        plot.ruleX([axis.at(nowMs)], { stroke: SOFT_INK, strokeOpacity: 0.5 }),
        plot.text(['now'], {
          x: [axis.at(nowMs)],
          frameAnchor: 'top',
          dy: 8,
          dx: nearEnd ? -6 : 6,
          textAnchor: nearEnd ? 'end' : 'start',
          fill: SOFT_INK,
          stroke: '#ffffff',
          strokeWidth: 4,
        }),
        plot.frame({ stroke: '#c9ced3' }),
        plot.dot([now], { x, y, r: 4.5, fill: over ? USED : LIFE.line }),
        plot.text([now], {
          x,
          y,
          text: () => label,
          dx: nearEnd ? -10 : 10,
          dy: -12,
          textAnchor: nearEnd ? 'end' : 'start',
          fill: over ? USED : INK,
          fontWeight: 'bold',
          stroke: '#ffffff',
          strokeWidth: 4,
        }),
      ],
    },
  };
}
