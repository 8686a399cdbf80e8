/** The only reader of the time. Everything else is given a clock. */
export interface Clock {
  /** milliseconds since the Unix epoch */
  nowMs(): number;
}

export const systemClock: Clock = { nowMs: () => Date.now() };

/** Elapsed time for logs and metrics; never stored. Seconds. */
export function stopwatch(): () => number {
  const startedAt = performance.now();
  return () => (performance.now() - startedAt) / 1000;
}
