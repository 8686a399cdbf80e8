/**
 * Before it happens: what a recall would take with it, for many possible roots at once. The lots of a window are put into arrays once, and
 * every root is walked forward in them; a walk of some ten thousand lots takes about a millisecond.
 *
 * Refusals: `too-many-steps`, as a value, when all walks together go beyond the bound.
 */

export interface ExposureEdge {
  readonly parentLotId: string;
  readonly childLotId: string;
  readonly processId: string;
}

/** What of one lot a recall would find, in the lot itself and not in another lot. */
export interface ExposedLot {
  readonly lotId: string;
  /** packs on hand or on the road */
  readonly packsThere: number;
  readonly packsGone: number;
  /** minor units, near enough to rank by */
  readonly valueThere: number;
  /** where it is, is going to, or was served or thrown away */
  readonly siteIds: readonly string[];
}

/** A root, or several that are recalled together, as the loads of one batch. */
export interface Candidate {
  readonly key: string;
  readonly lotIds: readonly string[];
}

export type ExposureMeasure = 'packs' | 'sites' | 'value';

export interface RankedCandidate {
  readonly key: string;
  /** the roots and everything made from them */
  readonly lotIds: readonly string[];
  readonly packsThere: number;
  readonly packsGone: number;
  readonly valueThere: number;
  readonly siteCount: number;
}

/** Where food of a root met other food, or came out as several lots. */
export interface Spread {
  readonly processId: string;
  readonly inputLots: number;
  readonly outputLots: number;
  /** of the packs that the recall would reach, gone ones included */
  readonly packsThrough: number;
  /** of the lots that went in, those that the recall would reach */
  readonly reachedInputIds: readonly string[];
}

export interface FoodGraph {
  readonly lots: readonly ExposedLot[];
  readonly at: ReadonlyMap<string, number>;
  /** children of lot n: child[start[n]] up to child[start[n + 1]], and the process of each */
  readonly start: Int32Array;
  readonly child: Int32Array;
  readonly process: Int32Array;
  readonly processIds: readonly string[];
  /** by process: lots in and lots out, each once */
  readonly inputs: readonly ReadonlySet<number>[];
  readonly outputs: readonly ReadonlySet<number>[];
}

/** Edges followed by all walks of one ranking: about a second. */
const MOST_STEPS = 20_000_000;

/** Processes whose packs are counted, of each root: those with the most lots in and out, among those nearest to it and among all. */
const PROCESSES_LOOKED_AT = 12;

export function foodGraph(lots: readonly ExposedLot[], edges: readonly ExposureEdge[]): FoodGraph {
  const at = new Map(lots.map((lot, index) => [lot.lotId, index]));
  const processAt = new Map<string, number>();
  const inputs: Set<number>[] = [];
  const outputs: Set<number>[] = [];
  const known = edges.flatMap(({ parentLotId, childLotId, processId }) => {
    const parent = at.get(parentLotId);
    const child = at.get(childLotId);
    if (parent === undefined || child === undefined) return [];
    const process = processAt.get(processId) ?? processAt.size;
    processAt.set(processId, process);
    (inputs[process] ??= new Set()).add(parent);
    (outputs[process] ??= new Set()).add(child);
    return [{ parent, child, process }];
  });
  const start = new Int32Array(lots.length + 1);
  for (const { parent } of known) start[parent + 1] = (start[parent + 1] ?? 0) + 1;
  for (let n = 0; n < lots.length; n += 1) start[n + 1] = (start[n + 1] ?? 0) + (start[n] ?? 0);
  const next = start.slice();
  const child = new Int32Array(known.length);
  const process = new Int32Array(known.length);
  for (const edge of known) {
    const place = next[edge.parent] ?? 0;
    next[edge.parent] = place + 1;
    child[place] = edge.child;
    process[place] = edge.process;
  }
  return { lots, at, start, child, process, processIds: [...processAt.keys()], inputs, outputs };
}

/** Everything from these lots on, themselves included. `marks` is as long as the lots and holds nothing equal to `mark`. */
function walk(graph: FoodGraph, roots: Iterable<number>, marks: Int32Array, mark: number): number[] {
  const reached: number[] = [];
  const visit = (lot: number) => {
    if (marks[lot] === mark) return;
    marks[lot] = mark;
    reached.push(lot);
  };
  for (const root of roots) visit(root);
  for (const lot of reached) {
    const end = graph.start[lot + 1] ?? 0;
    for (let edge = graph.start[lot] ?? 0; edge < end; edge += 1) visit(graph.child[edge] ?? lot);
  }
  return reached;
}

const order: Record<ExposureMeasure, (one: RankedCandidate) => number[]> = {
  packs: (one) => [one.packsThere, one.siteCount, one.valueThere],
  sites: (one) => [one.siteCount, one.packsThere, one.valueThere],
  value: (one) => [one.valueThere, one.packsThere, one.siteCount],
};

