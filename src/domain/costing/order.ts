/**
 * The order in which processes are reckoned: each after those that made what went into it. Late entries can make food its own origin;
 * such a circle is cut at the taking that closed it, the last to be recorded of those that are in it.
 */
import type { CostTaking } from './shapes.ts';

/** A taking by position of the process that made the lot and of the one that it went into. */
interface Arc {
  readonly from: number;
  readonly to: number;
  readonly taking: CostTaking;
}

export interface Order {
  /** positions of processes */
  readonly order: readonly number[];
  readonly closing: ReadonlySet<CostTaking>;
}

/**
 * @param count how many processes
 * @param arcs takings of lots that were made by one of the processes
 */
export function orderProcesses(count: number, arcs: readonly Arc[]): Order {
  const out: Arc[][] = Array.from({ length: count }, () => []);
  for (const arc of arcs) out[arc.from]?.push(arc);
  const closing = new Set<CostTaking>();
  let order = layOut(count, out, closing);
  if (order.length < count) {
    for (const taking of closingOf(count, order, arcs)) closing.add(taking);
    order = layOut(count, out, closing);
  }
  if (order.length < count) throw new Error('a circle of processes was not cut');
  return { order, closing };
}

function layOut(count: number, out: readonly (readonly Arc[])[], closing: ReadonlySet<CostTaking>): number[] {
  const waits = new Int32Array(count);
  for (const arcs of out)
    for (const arc of arcs) if (!closing.has(arc.taking)) waits[arc.to] = (waits[arc.to] ?? 0) + 1;
  const order: number[] = [];
  for (let at = 0; at < count; at += 1) if (waits[at] === 0) order.push(at);
  for (const at of order) {
    for (const arc of out[at] ?? []) {
      if (closing.has(arc.taking)) continue;
      const left = (waits[arc.to] ?? 0) - 1;
      waits[arc.to] = left;
      if (left === 0) order.push(arc.to);
    }
  }
  return order;
}

/** Of what is in a circle or behind one: takings in the order in which they were recorded, each kept unless it closes a circle. */
function closingOf(count: number, ordered: readonly number[], arcs: readonly Arc[]): CostTaking[] {
  const done = new Uint8Array(count);
  for (const at of ordered) done[at] = 1;
  const open = arcs.filter((arc) => done[arc.from] === 0 && done[arc.to] === 0).sort(byRecord);
  const kept = new Map<number, number[]>();
  const closing: CostTaking[] = [];
  for (const { from, to, taking } of open) {
    if (leads(kept, to, from)) closing.push(taking);
    else kept.set(from, [...(kept.get(from) ?? []), to]);
  }
  return closing;
}

function byRecord(a: Arc, b: Arc): number {
  if (a.taking.firstSeq !== b.taking.firstSeq) return a.taking.firstSeq - b.taking.firstSeq;
  if (a.taking.lotId !== b.taking.lotId) return a.taking.lotId < b.taking.lotId ? -1 : 1;
  return a.taking.processId < b.taking.processId ? -1 : 1;
}

function leads(kept: ReadonlyMap<number, readonly number[]>, from: number, to: number): boolean {
  const seen = new Set([from]);
  for (const at of seen) {
    if (at === to) return true;
    for (const next of kept.get(at) ?? []) seen.add(next);
  }
  return false;
}
