/**
 * One part as a picture for a report: above, what its food went through, with the places as bands and excursions shaded; below, what is left of
 * its life by the limits that drive, on the same axis of the site's own time. What nobody saw is drawn as a broken line, what is only
 * supposed from here on as well, so that it also reads without colour.
 */
import type { Segment } from '../../../domain/exposure/shapes.ts';
import { drawChart, plot, type Chart } from '../../../platform/charts.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { notFound } from '../../../domain/errors.ts';
import { exposureSegments, listExcursionsAt, type ExcursionRow } from '../../temperature/index.ts';
import type { ComputedLot, Stay } from '../limits/compute.ts';
import type { PartInForce, Where } from './parts.ts';
import { lifePanel } from './picture-life.ts';
import { INK, MARGINS, SOFT_INK, timeAxis, wrapped, type Axis } from './picture-parts.ts';

const BANDS = ['#f4f7fa', '#e6edf4'];
const EXCURSION = '#f6cbb4';
const LINE = '#0f5c7a';
const UNSEEN = '#7a8790';
const LIMIT = '#b3401b';
const MOST_SOURCES = 3;
/** More points than the picture is wide tell nothing. */
const MOST_POINTS = 1_200;

/** The part whose computed end is the earliest; the picture of a report is of one. */
function worstOf(parts: readonly PartInForce[]): PartInForce {
  const sorted = [...parts].sort((a, b) => (a.part.effectiveAtMs ?? Infinity) - (b.part.effectiveAtMs ?? Infinity));
  const [first] = sorted;
  if (!first) throw notFound('part of that lot');
  return first;
}

/** Of several ways the one with the warmest moment. */
function warmestWay({ part }: PartInForce): readonly Stay[] {
  const peak = (at: number): number => part.exposures[at]?.sums.hist.centiC.at(-1) ?? -Infinity;
  const order = part.ways.map((_, at) => at).sort((a, b) => peak(b) - peak(a) || a - b);
  return part.ways[order[0] ?? 0] ?? [];
}

export async function drawPart(
  tx: Tx,
  computed: ComputedLot,
  parts: readonly PartInForce[],
  nameOf: (accountId: string | null) => Where,
  nowMs: number,
): Promise<string> {
  const chosen = worstOf(parts);
  const stays = warmestWay(chosen).filter(({ fromMs, toMs }) => toMs > fromMs);
  const segments = await exposureSegments(tx, stays);
  const places = stays.flatMap((stay) => (stay.subject === null ? [] : [{ ...stay, subject: stay.subject }]));
  const excursions = await listExcursionsAt(tx, places);
  const bands = bandsOf(stays, nameOf);
  const zone = computed.lot.siteTimeZone;
  const axis = timeAxis(computed, chosen, nowMs);
  return drawChart({
    title: `${computed.lot.itemName}, lot ${computed.lot.code}`,
    description: sentences(chosen, zone).join(' '),
    lines: sentences(chosen, zone).flatMap((text) => wrapped(text, 118)),
    panels: [
      temperaturePanel(chosen, { segments, bands, excursions }, axis),
      lifePanel(computed, chosen, segments, axis, nowMs),
    ],
    notes: notesOf(chosen, nowMs, zone).flatMap((text) => wrapped(text, 136)),
  });
}

const TIME = (zone: string) =>
  new Intl.DateTimeFormat('en-GB', {
    timeZone: zone,
    weekday: 'short',
    day: 'numeric',
    month: 'short',
    hour: '2-digit',
    minute: '2-digit',
    hourCycle: 'h23',
  });

const INSTANT = /\d{4}-\d\d-\d\dT[\d:.]+Z/g;

function sentences({ part, useByAtMs, where }: PartInForce, zone: string): string[] {
  const said = (atMs: number | null): string => (atMs === null ? 'none' : TIME(zone).format(atMs));
  const printed = part.limits.find(({ code }) => code === 'printed-use-by')?.endsAtMs ?? null;
  const { forbiddenBy, ruling } = part;
  const local = (text: string): string => text.replaceAll(INSTANT, (utc) => TIME(zone).format(Date.parse(utc)));
  const first = `${part.quantity} there: ${where.where}. Printed use-by ends ${said(printed)}; in force ${said(useByAtMs)}; computed ${said(part.effectiveAtMs)}.`;
  if (forbiddenBy) return [first, local(`Must not be eaten: ${forbiddenBy.label}. ${forbiddenBy.explanation}`)];
  return [first, ruling ? local(`Ruled by: ${ruling.label}. ${ruling.explanation}`) : 'Nothing limits it.'];
}

