/** How long without a break it was warmer than a threshold. Runs of stretches that follow each other join, so whole days need no second look. */

export interface Run {
  /** ms above the threshold from the start of the stretch on; the whole stretch when it never went below */
  readonly leadingMs: number;
  /** ms above it up to the end of the stretch */
  readonly trailingMs: number;
  readonly longestMs: number;
  readonly totalMs: number;
}

export const NO_RUN: Run = { leadingMs: 0, trailingMs: 0, longestMs: 0, totalMs: 0 };

/** Two stretches, the second right after the first. */
export function joinRuns(a: Run, aSpanMs: number, b: Run, bSpanMs: number): Run {
  return {
    leadingMs: a.leadingMs === aSpanMs ? aSpanMs + b.leadingMs : a.leadingMs,
    trailingMs: b.trailingMs === bSpanMs ? a.trailingMs + bSpanMs : b.trailingMs,
    longestMs: Math.max(a.longestMs, b.longestMs, a.trailingMs + b.leadingMs),
    totalMs: a.totalMs + b.totalMs,
  };
}
