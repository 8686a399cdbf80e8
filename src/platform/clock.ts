/** The only reader of the time. Everything else is given a clock. */
export interface Clock {
  /** milliseconds since the Unix epoch */
  nowMs(): number;
}

export const systemClock: Clock = { nowMs: () => Date.now() };

/** Elapsed time in seconds: for logs and metrics, and for how long finding a recall's scope took. No moment can be told from it. */
export function stopwatch(): () => number {
  const startedAt = performance.now();
  return () => (performance.now() - startedAt) / 1000;
}