function notesOf({ part }: PartInForce, nowMs: number, zone: string): string[] {
  // what rules comes first
  const driving = part.limits.filter(
    ({ drives, endsAtMs, code }) => drives && endsAtMs !== null && code !== 'printed-use-by',
  );
  const sources = [...new Set(driving.map(({ label, source }) => `${label}: ${source}`))];
  const silent = part.limits.filter(({ drives, endsAtMs }) => !drives && endsAtMs !== null);
  return [
    `As recorded ${TIME(zone).format(nowMs)} (${zone}). Decision support for trained staff; the quality lead decides. Nothing is lengthened by itself.`,
    ...(part.ways.length > 1
      ? [`Food of ${part.ways.length} histories lies together; the one with the warmest moment is drawn.`]
      : []),
    ...(part.presumed ? ['Nobody has seen it where it is presumed to be: what happened there condemns nothing.'] : []),
    ...(silent.length > 0 ? [`Told, and driving nothing: ${silent.map(({ label }) => label).join('; ')}.`] : []),
    ...sources.slice(0, MOST_SOURCES).map((source) => `Source. ${source}.`),
    ...(sources.length > MOST_SOURCES ? ['The JSON answer of the same request says all limits and sources.'] : []),
  ];
}

interface Band {
  readonly fromMs: number;
  readonly toMs: number;
  readonly name: string;
  readonly fill: string;
}

/** Stays in a row, shaded in turn; neighbours of one name are one. */
function bandsOf(stays: readonly Stay[], nameOf: (accountId: string | null) => Where): Band[] {
  const out: Band[] = [];
  for (const { accountId, fromMs, toMs } of stays) {
    const name = nameOf(accountId).where;
    const last = out.at(-1);
    if (last?.name === name) out[out.length - 1] = { ...last, toMs };
    else out.push({ fromMs, toMs, name, fill: BANDS[out.length % 2] as string });
  }
  return out;
}

interface Point {
  readonly atMs: number;
  readonly value: number;
  /** a number for each stretch that is seen, or not seen, throughout */
  readonly run: number;
  readonly seen: boolean;
}

/** Steps as points; where there are too many, the warmest and the coldest of each stretch of the picture. */
function pointsOf(segments: readonly Segment[]): Point[] {
  const all: Point[] = [];
  let run = 0;
  segments.forEach(({ fromMs, toMs, centiC, monitored }, at) => {
    if (at > 0 && segments[at - 1]?.monitored !== monitored) run += 1;
    const value = centiC / 100;
    all.push({ atMs: fromMs, value, run, seen: monitored }, { atMs: toMs, value, run, seen: monitored });
  });
  if (all.length <= MOST_POINTS) return all;
  const [startMs, endMs] = [all[0]?.atMs ?? 0, all.at(-1)?.atMs ?? 0];
  const widthMs = (endMs - startMs) / (MOST_POINTS / 2);
  const thinned: Point[] = [];
  for (let at = 0; at < all.length;) {
    const first = all[at] as Point;
    const bucket = Math.floor((first.atMs - startMs) / widthMs);
    let end = at;
    while (
      end < all.length &&
      Math.floor(((all[end] as Point).atMs - startMs) / widthMs) === bucket &&
      all[end]?.run === first.run
    ) {
      end += 1;
    }
    const group = all.slice(at, end);
    const byValue = [...group].sort((a, b) => a.value - b.value);
    const ends = [byValue[0] as Point, byValue.at(-1) as Point].sort((a, b) => a.atMs - b.atMs);
    thinned.push(...ends);
    at = end;
  }
  return thinned;
}

