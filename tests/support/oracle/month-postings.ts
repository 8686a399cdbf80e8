/**
 * The movements of a story, told one after the other. What stands after each fact is computed afresh from all facts that are in force; what
 * a fact added or took away is the difference to what stood before it. So a reversal, and what a late fact does to a count, need no rule of
 * their own: they show as differences on the line, and at the date, of what they change.
 */
import { dateAt, siteOfPlace, type MonthFact, type MonthWorld } from './month-facts.ts';

interface Movement {
  /** names the movement of a fact; the same after every later fact */
  readonly key: string;
  readonly lotId: string;
  readonly from: string;
  readonly to: string;
  /** below zero where something is taken back */
  readonly quantity: number;
  readonly kind: MonthFact['kind'];
  readonly occurredAt: number;
  /** the date at the site of the fact */
  readonly occurredOn: string;
  readonly reason: string | null;
  readonly destination: string | null;
  readonly material: 'food' | 'inedible-parts' | null;
  /** batch, packing run or conversion */
  readonly processId: string | null;
}

/** `told` is the place of the fact in the story, from 1: a movement counts at a cut when it is not above it. */
export type ToldMovement = Movement & { readonly told: number; readonly undone: boolean };

type Bare = Pick<Movement, 'lotId' | 'from' | 'to' | 'quantity'> &
  Partial<Pick<Movement, 'reason' | 'destination' | 'material' | 'processId'>>;

const place = (placeId: string): string => `place:${placeId}`;
const road = (dispatchId: string): string => `road:${dispatchId}`;

function bareOf(world: MonthWorld, fact: MonthFact): Bare[] {
  const at = (family: string, placeId: string): string => `${family}:${siteOfPlace(world, placeId)}`;
  const taken = (
    part: { lotId: string; placeId: string; quantity: number },
    family: string,
    more: Partial<Bare> = {},
  ): Bare => ({
    lotId: part.lotId,
    from: place(part.placeId),
    to: at(family, part.placeId),
    quantity: part.quantity,
    ...more,
  });
  const put = (
    part: { lotId: string; placeId: string; quantity: number },
    family: string,
    more: Partial<Bare> = {},
  ): Bare => ({
    lotId: part.lotId,
    from: at(family, part.placeId),
    to: place(part.placeId),
    quantity: part.quantity,
    ...more,
  });
  switch (fact.kind) {
    case 'bought':
      return [put(fact, 'supplier')];
    case 'input': {
      const taking = taken(fact, 'consumed', { processId: fact.batchId });
      // water comes from the tap: no place ever holds it
      const tap = { ...taking, from: at('supplier', fact.placeId) };
      return [fact.itemId !== undefined ? tap : taking];
    }
    case 'output':
      return [put(fact, 'produced', { processId: fact.batchId })];
    case 'packing':
      return fact.fills.flatMap(({ from, packs }) => [
        taken(from, 'consumed', { processId: fact.id }),
        put(packs, 'produced', { processId: fact.id }),
      ]);
    case 'conversion':
      return [taken(fact.from, 'consumed', { processId: fact.id }), put(fact.into, 'produced', { processId: fact.id })];
    case 'move':
      return [{ lotId: fact.lotId, from: place(fact.placeId), to: place(fact.toPlaceId), quantity: fact.quantity }];
    case 'departure':
      return fact.lines.map(({ lotId, placeId, quantity }) => ({
        lotId,
        from: place(placeId),
        to: road(fact.dispatchId),
        quantity,
      }));
    case 'arrival':
      return fact.lines.map(({ lotId, placeId, quantity }) => ({
        lotId,
        from: road(fact.dispatchId),
        to: place(placeId),
        quantity,
      }));
    case 'use':
      return [taken(fact, 'served', { reason: fact.purpose === 'service' ? null : fact.purpose })];
    case 'discard': {
      const { reason, destination, material } = fact;
      return [taken(fact, 'waste', { reason, destination, material })];
    }
    case 'back-from-service':
      return [put(fact, 'served')];
    case 'back-to-supplier':
      return [taken(fact, 'supplier')];
    default:
      return [];
  }
}

/** Where a fact is said to have happened, for its date. */
function siteOf(world: MonthWorld, fact: MonthFact): string {
  switch (fact.kind) {
    case 'packing':
      return siteOfPlace(world, fact.fills[0]?.from.placeId ?? '');
    case 'conversion':
      return siteOfPlace(world, fact.from.placeId);
    case 'departure':
    case 'arrival':
      return siteOfPlace(world, fact.lines[0]?.placeId ?? '');
    case 'bought':
    case 'input':
    case 'output':
    case 'move':
    case 'use':
    case 'discard':
    case 'back-from-service':
    case 'back-to-supplier':
    case 'count':
      return siteOfPlace(world, fact.placeId);
    default:
      throw new Error(`oracle: ${fact.kind} moves nothing`);
  }
}

