/**
 * Batch dispersion: how many links there are between raw lots and the finished lots that hold something of them, and what a recall of
 * one raw lot takes with it. In the sense of C. Dupuy, V. Botta-Genoulaz and A. Guinet, "Batch dispersion model to optimise traceability
 * in food industry", Journal of Food Engineering 70 (2005), title and place from memory. Fewer links make smaller recalls, for the same
 * deliveries and the same batches.
 *
 * Refusals: `too-many-lots`, as a value, where the least is too dear to work out. Quantities that are not above zero, and more asked for
 * than there is, are programming faults and throw RangeError.
 */
import Fraction from 'fraction.js';

/** So much of a raw lot went into a finished lot; both by position. */
export interface Arc {
  readonly raw: number;
  readonly finished: number;
  readonly quantity: number;
}

export interface ArcRecall {
  /** the largest quantity of finished lots that one raw lot takes with it */
  readonly worst: number;
  /** the plain mean over the raw lots that were used: each is as likely to be the bad one */
  readonly average: Fraction;
}

export interface LeastDispersion {
  readonly links: number;
  readonly arcs: readonly Arc[];
  readonly worstRecall: number;
}

/** Raw and finished lots together. Every subset is looked at with every part of it: 3 to the power of this, half a million. */
export const MOST_LOTS_FOR_LEAST = 12;

const sum = (values: readonly number[]): number => values.reduce((a, b) => a + b, 0);

function requireEnough(supply: readonly number[], demand: readonly number[]): void {
  if ([...supply, ...demand].some((quantity) => !(quantity > 0))) {
    throw new RangeError('A lot to share out is above zero');
  }
  if (sum(supply) < sum(demand)) throw new RangeError('More is asked for than there is');
}

/**
 * First in, first out: the lots of both sides in the order given, each raw lot used up before the next is begun.
 * @param supply of each raw lot, in one unit of mass, above zero
 * @param demand of each finished lot, in the same unit, above zero, not more than the supply together
 */
export function firstInFirstOut(supply: readonly number[], demand: readonly number[]): Arc[] {
  requireEnough(supply, demand);
  const arcs: Arc[] = [];
  const left = [...supply];
  let raw = 0;
  demand.forEach((quantity, finished) => {
    let wanted = quantity;
    while (wanted > 0) {
      const there = left[raw] ?? 0;
      const taken = Math.min(there, wanted);
      if (taken > 0) arcs.push({ raw, finished, quantity: taken });
      left[raw] = there - taken;
      wanted -= taken;
      if (left[raw] === 0) raw += 1;
    }
  });
  return arcs;
}

/** The dispersion: pairs of a raw lot and a finished lot that holds something of it, each once. */
export function linksOf(arcs: readonly Pick<Arc, 'raw' | 'finished'>[]): number {
  return new Set(arcs.map(({ raw, finished }) => `${raw}|${finished}`)).size;
}

/**
 * What recalling one raw lot takes with it: the whole of every finished lot that holds something of it.
 * @param demand of each finished lot
 */
export function recallOf(arcs: readonly Pick<Arc, 'raw' | 'finished'>[], demand: readonly number[]): ArcRecall {
  const reached = new Map<number, Set<number>>();
  for (const { raw, finished } of arcs) {
    const lots = reached.get(raw) ?? new Set<number>();
    reached.set(raw, lots.add(finished));
  }
  const recalls = [...reached.values()].map((lots) => sum([...lots].map((finished) => demand[finished] ?? 0)));
  if (recalls.length === 0) return { worst: 0, average: new Fraction(0n) };
  return { worst: Math.max(...recalls), average: new Fraction(BigInt(sum(recalls)), BigInt(recalls.length)) };
}

/**
 * The fewest links that these amounts allow, whatever the order in time. Lots that are linked with each other, directly or through others,
 * make up blocks; a block of k lots needs k - 1 links and no more, and its raw lots must hold what its finished lots want. So the least is
 * all lots less the largest number of such blocks; a raw lot that stays unused is a block of its own.
 * @param supply as for firstInFirstOut
 * @param demand as for firstInFirstOut
 */
export function leastDispersion(
  supply: readonly number[],
  demand: readonly number[],
): LeastDispersion | 'too-many-lots' {
  requireEnough(supply, demand);
  const lots = [...supply, ...demand.map((quantity) => -quantity)];
  if (lots.length > MOST_LOTS_FOR_LEAST) return 'too-many-lots';
  const blocks = largestPartition(lots);
  const arcs = blocks.flatMap((block) => {
    const raws = block.filter((at) => at < supply.length);
    const finished = block.filter((at) => at >= supply.length).map((at) => at - supply.length);
    const inBlock = firstInFirstOut(
      raws.map((at) => supply[at] ?? 0),
      finished.map((at) => demand[at] ?? 0),
    );
    return inBlock.map((arc) => ({
      raw: raws[arc.raw] ?? 0,
      finished: finished[arc.finished] ?? 0,
      quantity: arc.quantity,
    }));
  });
  return { links: linksOf(arcs), arcs, worstRecall: recallOf(arcs, demand).worst };
}

/** Splits lots (what is wanted below zero) into as many blocks as can be, none of which sums to less than nothing. */
function largestPartition(lots: readonly number[]): number[][] {
  const sums = new Float64Array(1 << lots.length);
  for (let set = 1; set < sums.length; set += 1) {
    const lowest = set & -set;
    sums[set] = (sums[set ^ lowest] ?? 0) + (lots[31 - Math.clz32(lowest)] ?? 0);
  }
  return mostBlocks(
    lots.length,
    (set) => (sums[set] ?? 0) >= 0,
    () => 0,
  );
}

/**
 * Splits positions into as many blocks as can be; of several ways, one in which the worst block is least bad. Each partition is met once, by
 * the block that holds its lowest position, so the same question has the same answer.
 * @param count of positions, at most MOST_LOTS_FOR_LEAST; sets are bits of a number
 * @param allowed may these positions be a block?
 * @param badness of an allowed block
 * @returns the positions of each block; empty when there is no way
 */
export function mostBlocks(
  count: number,
  allowed: (set: number) => boolean,
  badness: (set: number) => number,
): number[][] {
  const all = (1 << count) - 1;
  const worth = Float64Array.from({ length: all + 1 }, (_, set) => (set > 0 && allowed(set) ? badness(set) : Infinity));
  const most = new Int8Array(all + 1).fill(-1);
  const worst = new Float64Array(all + 1);
  const chosen = new Int32Array(all + 1);
  most[0] = 0;
  for (let set = 1; set <= all; set += 1) {
    const lowest = set & -set;
    for (let block = set; block > 0; block = (block - 1) & set) {
      const own = worth[block] ?? Infinity;
      const rest = most[set ^ block] ?? -1;
      if ((block & lowest) === 0 || own === Infinity || rest < 0) continue;
      const before = most[set] ?? -1;
      const bad = Math.max(own, worst[set ^ block] ?? 0);
      if (rest + 1 < before || (rest + 1 === before && bad >= (worst[set] ?? 0))) continue;
      most[set] = rest + 1;
      worst[set] = bad;
      chosen[set] = block;
    }
  }
  if ((most[all] ?? -1) < 0) return [];
  const blocks: number[][] = [];
  for (let set = all; set > 0; set ^= chosen[set] ?? set) {
    const block = chosen[set] ?? set;
    blocks.push(Array.from({ length: count }, (_, at) => at).filter((at) => (block & (1 << at)) !== 0));
  }
  return blocks;
}