/** Temperatures that limits of this part speak of, once each. */
function linesOf({ part }: PartInForce): { c: number; text: string }[] {
  const lines = new Map<number, string>();
  for (const { set } of part.policies) {
    for (const rule of set.rules) {
      const c = rule.numbers.aboveC?.value;
      const limit = part.limits.find(({ code, policySet }) => code === rule.code && policySet === set.code);
      if (typeof c === 'number' && limit) lines.set(c, `${c} °C${limit.drives ? '' : ', told only'}`);
    }
  }
  return [...lines].map(([c, text]) => ({ c, text }));
}

interface Drawn {
  readonly segments: readonly Segment[];
  readonly bands: readonly Band[];
  readonly excursions: readonly ExcursionRow[];
}

function temperaturePanel(
  chosen: PartInForce,
  { segments, bands, excursions }: Drawn,
  axis: Axis,
): Chart['panels'][number] {
  const points = pointsOf(segments);
  const limits = linesOf(chosen);
  const values = [...points.map(({ value }) => value), ...limits.map(({ c }) => c)];
  const lowest = Math.floor(Math.min(0, ...values));
  const highest = Math.ceil(Math.max(5, ...values));
  const top = highest + (highest - lowest) * 0.16;
  const [firstMs, lastMs] = [bands[0]?.fromMs ?? 0, bands.at(-1)?.toMs ?? 0];
  const shaded = excursions
    .map(({ startMs, endMs, seenToMs, peakCentiC }) => ({
      fromMs: Math.max(startMs, firstMs),
      toMs: Math.min(endMs ?? seenToMs, lastMs),
      text: `${(peakCentiC / 100).toFixed(1)} °C`,
    }))
    .filter(({ fromMs, toMs }) => toMs > fromMs);
  const x = ({ atMs }: Point) => axis.at(atMs);
  const named = bands.filter(({ fromMs, toMs, name }) => axis.px(toMs) - axis.px(fromMs) > name.length * 5.6 + 6);
  return {
    heading: 'Temperature, °C: broken line where nobody looked; shaded: excursions of the place or van',
    heightPx: 270,
    options: {
      ...MARGINS,
      x: { ...axis.scale, label: null },
      y: { domain: [lowest, top], grid: true, label: null, ticks: 8 },
      marks: [
        plot.rectX(bands, {
          x1: (one: Band) => axis.at(one.fromMs),
          x2: (one: Band) => axis.at(one.toMs),
          y1: lowest,
          y2: top,
          fill: 'fill',
        }),
        plot.rectX(shaded, {
          x1: (one: { fromMs: number }) => axis.at(one.fromMs),
          x2: (one: { toMs: number }) => axis.at(one.toMs),
          y1: lowest,
          y2: top,
          fill: EXCURSION,
        }),
        plot.text(named, {
          x: (one: Band) => axis.at((one.fromMs + one.toMs) / 2),
          y: top,
          text: 'name',
          dy: 9,
          fill: SOFT_INK,
          fontSize: 10.5,
        }),
        plot.ruleY(limits, { y: 'c', stroke: LIMIT, strokeDasharray: '2 3', strokeOpacity: 0.8 }),
        plot.text(limits, {
          y: 'c',
          text: 'text',
          frameAnchor: 'right',
          dx: -4,
          dy: -7,
          textAnchor: 'end',
          fill: LIMIT,
          fontSize: 10.5,
        }),
        plot.lineY(
          points.filter(({ seen }) => seen),
          { x, y: 'value', z: 'run', stroke: LINE, strokeWidth: 1.8 },
        ),
        plot.lineY(
          points.filter(({ seen }) => !seen),
          { x, y: 'value', z: 'run', stroke: UNSEEN, strokeWidth: 1.6, strokeDasharray: '4 3' },
        ),
        plot.text(shaded, {
          x: (one: { fromMs: number; toMs: number }) => axis.at((one.fromMs + one.toMs) / 2),
          y: top,
          text: 'text',
          dy: 24,
          fill: INK,
          fontWeight: 'bold',
          stroke: '#ffffff',
          strokeWidth: 4,
        }),
        plot.frame({ stroke: '#c9ced3' }),
      ],
    },
  };
}
