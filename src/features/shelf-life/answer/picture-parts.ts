/** What both panels of the picture share: the axis of the site's own time, colours, lines of words. */
import { wallClockMs } from '../../../domain/time.ts';
import type { Chart } from '../../../platform/charts.ts';
import type { ComputedLot } from '../limits/compute.ts';
import type { PartInForce } from './parts.ts';

export const INK = '#1c2126';
export const SOFT_INK = '#4b545c';
export const MARGINS = { marginLeft: 46, marginRight: 16, marginTop: 10, marginBottom: 34 };

const DAY_MS = 86_400_000;
const INNER_WIDTH_PX = 750;

export interface Axis {
  readonly scale: NonNullable<Chart['panels'][number]['options']['x']>;
  /** on the axis, whose UTC reads as the site's clock */
  readonly at: (ms: number) => Date;
  /** about how many pixels from the left */
  readonly px: (ms: number) => number;
  readonly endMs: number;
}

const DAY = new Intl.DateTimeFormat('en-GB', { timeZone: 'UTC', weekday: 'short', day: 'numeric', month: 'short' });

/** From birth until its end has come, but never so far that what happened shrinks to nothing; food that is over stays in view. */
export function timeAxis({ facts, lot }: ComputedLot, { part, useByAtMs }: PartInForce, nowMs: number): Axis {
  const ends = [part.effectiveAtMs, useByAtMs].flatMap((one) => one ?? []);
  const pastMs = Math.max(nowMs - facts.bornAtMs, DAY_MS / 4);
  const lastMs = Math.min(nowMs + 3 * pastMs, ...(ends.length === 0 ? [nowMs] : [Math.max(...ends)]));
  const endMs = Math.max(lastMs + pastMs * 0.03, nowMs + pastMs * 0.25);
  const at = (ms: number) => new Date(wallClockMs(ms, lot.siteTimeZone));
  const spanMs = endMs - facts.bornAtMs;
  return {
    at,
    px: (ms) => ((ms - facts.bornAtMs) / spanMs) * INNER_WIDTH_PX,
    endMs,
    scale: {
      type: 'utc',
      domain: [at(facts.bornAtMs), at(endMs)],
      label: `Local time, ${lot.siteTimeZone}, ${at(facts.bornAtMs).getUTCFullYear()}`,
      labelArrow: 'none',
      labelAnchor: 'center',
      ticks: 8,
      tickFormat: (tick: Date) => (tick.getTime() % DAY_MS === 0 ? DAY.format(tick) : tick.toISOString().slice(11, 16)),
    },
  };
}

/** Lines of at most so many characters, broken between words. */
export function wrapped(text: string, most: number): string[] {
  const lines: string[] = [];
  for (const word of text.split(' ')) {
    const last = lines.at(-1);
    if (last !== undefined && last.length + word.length < most) lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
  }
  return lines;
}
