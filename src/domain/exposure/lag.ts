/**
 * From air to food, where somebody validated how much later food follows: food is warm only after the air was warm for the whole lag, and
 * stays warm as long after. food(t) = the most, over s in [t - lag, t], of the least that the air was in [s - lag, s].
 *
 * A door that opens for less than the lag leaves food as it was; two warm hours of air are two warm hours of food, one lag later. It cools as late as it
 * warms, which is the cautious way.
 */
import { append, type Segment } from './shapes.ts';

/**
 * The least or the most of a list over the window [t - windowMs, t], for t from its start plus windowMs on. What is monitored and what is in doubt
 * at t is as it was in the list.
 */
function slide(air: readonly Segment[], windowMs: number, pick: (a: number, b: number) => number): Segment[] {
  const first = air[0];
  const last = air.at(-1);
  if (!first || !last) return [];
  const startMs = first.fromMs + windowMs;
  const times = new Set([startMs, last.toMs]);
  for (const one of air) {
    times.add(one.fromMs);
    times.add(one.fromMs + windowMs);
  }
  const moments = Float64Array.from(times)
    .sort()
    .filter((one) => one >= startMs && one <= last.toMs);
  const out: Segment[] = [];
  let back = 0;
  let here = 0;
  for (let index = 0; index + 1 < moments.length; index += 1) {
    const [fromMs, toMs] = [moments[index] as number, moments[index + 1] as number];
    while ((air[here] as Segment).toMs <= fromMs) here += 1;
    while ((air[back] as Segment).toMs <= fromMs - windowMs) back += 1;
    let centiC = (air[back] as Segment).centiC;
    for (let at = back + 1; at <= here; at += 1) centiC = pick(centiC, (air[at] as Segment).centiC);
    const { monitored, doubt } = air[here] as Segment;
    append(out, { fromMs, toMs, centiC, monitored, doubt });
  }
  return out;
}

/** `air` begins two lags before the answer does. */
export function foodOf(air: readonly Segment[], lagMs: number): Segment[] {
  if (lagMs === 0) return [...air];
  return slide(slide(air, lagMs, Math.min), lagMs, Math.max);
}

/** Where both see, the warmer; where one sees, what it sees; where neither does, the warmer. Both cover the same time. */
export function warmerOf(a: readonly Segment[], b: readonly Segment[]): Segment[] {
  const out: Segment[] = [];
  let [i, j] = [0, 0];
  while (i < a.length && j < b.length) {
    const [x, y] = [a[i] as Segment, b[j] as Segment];
    const fromMs = Math.max(x.fromMs, y.fromMs);
    const toMs = Math.min(x.toMs, y.toMs);
    const better = x.monitored === y.monitored ? (x.centiC >= y.centiC ? x : y) : x.monitored ? x : y;
    append(out, { ...better, fromMs, toMs });
    if (x.toMs === toMs) i += 1;
    if (y.toMs === toMs) j += 1;
  }
  return out;
}