/** The candidates that would cost most, dearest first; equal ones by key. Those that would find nothing are left out. */
export function rankExposure(
  graph: FoodGraph,
  candidates: readonly Candidate[],
  by: ExposureMeasure,
  limit: number,
): RankedCandidate[] | 'too-many-steps' {
  const marks = new Int32Array(graph.lots.length).fill(-1);
  let steps = 0;
  const kept: RankedCandidate[] = [];
  const compare = (a: RankedCandidate, b: RankedCandidate): number => {
    const [left, right] = [order[by](a), order[by](b)];
    const at = left.findIndex((value, index) => value !== right[index]);
    return at < 0 ? (a.key < b.key ? -1 : 1) : (right[at] ?? 0) - (left[at] ?? 0);
  };
  for (const [mark, { key, lotIds }] of candidates.entries()) {
    const reached = walk(graph, rootsOf(graph, lotIds), marks, mark);
    const sites = new Set<string>();
    const sum = { packsThere: 0, packsGone: 0, valueThere: 0 };
    for (const lot of reached) {
      const { packsThere, packsGone, valueThere, siteIds } = graph.lots[lot] as ExposedLot;
      sum.packsThere += packsThere;
      sum.packsGone += packsGone;
      sum.valueThere += valueThere;
      for (const siteId of siteIds) sites.add(siteId);
      steps += 1 + (graph.start[lot + 1] ?? 0) - (graph.start[lot] ?? 0);
    }
    if (steps > MOST_STEPS) return 'too-many-steps';
    if (sites.size === 0) continue;
    const one = { key, lotIds: reached.map((lot) => graph.lots[lot]?.lotId ?? ''), siteCount: sites.size, ...sum };
    // Only as many as are asked for keep their list of lots.
    kept.push(one);
    if (kept.length > 2 * limit) kept.sort(compare).splice(limit);
  }
  return kept.sort(compare).slice(0, limit);
}

function rootsOf(graph: FoodGraph, lotIds: readonly string[]): number[] {
  return lotIds.flatMap((lotId) => graph.at.get(lotId) ?? []);
}

/**
 * Where a root spread the most: the process through which most of the packs come that its recall would reach; of several, the one with the
 * most links, lots in times lots out.
 * @param reachedIds the root and everything made from it
 * @param besides a process not to be named: the batch that is itself the root
 */
export function spreadOf(
  graph: FoodGraph,
  rootIds: readonly string[],
  reachedIds: readonly string[],
  besides: string | null,
): { spread: Spread | null; straightInto: number } {
  const reached = new Set(rootsOf(graph, reachedIds));
  const straight = processesFrom(graph, rootsOf(graph, rootIds), besides);
  const linksIn = (process: number) => (graph.inputs[process]?.size ?? 0) * (graph.outputs[process]?.size ?? 0);
  const most = (processes: Iterable<number>) =>
    [...processes].sort((a, b) => linksIn(b) - linksIn(a) || a - b).slice(0, PROCESSES_LOOKED_AT);
  const looked = new Set([...most(straight), ...most(processesFrom(graph, reached, besides))]);
  const marks = new Int32Array(graph.lots.length).fill(-1);
  let best: { process: number; packs: number } | null = null;
  for (const process of looked) {
    const beyond = walk(graph, graph.outputs[process] ?? [], marks, process);
    const packs = beyond.reduce((sum, lot) => {
      const { packsThere, packsGone } = graph.lots[lot] as ExposedLot;
      return sum + packsThere + packsGone;
    }, 0);
    const better =
      best === null || packs > best.packs || (packs === best.packs && linksIn(process) > linksIn(best.process));
    if (better) best = { process, packs };
  }
  if (best === null) return { spread: null, straightInto: straight.size };
  const into = graph.inputs[best.process] ?? new Set<number>();
  const spread = {
    processId: graph.processIds[best.process] ?? '',
    inputLots: into.size,
    outputLots: graph.outputs[best.process]?.size ?? 0,
    packsThrough: best.packs,
    reachedInputIds: [...into].flatMap((lot) => (reached.has(lot) ? [graph.lots[lot]?.lotId ?? ''] : [])),
  };
  return { spread, straightInto: straight.size };
}

function processesFrom(graph: FoodGraph, lots: Iterable<number>, besides: string | null): Set<number> {
  const processes = new Set<number>();
  for (const lot of lots) {
    const end = graph.start[lot + 1] ?? 0;
    for (let edge = graph.start[lot] ?? 0; edge < end; edge += 1) {
      const process = graph.process[edge] ?? 0;
      if (graph.processIds[process] !== besides) processes.add(process);
    }
  }
  return processes;
}
