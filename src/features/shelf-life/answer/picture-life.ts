/** What is left of a part's life over time, by the limits that drive. */
import type { Segment } from '../../../domain/exposure/shapes.ts';
import { modelEnds } from '../../../domain/limits/models.ts';
import type { LotFacts } from '../../../domain/limits/shapes.ts';
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

/** As many turns of a model as a picture can show. */
const MOST_TURNS = 300;

/**
 * Left at a time: until the earliest of the ends that were there by then. An end that something brought about counts from when it happened,
 * and a model's end moves with what the food went through, so the line falls there.
 */
function lifeLine(part: PartInForce['part'], facts: LotFacts, segments: readonly Segment[], untilMs: number): Point[] {
  const { bornAtMs } = facts;
  const ends = part.limits.filter(({ drives, endsAtMs }) => drives && endsAtMs !== null);
  const byModel = facts.model && ends.some(({ code }) => code === 'item-model') ? facts.model : null;
  const moves = byModel ? modelEnds(byModel, segments, facts.timeZone) : [];
  const every = Math.max(1, Math.ceil(moves.length / MOST_TURNS));
  const steps = moves.filter((_, at) => at % every === 0 || at === moves.length - 1);
  const fixed = ends.filter(({ code }) => code !== 'item-model');
  const turns = fixed.flatMap(({ sinceMs }) => (sinceMs === null || sinceMs <= bornAtMs ? [] : [sinceMs]));
  const inside = [...turns, ...steps.map(({ atMs }) => atMs)].filter((ms) => ms > bornAtMs && ms < untilMs);
  const times = [...new Set([bornAtMs, ...inside])].sort((a, b) => a - b);
  const modelEnd = (ms: number): number => steps.findLast(({ atMs }) => atMs <= ms)?.endsAtMs ?? Infinity;
  const endAt = (ms: number): number =>
    Math.min(
      modelEnd(ms),
      ...fixed.filter(({ sinceMs }) => (sinceMs ?? bornAtMs) <= ms).map((one) => one.endsAtMs ?? Infinity),
    );
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
  segments: readonly Segment[],
  axis: Axis,
  nowMs: number,
): Chart['panels'][number] {
  const known = lifeLine(part, facts, segments, nowMs);
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
