/**
 * What a topped-up bin holds of one item, and what was taken from it: a pure function of the facts, walked in event time, so that the
 * order in which they arrive does not matter. The set of lots begins anew when the item's level is zero; a lot of which something is
 * left stays in it. What is taken may be any lot of the set; it is booked from what is there, oldest in first, and what is not
 * there from the last in. Refusals: none.
 */

/** Into the bin above zero, out of it below; neither counted nor taken from the bin as such. */
export interface BinMove {
  readonly lotId: string;
  readonly atMs: number;
  readonly quantity: number;
}

export interface BinCount {
  readonly countId: string;
  readonly atMs: number;
  /** zero of every lot that it does not name */
  readonly complete: boolean;
  readonly lines: readonly { readonly lotId: string; readonly counted: number }[];
}

export interface BinTaking {
  readonly inputId: string;
  readonly atMs: number;
  readonly quantity: number;
}

export interface BinFacts {
  readonly moves: readonly BinMove[];
  readonly counts: readonly BinCount[];
  readonly takings: readonly BinTaking[];
}

interface BinLot {
  readonly lotId: string;
  readonly firstInMs: number;
  /** by the book; below zero when more left than was there */
  readonly quantity: number;
}

export interface Taken {
  readonly inputId: string;
  /** every lot that may be in it, oldest in first */
  readonly lotIds: readonly string[];
  readonly shares: readonly { readonly lotId: string; readonly quantity: number }[];
  /** how much of it was not there */
  readonly missing: number;
}

export interface BinState {
  /** when the first lot of the set came in; null when it is empty */
  readonly sinceMs: number | null;
  /** oldest in first */
  readonly lots: readonly BinLot[];
  /** over all lots; below zero when more left than came */
  readonly quantity: number;
}

interface Walk {
  readonly levels: Map<string, number>;
  readonly firstIn: Map<string, number>;
}

const levelOf = (walk: Walk, lotId: string): number => walk.levels.get(lotId) ?? 0;
const totalOf = (walk: Walk): number => [...walk.levels.values()].reduce((sum, level) => sum + level, 0);

function lotsOf(walk: Walk): BinLot[] {
  return [...walk.firstIn]
    .map(([lotId, firstInMs]) => ({ lotId, firstInMs, quantity: levelOf(walk, lotId) }))
    .sort((a, b) => a.firstInMs - b.firstInMs || (a.lotId < b.lotId ? -1 : 1));
}

function come(walk: Walk, lotId: string, atMs: number): void {
  if (!walk.firstIn.has(lotId)) walk.firstIn.set(lotId, atMs);
}

function takeFrom(walk: Walk, taking: BinTaking, unknownLotId: string): Taken {
  const lots = lotsOf(walk);
  const lotIds = lots.length > 0 ? lots.map((lot) => lot.lotId) : [unknownLotId];
  const shares = new Map<string, number>();
  let missing = taking.quantity;
  const take = (lotId: string, quantity: number) => {
    if (quantity <= 0) return;
    shares.set(lotId, (shares.get(lotId) ?? 0) + quantity);
    walk.levels.set(lotId, levelOf(walk, lotId) - quantity);
  };
  for (const lotId of lotIds) {
    const there = Math.min(missing, Math.max(0, levelOf(walk, lotId)));
    take(lotId, there);
    missing -= there;
  }
  take(lotIds[lotIds.length - 1] ?? unknownLotId, missing);
  const list = [...shares].map(([lotId, quantity]) => ({ lotId, quantity }));
  return { inputId: taking.inputId, lotIds, shares: list, missing };
}

function count(walk: Walk, told: BinCount): void {
  const named = new Map(told.lines.map((line) => [line.lotId, line.counted]));
  if (told.complete) for (const lotId of walk.levels.keys()) walk.levels.set(lotId, named.get(lotId) ?? 0);
  for (const [lotId, counted] of named) {
    walk.levels.set(lotId, counted);
    if (counted > 0) come(walk, lotId, told.atMs);
  }
}

/** Empty: the set begins anew, with what the book says is left all the same. */
function settleEmpty(walk: Walk): void {
  if (totalOf(walk) !== 0) return;
  for (const lotId of [...walk.firstIn.keys()]) if (levelOf(walk, lotId) <= 0) walk.firstIn.delete(lotId);
}

/**
 * Within one moment: what was put in or taken out as a lot, then what was taken from the bin, then counts.
 * @param facts from a time on at which the bin held nothing of the item
 * @param unknownLotId stands for what was taken when nothing is known to have been in
 */
export function walkBin(facts: BinFacts, unknownLotId: string): { taken: Map<string, Taken>; now: BinState } {
  const walk: Walk = { levels: new Map(), firstIn: new Map() };
  const taken = new Map<string, Taken>();
  const all = [...facts.moves, ...facts.takings, ...facts.counts];
  for (const atMs of [...new Set(all.map((fact) => fact.atMs))].sort((a, b) => a - b)) {
    for (const { lotId, quantity } of facts.moves.filter((move) => move.atMs === atMs)) {
      walk.levels.set(lotId, levelOf(walk, lotId) + quantity);
      if (quantity > 0) come(walk, lotId, atMs);
    }
    const takings = facts.takings.filter((taking) => taking.atMs === atMs);
    for (const taking of takings.sort((a, b) => (a.inputId < b.inputId ? -1 : 1))) {
      taken.set(taking.inputId, takeFrom(walk, taking, unknownLotId));
    }
    const counts = facts.counts.filter((told) => told.atMs === atMs);
    for (const told of counts.sort((a, b) => (a.countId < b.countId ? -1 : 1))) count(walk, told);
    settleEmpty(walk);
  }
  const lots = lotsOf(walk);
  return { taken, now: { sinceMs: lots[0]?.firstInMs ?? null, lots, quantity: totalOf(walk) } };
}
