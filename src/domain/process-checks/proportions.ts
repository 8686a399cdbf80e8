/**
 * Control chart of proportions (p-chart) for samples of different sizes: the mean proportion of all samples, and for each its limits
 * mean ± 3 x sqrt(mean (1 - mean) / n), never below 0 or above 1. Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2,
 * Proportions control charts (second-hand: read through texts that cite its example; the formula is the usual one).
 */

/** Fewer samples than this give no limits: one that is far off would pull the mean to itself (common practice). */
const LEAST_SAMPLES = 5;
/** Below it the limits are rough: a count that small is not close to a normal one (common practice). */
const LEAST_EXPECTED = 5;

export interface Sample {
  /** how many there were, above zero */
  readonly n: number;
  readonly bad: number;
}

export interface Judged {
  readonly lower: number;
  readonly upper: number;
  /** outside the limits, on which side */
  readonly side: 'above' | 'below' | null;
  /** fewer than five bad ones were to be expected: read the limits with care */
  readonly rough: boolean;
}

/** Bad ones of all; null without samples. */
export function meanProportion(samples: readonly Sample[]): number | null {
  const n = samples.reduce((sum, sample) => sum + sample.n, 0);
  return n === 0 ? null : samples.reduce((sum, sample) => sum + sample.bad, 0) / n;
}

/** Each sample against the mean of all; null for all of them when there are fewer than five. */
export function judgeProportions(samples: readonly Sample[]): (Judged | null)[] {
  const mean = meanProportion(samples);
  if (mean === null || samples.length < LEAST_SAMPLES) return samples.map(() => null);
  return samples.map(({ n, bad }) => {
    const spread = 3 * Math.sqrt((mean * (1 - mean)) / n);
    const lower = Math.max(0, mean - spread);
    const upper = Math.min(1, mean + spread);
    const share = bad / n;
    const side = share > upper ? 'above' : share < lower ? 'below' : null;
    return { lower, upper, side, rough: n * mean < LEAST_EXPECTED };
  });
}
