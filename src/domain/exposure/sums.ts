/**
 * What a stretch of time came to: whole milliseconds at each hundredth of a degree, unmonitored time, and runs above thresholds. Sums
 * add and runs join, so days that are summed once need not be read again: incremental equals from scratch, bit for bit.
 */
import { joinRuns, NO_RUN, runOf, type Run } from './runs.ts';
import type { Segment } from './shapes.ts';

/** Thresholds that rules ask about, in hundredths of a degree: 3, 5, 8 and 10 °C. The subject's own limit comes beside them. */
export const THRESHOLDS_CENTI_C: readonly number[] = [300, 500, 800, 1000];

/** Milliseconds at each temperature, by temperature. */
export interface Histogram {
  readonly centiC: readonly number[];
  readonly ms: readonly number[];
}

/** Time strictly above one threshold. */
export interface RunsAbove {
  /** with unmonitored time at the level that it counts at */
  readonly counted: Run;
  /** what sensors saw; unmonitored time is not above */
  readonly monitored: Run;
}

export interface Sums {
  readonly spanMs: number;
  readonly hist: Histogram;
  /** the unmonitored part of hist once more */
  readonly unmonitored: Histogram;
  /** by THRESHOLDS_CENTI_C, and last above the subject's own limit */
  readonly runs: readonly RunsAbove[];
}

const LOWEST = -32_768;
const SIZE = 65_536;

/** Adds milliseconds by temperature. One for many uses: `take` empties it. */
interface Bins {
  add(centiC: number, ms: number): void;
  take(): Histogram;
}

function createBins(): Bins {
  const sums = new Float64Array(SIZE);
  let used: number[] = [];
  return {
    add(centiC, ms) {
      const at = centiC - LOWEST;
      if (sums[at] === 0 && ms > 0) used.push(at);
      sums[at] = (sums[at] as number) + ms;
    },
    take() {
      const order = Float64Array.from(used).sort();
      const centiC = Array.from(order, (at) => at + LOWEST);
      const ms = Array.from(order, (at) => sums[at] as number);
      for (const at of used) sums[at] = 0;
      used = [];
      return { centiC, ms };
    },
  };
}

/** Adds stretches that follow each other. */
export interface Adder {
  /** ownCentiC: the subject's own limit at that time */
  segment(spanMs: number, centiC: number, monitored: boolean, ownCentiC: number): void;
  sums(sums: Sums): void;
  /** what it came to; begins anew */
  take(): Sums;
}

interface RunPair {
  counted: Run;
  monitored: Run;
}

/** Not for sharing between computations that are under way at once. */
export function createAdder(): Adder {
  const hist = createBins();
  const unmonitored = createBins();
  const fresh = (): RunPair[] =>
    Array.from({ length: THRESHOLDS_CENTI_C.length + 1 }, () => ({ counted: NO_RUN, monitored: NO_RUN }));
  let spanMs = 0;
  let runs = fresh();
  function join(index: number, counted: Run, monitored: Run, moreMs: number): void {
    const pair = runs[index] as RunPair;
    pair.counted = joinRuns(pair.counted, spanMs, counted, moreMs);
    pair.monitored = joinRuns(pair.monitored, spanMs, monitored, moreMs);
  }
  return {
    segment(moreMs, centiC, monitored, ownCentiC) {
      hist.add(centiC, moreMs);
      if (!monitored) unmonitored.add(centiC, moreMs);
      for (let index = 0; index < runs.length; index += 1) {
        const above = centiC > (THRESHOLDS_CENTI_C[index] ?? ownCentiC);
        join(index, runOf(above, moreMs), runOf(above && monitored, moreMs), moreMs);
      }
      spanMs += moreMs;
    },
    sums(more) {
      for (let at = 0; at < more.hist.centiC.length; at += 1) {
        hist.add(more.hist.centiC[at] as number, more.hist.ms[at] as number);
      }
      for (let at = 0; at < more.unmonitored.centiC.length; at += 1) {
        unmonitored.add(more.unmonitored.centiC[at] as number, more.unmonitored.ms[at] as number);
      }
      for (let index = 0; index < runs.length; index += 1) {
        const pair = more.runs[index] as RunsAbove;
        join(index, pair.counted, pair.monitored, more.spanMs);
      }
      spanMs += more.spanMs;
    },
    take() {
      const answer = { spanMs, hist: hist.take(), unmonitored: unmonitored.take(), runs };
      spanMs = 0;
      runs = fresh();
      return answer;
    },
  };
}

/** From scratch. */
export function sumsOf(segments: readonly Segment[], ownCentiC: number): Sums {
  const adder = createAdder();
  for (const one of segments) adder.segment(one.toMs - one.fromMs, one.centiC, one.monitored, ownCentiC);
  return adder.take();
}

export function totalMs(histogram: Histogram): number {
  return histogram.ms.reduce((sum, ms) => sum + ms, 0);
}
