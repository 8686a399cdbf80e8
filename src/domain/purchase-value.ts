/**
 * What food is worth at the prices that were paid for what is in it. A delivery's price is carried forward into what was made from it:
 * what a process took from a lot takes its part of the lot's worth along, and the lots that came out share it by mass; trim and cooking
 * loss cost nothing of their own. So each pound is counted once, in the lot where it is now.
 *
 * Exactness: worth is kept in whole billionths of a minor unit, and every split is cumulative (each part is the difference of two
 * running totals), so the parts sum to the whole to the last billionth, whatever the number of splits; the only rounding to minor units is
 * the last. Rationals would be exact to the end, but their denominators multiply with each mixing: a year of one bin has thousands of
 * digits.
 *
 * What has no price is not guessed: its mass is carried forward in the same way, and said beside the worth.
 *
 * Refusals: none. A lot that is made from itself is a programming fault and throws RangeError.
 */
import Fraction from 'fraction.js';
import { largestRemainder } from './exact.ts';

/** Of the amounts below, in one minor unit (a penny, a cent). */
const FINE_PER_MINOR = 1_000_000_000n;

export interface ValueLot {
  readonly lotId: string;
  /** what it was born with, in its unit, above zero */
  readonly quantity: number;
  readonly massMg: number;
  /** what stands of that: reversals net; outputs of one process share by it */
  readonly stands: number;
  /** came from outside: bought, or there when records began */
  readonly bought: boolean;
  /** minor units for all of it; null when nobody said */
  readonly priceMinor: number | null;
}

/** What went from a lot into a process (a batch, a packing run, a conversion), reversals net, in the lot's unit. */
export interface Taking {
  readonly lotId: string;
  readonly processId: string;
  readonly quantity: number;
}

export interface ValueEdge {
  readonly parentLotId: string;
  readonly childLotId: string;
  readonly processId: string;
}

/** Of the whole lot as it was born. */
export interface Worth {
  /** billionths of a minor unit, of what has a price */
  readonly fine: bigint;
  /** what went in without a price, in mg */
  readonly unpricedMg: bigint;
}

/**
 * Parts of a total, proportional to quantities; they sum to the total when the quantities sum to `of`.
 * @param from what was shared out before, so that the parts go on where that stopped
 */
export function shareOut(total: bigint, of: bigint, quantities: readonly bigint[], from = 0n): bigint[] {
  if (of === 0n) return quantities.map(() => 0n);
  let upTo = from;
  return quantities.map((quantity) => {
    const before = (total * upTo) / of;
    upTo += quantity;
    return (total * upTo) / of - before;
  });
}

/**
 * @param lots those asked for and everything before them
 * @param takings of these lots
 * @param edges whose child is among the lots
 * @returns what each lot was worth at birth, by lot id
 */
export function worthOfLots(
  lots: readonly ValueLot[],
  takings: readonly Taking[],
  edges: readonly ValueEdge[],
): Map<string, Worth> {
  const byId = new Map(lots.map((lot) => [lot.lotId, lot]));
  const outputs = outputsOf(edges);
  const taken = new Map(takings.map((one) => [`${one.lotId}|${one.processId}`, BigInt(one.quantity)]));
  const gathered = new Map<string, { fine: bigint; unpricedMg: bigint }>();
  const worths = new Map<string, Worth>();
  for (const lotId of parentsFirst(lots, edges)) {
    const lot = byId.get(lotId) as ValueLot;
    const worth = lot.bought ? boughtWorth(lot) : (gathered.get(lotId) ?? boughtWorth(lot));
    worths.set(lotId, worth);
    let used = 0n;
    for (const [processId, childIds] of outputs.get(lotId) ?? []) {
      const quantity = taken.get(`${lotId}|${processId}`) ?? 0n;
      const part = partOf(worth, lot, quantity, used);
      used += quantity;
      const weights = childIds.map((childId) => standingMass(byId.get(childId)));
      const all = weights.reduce((a, b) => a + b, 0n);
      const fines = shareOut(part.fine, all, weights);
      const masses = shareOut(part.unpricedMg, all, weights);
      childIds.forEach((childId, at) => {
        const sum = gathered.get(childId) ?? { fine: 0n, unpricedMg: 0n };
        sum.fine += fines[at] ?? 0n;
        sum.unpricedMg += masses[at] ?? 0n;
        gathered.set(childId, sum);
      });
    }
  }
  return worths;
}

/** What `quantity` units of a lot are worth, after `from` units were spoken for. */
export function partOf(worth: Worth, lot: ValueLot, quantity: bigint, from = 0n): Worth {
  const of = BigInt(lot.quantity);
  const [fine = 0n] = shareOut(worth.fine, of, [quantity], from);
  const [unpricedMg = 0n] = shareOut(worth.unpricedMg, of, [quantity], from);
  return { fine, unpricedMg };
}

/** Rounded to minor units, so that the lines sum to the rounded total. */
export function minorUnits(fines: readonly bigint[]): number[] {
  return largestRemainder(fines.map((fine) => new Fraction(fine, FINE_PER_MINOR))).map(Number);
}

/** Something made of nothing that is known is as unpriced as something bought without a price. */
function boughtWorth(lot: ValueLot): Worth {
  if (lot.priceMinor === null) return { fine: 0n, unpricedMg: BigInt(lot.massMg) };
  return { fine: BigInt(lot.priceMinor) * FINE_PER_MINOR, unpricedMg: 0n };
}

function standingMass(lot: ValueLot | undefined): bigint {
  return lot ? (BigInt(lot.massMg) * BigInt(Math.max(lot.stands, 0))) / BigInt(lot.quantity) : 0n;
}

/** Of each lot: what came out of each process that it went into, both in the order of their ids, so that the answer is always the same. */
function outputsOf(edges: readonly ValueEdge[]): Map<string, [processId: string, childIds: string[]][]> {
  const outputs = new Map<string, Map<string, string[]>>();
  for (const { parentLotId, childLotId, processId } of edges) {
    const processes = outputs.get(parentLotId) ?? new Map<string, string[]>();
    outputs.set(parentLotId, processes);
    const children = processes.get(processId);
    if (children) children.push(childLotId);
    else processes.set(processId, [childLotId]);
  }
  const inOrder = ([a]: [string, unknown], [b]: [string, unknown]) => (a < b ? -1 : 1);
  return new Map(
    [...outputs].map(([lotId, processes]) => [
      lotId,
      [...processes].sort(inOrder).map(([processId, children]) => [processId, children.sort()]),
    ]),
  );
}

function parentsFirst(lots: readonly ValueLot[], edges: readonly ValueEdge[]): string[] {
  const waits = new Map(lots.map((lot) => [lot.lotId, 0]));
  const children = new Map<string, string[]>();
  for (const { parentLotId, childLotId } of edges) {
    if (!waits.has(parentLotId) || !waits.has(childLotId)) continue;
    waits.set(childLotId, (waits.get(childLotId) ?? 0) + 1);
    const list = children.get(parentLotId);
    if (list) list.push(childLotId);
    else children.set(parentLotId, [childLotId]);
  }
  const ordered = [...waits].filter(([, count]) => count === 0).map(([lotId]) => lotId);
  for (const lotId of ordered) {
    for (const childId of children.get(lotId) ?? []) {
      const left = (waits.get(childId) ?? 0) - 1;
      waits.set(childId, left);
      if (left === 0) ordered.push(childId);
    }
  }
  if (ordered.length < waits.size) throw new RangeError('A lot is made from itself');
  return ordered;
}
