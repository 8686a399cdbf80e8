/**
 * What a stretch of time came to: whole milliseconds at each hundredth of a degree, unmonitored time, and runs above thresholds. Sums
 * add and runs join, so days that are summed once need not be read again: incremental equals from scratch, bit for bit.
 */
import { joinRuns, NO_RUN, type Run } from './runs.ts';
import type { Segment } from './shapes.ts';

/** Thresholds that rules ask about, in hundredths of a degree: 3, 5, 8 and 10 °C. The subject's own limit comes beside them. */
export const THRESHOLDS_CENTI_C: readonly number[] = [300, 500, 800, 1000];

/** Milliseconds at each temperature, by temperature. */
export interface Histogram {
  readonly centiC: readonly number[];
  readonly ms: readonly number[];
}

/** Time strictly above one threshold. */
interface RunsAbove {
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

const PAGE_BITS = 8;
const PAGE = 1 << PAGE_BITS;
const PAGES = 65_536 / PAGE;

/** Adds milliseconds by temperature; a page for every 2.56 degrees that occur. `take` empties it. */
interface Bins {
  add(centiC: number, ms: number): void;
  take(): Histogram;
}

function createBins(): Bins {
  const pages: (Float64Array | undefined)[] = Array.from({ length: PAGES });
  return {
    add(centiC, ms) {
      const no = (centiC >> PAGE_BITS) + PAGES / 2;
      const page = (pages[no] ??= new Float64Array(PAGE));
      const at = centiC & (PAGE - 1);
      page[at] = (page[at] as number) + ms;
    },
    take() {
      const centiC: number[] = [];
      const ms: number[] = [];
      for (let no = 0; no < PAGES; no += 1) {
        const page = pages[no];
        if (!page) continue;
        for (let at = 0; at < PAGE; at += 1) {
          const sum = page[at] as number;
          if (sum === 0) continue;
          centiC.push((no - PAGES / 2) * PAGE + at);
          ms.push(sum);
          page[at] = 0;
        }
      }
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

/** Runs that are still growing, in columns: a stretch more is a few additions, however many thresholds. */
interface Runs {
  /** one that is above throughout, or not at all */
  add(at: number, above: boolean, moreMs: number): void;
  join(at: number, run: Run, moreMs: number): void;
  /** after all of one stretch have been added or joined */
  pass(moreMs: number): void;
  take(): Run[];
}

function createRuns(count: number): Runs {
  let spanMs = 0;
  const leadingMs = new Float64Array(count);
  const trailingMs = new Float64Array(count);
  const longestMs = new Float64Array(count);
  const totalMs = new Float64Array(count);
  return {
    add(at, above, moreMs) {
      if (!above) {
        trailingMs[at] = 0;
        return;
      }
      if (leadingMs[at] === spanMs) leadingMs[at] = spanMs + moreMs;
      const trailing = (trailingMs[at] as number) + moreMs;
      trailingMs[at] = trailing;
      totalMs[at] = (totalMs[at] as number) + moreMs;
      if (trailing > (longestMs[at] as number)) longestMs[at] = trailing;
    },
    join(at, run, moreMs) {
      const joined = joinRuns(
        {
          leadingMs: leadingMs[at] as number,
          trailingMs: trailingMs[at] as number,
          longestMs: longestMs[at] as number,
          totalMs: totalMs[at] as number,
        },
        spanMs,
        run,
        moreMs,
      );
      leadingMs[at] = joined.leadingMs;
      trailingMs[at] = joined.trailingMs;
      longestMs[at] = joined.longestMs;
      totalMs[at] = joined.totalMs;
    },
    pass: (moreMs) => void (spanMs += moreMs),
    take() {
      const runs = Array.from({ length: count }, (_, at) => ({
        leadingMs: leadingMs[at] as number,
        trailingMs: trailingMs[at] as number,
        longestMs: longestMs[at] as number,
        totalMs: totalMs[at] as number,
      }));
      for (const column of [leadingMs, trailingMs, longestMs, totalMs]) column.fill(0);
      spanMs = 0;
      return runs;
    },
  };
}

/** Not for sharing between computations that are under way at once. */
export function createAdder(): Adder {
  const hist = createBins();
  const unmonitored = createBins();
  const count = THRESHOLDS_CENTI_C.length + 1;
  const [counted, monitored] = [createRuns(count), createRuns(count)];
  let spanMs = 0;
  function pass(moreMs: number): void {
    counted.pass(moreMs);
    monitored.pass(moreMs);
    spanMs += moreMs;
  }
  return {
    segment(moreMs, centiC, seen, ownCentiC) {
      // Without length it would still end a run.
      if (moreMs <= 0) return;
      hist.add(centiC, moreMs);
      if (!seen) unmonitored.add(centiC, moreMs);
      for (let at = 0; at < count; at += 1) {
        const above = centiC > (THRESHOLDS_CENTI_C[at] ?? ownCentiC);
        counted.add(at, above, moreMs);
        monitored.add(at, above && seen, moreMs);
      }
      pass(moreMs);
    },
    sums(more) {
      for (let at = 0; at < more.hist.centiC.length; at += 1) {
        hist.add(more.hist.centiC[at] as number, more.hist.ms[at] as number);
      }
      for (let at = 0; at < more.unmonitored.centiC.length; at += 1) {
        unmonitored.add(more.unmonitored.centiC[at] as number, more.unmonitored.ms[at] as number);
      }
      for (let at = 0; at < count; at += 1) {
        const runs = more.runs[at] as RunsAbove;
        counted.join(at, runs.counted, more.spanMs);
        monitored.join(at, runs.monitored, more.spanMs);
      }
      pass(more.spanMs);
    },
    take() {
      const seenRuns = monitored.take();
      const runs = counted.take().map((run, at) => ({ counted: run, monitored: seenRuns[at] ?? NO_RUN }));
      const answer = { spanMs, hist: hist.take(), unmonitored: unmonitored.take(), runs };
      spanMs = 0;
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
