/**
 * How many boxes should be at a site, from what was counted and what moved. Pure: a function of the set of facts, so late facts in any
 * order give the same figures.
 */

export interface BoxCount {
  readonly countId: string;
  readonly occurredAtMs: number;
  readonly quantity: number;
}

/** One movement as the site sees it. */
export interface BoxFlow {
  readonly occurredAtMs: number;
  /** above zero: came; below: left */
  readonly quantity: number;
}

export interface BoxBalance {
  /** below zero: more left than was ever counted or came */
  readonly shouldBe: number;
  readonly lastCount: (BoxCount & { readonly shouldHaveBeen: number; readonly difference: number }) | null;
  readonly cameSince: number;
  readonly leftSince: number;
  readonly lastCameAtMs: number | null;
  readonly lastLeftAtMs: number | null;
}

const latest = (flows: readonly BoxFlow[]): number | null =>
  flows.length === 0 ? null : flows.reduce((most, flow) => Math.max(most, flow.occurredAtMs), -Infinity);

/**
 * A count says what is there at its time: what moved until then, at the same moment too, is in it. Of two counts of one moment the one
 * with the higher id stands. Before the first count a site has what came less what left.
 */
export function boxBalance(counts: readonly BoxCount[], flows: readonly BoxFlow[]): BoxBalance {
  const ordered = [...counts].sort((a, b) => a.occurredAtMs - b.occurredAtMs || (a.countId < b.countId ? -1 : 1));
  const [before, last] = [ordered.at(-2), ordered.at(-1)];
  const moved = (afterMs: number, untilMs: number) =>
    flows
      .filter((flow) => flow.occurredAtMs > afterMs && flow.occurredAtMs <= untilMs)
      .reduce((sum, flow) => sum + flow.quantity, 0);
  const since = flows.filter((flow) => flow.occurredAtMs > (last?.occurredAtMs ?? -Infinity));
  const came = since.filter((flow) => flow.quantity > 0);
  const left = since.filter((flow) => flow.quantity < 0);
  const cameSince = came.reduce((sum, flow) => sum + flow.quantity, 0);
  const leftSince = left.reduce((sum, flow) => sum - flow.quantity, 0);
  const shouldHaveBeen = last
    ? (before?.quantity ?? 0) + moved(before?.occurredAtMs ?? -Infinity, last.occurredAtMs)
    : 0;
  return {
    shouldBe: (last?.quantity ?? 0) + cameSince - leftSince,
    lastCount: last ? { ...last, shouldHaveBeen, difference: last.quantity - shouldHaveBeen } : null,
    cameSince,
    leftSince,
    lastCameAtMs: latest(flows.filter((flow) => flow.quantity > 0)),
    lastLeftAtMs: latest(flows.filter((flow) => flow.quantity < 0)),
  };
}
