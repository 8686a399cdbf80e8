/** When something happened in what food went through. Thresholds in hundredths of a degree Celsius; above means strictly above. */
import { THRESHOLDS_CENTI_C, type Sums } from '../exposure/sums.ts';
import type { Segment } from '../exposure/shapes.ts';

/** Strictly above it, counted time, by the sums alone. */
export function totalAboveMs({ hist }: Sums, centiC: number): number {
  return hist.centiC.reduce((sum, at, index) => sum + (at > centiC ? (hist.ms[index] as number) : 0), 0);
}

/** The longest stretch above it, by the sums; at most the total where the threshold is not one that is kept. */
export function longestAboveMs(sums: Sums, centiC: number): number {
  const at = THRESHOLDS_CENTI_C.indexOf(centiC);
  return at === -1 ? totalAboveMs(sums, centiC) : (sums.runs[at]?.counted.longestMs ?? 0);
}

export function peakCentiC({ hist }: Sums): number | null {
  return hist.centiC.at(-1) ?? null;
}

export interface Stretch {
  readonly fromMs: number;
  readonly toMs: number;
  /** rests on unmonitored time in part */
  readonly unmonitored: boolean;
  readonly doubt: boolean;
}

/** Stretches above it, in order. */
export function stretchesAbove(segments: readonly Segment[], centiC: number): Stretch[] {
  const out: Stretch[] = [];
  for (const one of segments) {
    if (one.centiC <= centiC) continue;
    const last = out.at(-1);
    if (last?.toMs === one.fromMs) {
      const unmonitored = last.unmonitored || !one.monitored;
      out[out.length - 1] = { ...last, toMs: one.toMs, unmonitored, doubt: last.doubt || one.doubt };
    } else out.push({ fromMs: one.fromMs, toMs: one.toMs, unmonitored: !one.monitored, doubt: one.doubt });
  }
  return out;
}

/** The first stretch above it that lasted longer than a tolerance. */
export function firstLonger(segments: readonly Segment[], centiC: number, toleranceMs: number): Stretch | null {
  return stretchesAbove(segments, centiC).find(({ fromMs, toMs }) => toMs - fromMs > toleranceMs) ?? null;
}

/** The moment at which the time above it, added up, came to so much; null when it has not. */
export function reachedAbove(segments: readonly Segment[], centiC: number, ms: number): number | null {
  let sum = 0;
  for (const { fromMs, toMs, centiC: at } of segments) {
    if (at <= centiC) continue;
    if (sum + toMs - fromMs >= ms) return fromMs + ms - sum;
    sum += toMs - fromMs;
  }
  return null;
}
