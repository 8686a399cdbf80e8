/**
 * Open-loop load: requests are due at a constant rate, and each one's time counts from when it was due, so that a slow answer that keeps
 * the next one waiting is paid for by both.
 */
interface Latencies {
  readonly requests: number;
  readonly perSecond: number;
  readonly p50Ms: number;
  readonly p99Ms: number;
  readonly maxMs: number;
}

export async function loadOpenly(
  { requests, perSecond }: { requests: number; perSecond: number },
  send: (no: number) => Promise<void>,
): Promise<Latencies> {
  const startMs = performance.now() + 50;
  const one = async (no: number): Promise<number> => {
    const dueMs = startMs + (no * 1000) / perSecond;
    await new Promise((resolve) => setTimeout(resolve, Math.max(0, dueMs - performance.now())));
    await send(no);
    return performance.now() - dueMs;
  };
  const tookMs = await Promise.all(Array.from({ length: requests }, (_, no) => one(no)));
  tookMs.sort((a, b) => a - b);
  const at = (share: number): number => Math.round((tookMs[Math.ceil(share * requests) - 1] ?? Number.NaN) * 100) / 100;
  return { requests, perSecond, p50Ms: at(0.5), p99Ms: at(0.99), maxMs: at(1) };
}
