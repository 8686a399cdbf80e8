/**
 * A made-up year of a large central kitchen as arrays: deliveries, cooked loads, packs; who went into whom, and where each lot stands.
 * Everything follows from the seed. It is the reference of the bench as well: a plain walk of these arrays is what the database's walks
 * are held against, node for node.
 *
 * A year has 400 K lots and 1 M edges: deliveries go into loads (about seven to a load), loads into packs, stocks and sauces into other
 * loads, a few packs come back as rework. One delivery, the staple, is a silo that a part of the year's loads draws from: about 65 K lots.
 */

const LOTS_A_YEAR = 400_000;
/** about a million stand in the end */
const MOST_EDGES = 1_300_000;

export const SUPPLIED = 0;
export const PRODUCED = 1;
export const PACKED = 2;

/** 100 ingredients, 60 dishes, 80 packs of dishes */
export const FIRST_ITEM = [0, 100, 160] as const;
export const ITEMS = 240;

/** Of 1,000 lots in order of birth. */
const SUPPLIED_OF_1000 = 88;
const PRODUCED_OF_1000 = 240;
/** Deliveries that are in use at a time. */
const STORE_ROOM = 150;
/** Loads of today and yesterday, to be packed or put into other loads. */
const CHILLER = 250;
const STOCK_OF_100 = 25;
const REWORK_OF_1000 = 8;
/** The silo stands for this part of the year, and this part of the loads meanwhile draws from it. */
const SILO_FROM = 0.3;
const SILO_TO = 0.65;
const SILO_OF_1000 = 400;

export interface LotGraph {
  readonly lots: number;
  readonly kinds: Uint8Array;
  /** number of the item, see FIRST_ITEM */
  readonly items: Uint16Array;
  /** parents[e] went into children[e] */
  readonly parents: Int32Array;
  readonly children: Int32Array;
  readonly staple: number;
}

/** Numbers in [0, 1) that follow from the seed (mulberry32, public domain). */
export function chanceOf(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = Math.imul(state ^ (state >>> 15), state | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
}

export function makeYear(seed: number): LotGraph {
  const chance = chanceOf(seed);
  const below = (n: number): number => Math.floor(chance() * n);
  const kinds = new Uint8Array(LOTS_A_YEAR);
  const items = new Uint16Array(LOTS_A_YEAR);
  const parents = new Int32Array(MOST_EDGES);
  const children = new Int32Array(MOST_EDGES);
  let edges = 0;
  const link = (parent: number, child: number): void => {
    if (parent < 0) return;
    parents[edges] = parent;
    children[edges] = child;
    edges += 1;
  };
  const supplied: number[] = [];
  const produced: number[] = [];
  const packed: number[] = [];
  const recent = (list: readonly number[], window: number): number =>
    list.length === 0 ? -1 : (list[list.length - 1 - below(Math.min(window, list.length))] ?? -1);
  let staple = -1;
  for (let lot = 0; lot < LOTS_A_YEAR; lot += 1) {
    const turn = lot < 200 ? 0 : below(1000);
    const kind = turn < SUPPLIED_OF_1000 ? SUPPLIED : turn < SUPPLIED_OF_1000 + PRODUCED_OF_1000 ? PRODUCED : PACKED;
    kinds[lot] = kind;
    items[lot] = (FIRST_ITEM[kind] ?? 0) + below((FIRST_ITEM[kind + 1] ?? ITEMS) - (FIRST_ITEM[kind] ?? 0));
    const from = new Set<number>();
    if (kind === SUPPLIED) {
      if (staple < 0 && lot >= SILO_FROM * LOTS_A_YEAR) staple = lot;
      else supplied.push(lot);
    } else if (kind === PRODUCED) {
      const wanted = 4 + below(7);
      while (from.size < wanted) from.add(recent(supplied, STORE_ROOM));
      if (below(100) < STOCK_OF_100) from.add(recent(produced, CHILLER));
      if (below(1000) < REWORK_OF_1000) from.add(recent(packed, CHILLER));
      if (staple >= 0 && lot < SILO_TO * LOTS_A_YEAR && below(1000) < SILO_OF_1000) from.add(staple);
      produced.push(lot);
    } else {
      from.add(recent(produced, CHILLER));
      if (below(100) < 18) from.add(recent(produced, CHILLER));
      packed.push(lot);
    }
    for (const parent of from) link(parent, lot);
  }
  return {
    lots: LOTS_A_YEAR,
    kinds,
    items,
    parents: parents.slice(0, edges),
    children: children.slice(0, edges),
    staple,
  };
}

export interface Adjacency {
  readonly starts: Int32Array;
  readonly targets: Int32Array;
}

/** Edges by their near end: those of lot n are targets[starts[n]] up to targets[starts[n + 1]]. */
export function adjacencyOf(lots: number, near: Int32Array, far: Int32Array): Adjacency {
  const starts = new Int32Array(lots + 1);
  for (const lot of near) starts[lot + 1] = (starts[lot + 1] ?? 0) + 1;
  for (let lot = 0; lot < lots; lot += 1) starts[lot + 1] = (starts[lot + 1] ?? 0) + (starts[lot] ?? 0);
  const next = starts.slice();
  const targets = new Int32Array(far.length);
  for (let edge = 0; edge < near.length; edge += 1) {
    const lot = near[edge] ?? 0;
    targets[next[lot] ?? 0] = far[edge] ?? 0;
    next[lot] = (next[lot] ?? 0) + 1;
  }
  return { starts, targets };
}

/** The plain walk: a lot and everything beyond it, each once. */
export function walk({ starts, targets }: Adjacency, from: number): number[] {
  const seen = new Uint8Array(starts.length);
  const reached = [from];
  seen[from] = 1;
  for (let at = 0; at < reached.length; at += 1) {
    const lot = reached[at] ?? 0;
    for (let edge = starts[lot] ?? 0; edge < (starts[lot + 1] ?? 0); edge += 1) {
      const next = targets[edge] ?? 0;
      if (seen[next] === 1) continue;
      seen[next] = 1;
      reached.push(next);
    }
  }
  return reached;
}