function ordinaryOf(world: MonthWorld, fact: MonthFact): Movement[] {
  return bareOf(world, fact).map((bare, at) => ({
    reason: null,
    destination: null,
    material: null,
    processId: null,
    ...bare,
    key: `${fact.id}|${at}`,
    kind: fact.kind,
    occurredAt: fact.occurredAt,
    occurredOn: dateAt(world, siteOf(world, fact), fact.occurredAt),
  }));
}

const inForce = (facts: readonly MonthFact[]): MonthFact[] => {
  const undone = new Set(facts.flatMap((fact) => (fact.kind === 'reversal' ? [fact.ofFactId] : [])));
  return facts.filter((fact) => fact.kind !== 'reversal' && !undone.has(fact.id));
};

/** What stands when these facts are known: each count's difference is to everything that happened until then. */
function standing(
  world: MonthWorld,
  facts: readonly MonthFact[],
  ordinary: ReadonlyMap<string, readonly Movement[]>,
): Movement[] {
  const live = inForce(facts);
  const all = live.flatMap((fact) => ordinary.get(fact.id) ?? []);
  const counts = live.flatMap((fact) => (fact.kind === 'count' ? [fact] : []));
  counts.sort((a, b) => a.occurredAt - b.occurredAt || (a.id < b.id ? -1 : 1));
  for (const count of counts) {
    const siteId = siteOfPlace(world, count.placeId);
    const usedByCount = world.places.some((one) => one.id === count.placeId && one.usedByCount);
    for (const line of count.lines) {
      let stood = 0;
      for (const moved of all) {
        if (moved.lotId !== line.lotId || moved.occurredAt > count.occurredAt) continue;
        if (moved.to === place(count.placeId)) stood += moved.quantity;
        if (moved.from === place(count.placeId)) stood -= moved.quantity;
      }
      const found = line.counted - stood;
      if (found === 0) continue;
      const outside = usedByCount && found < 0 ? `served:${siteId}` : `variance:${siteId}`;
      all.push({
        key: `${count.id}|${line.lotId}|${outside}`,
        lotId: line.lotId,
        from: found > 0 ? outside : place(count.placeId),
        to: found > 0 ? place(count.placeId) : outside,
        quantity: Math.abs(found),
        kind: 'count',
        occurredAt: count.occurredAt,
        occurredOn: dateAt(world, siteId, count.occurredAt),
        reason: null,
        destination: null,
        material: null,
        processId: null,
      });
    }
  }
  return all;
}

/** The movements of a whole story with the place of the fact that each came with. Those of one key have one direction. */
export function toldMovements(world: MonthWorld, facts: readonly MonthFact[]): ToldMovement[] {
  const told: ToldMovement[] = [];
  const ordinary = new Map(facts.map((fact) => [fact.id, ordinaryOf(world, fact)]));
  let before = new Map<string, Movement>();
  for (let count = 1; count <= facts.length; count += 1) {
    const undone = facts[count - 1]?.kind === 'reversal';
    const now = new Map<string, Movement>();
    for (const movement of standing(world, facts.slice(0, count), ordinary)) {
      // found over and found missing are one line with a sign
      const straight = movement.from.startsWith('variance:');
      const { from, to, quantity } = movement;
      now.set(movement.key, straight ? { ...movement, from: to, to: from, quantity: -quantity } : movement);
    }
    for (const [key, movement] of now) {
      const quantity = movement.quantity - (before.get(key)?.quantity ?? 0);
      if (quantity !== 0) told.push({ ...movement, quantity, told: count, undone });
    }
    for (const [key, movement] of before) {
      if (!now.has(key)) told.push({ ...movement, quantity: -movement.quantity, told: count, undone });
    }
    before = now;
  }
  return told;
}

/** What is in each place and on each road, by "lotId|account"; nothing that is zero. */
export function balancesOf(world: MonthWorld, facts: readonly MonthFact[]): Map<string, number> {
  const balances = new Map<string, number>();
  const ordinary = new Map(facts.map((fact) => [fact.id, ordinaryOf(world, fact)]));
  for (const { lotId, from, to, quantity } of standing(world, facts, ordinary)) {
    for (const [account, change] of [
      [from, -quantity],
      [to, quantity],
    ] as const) {
      if (!account.startsWith('place:') && !account.startsWith('road:')) continue;
      const key = `${lotId}|${account}`;
      const sum = (balances.get(key) ?? 0) + change;
      if (sum === 0) balances.delete(key);
      else balances.set(key, sum);
    }
  }
  return balances;
}
