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
  const at = new Map(lots.map((lot, index) => [lot.lotId, index]));
  const passings = passingsOf(at, takings, edges);
  const weights = lots.map(standingMass);
  const fine = new Array<bigint>(lots.length).fill(0n);
  const unpriced = new Array<bigint>(lots.length).fill(0n);
  const fed = new Uint8Array(lots.length);
  for (const index of parentsFirst(lots.length, passings)) {
    const lot = lots[index] as ValueLot;
    // Something made of nothing that is known is as unpriced as something bought without a price.
    if (lot.bought || fed[index] === 0) {
      fine[index] = BigInt(lot.priceMinor ?? 0) * FINE_PER_MINOR;
      unpriced[index] = lot.priceMinor === null ? BigInt(lot.massMg) : 0n;
    }
    const of = BigInt(lot.quantity);
    let used = 0n;
    for (const { quantity, children } of passings[index] ?? []) {
      const upTo = used + quantity;
      const part = (total: bigint) => (total === 0n ? 0n : (total * upTo) / of - (total * used) / of);
      const [finePart, unpricedPart] = [part(fine[index] ?? 0n), part(unpriced[index] ?? 0n)];
      used = upTo;
      const all = children.reduce((sum, child) => sum + (weights[child] ?? 0n), 0n);
      let shared = 0n;
      for (const child of children) {
        fed[child] = 1;
        if (all === 0n) continue;
        const next = shared + (weights[child] ?? 0n);
        const share = (total: bigint) => (total === 0n ? 0n : (total * next) / all - (total * shared) / all);
        fine[child] = (fine[child] ?? 0n) + share(finePart);
        unpriced[child] = (unpriced[child] ?? 0n) + share(unpricedPart);
        shared = next;
      }
    }
  }
  return new Map(
    lots.map(({ lotId }, index) => [lotId, { fine: fine[index] ?? 0n, unpricedMg: unpriced[index] ?? 0n }]),
  );
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

function standingMass(lot: ValueLot): bigint {
  return lot.stands === lot.quantity
    ? BigInt(lot.massMg)
    : (BigInt(lot.massMg) * BigInt(Math.max(lot.stands, 0))) / BigInt(lot.quantity);
}

/** What of a lot went into one process, and the lots that came out, by position. */
interface Passing {
  readonly processId: string;
  readonly quantity: bigint;
  readonly children: number[];
}

/** By lot, in the order of the processes' ids and of the lots given, so that the answer is always the same. */
function passingsOf(
  at: ReadonlyMap<string, number>,
  takings: readonly Taking[],
  edges: readonly ValueEdge[],
): Passing[][] {
  const taken = new Map<string, Map<string, number>>();
  for (const { lotId, processId, quantity } of takings) {
    const processes = taken.get(lotId);
    if (processes) processes.set(processId, (processes.get(processId) ?? 0) + quantity);
    else taken.set(lotId, new Map([[processId, quantity]]));
  }
  const byLot: Map<string, Passing>[] = [];
  for (const { parentLotId, childLotId, processId } of edges) {
    const parent = at.get(parentLotId);
    const child = at.get(childLotId);
    if (parent === undefined || child === undefined) continue;
    const processes = (byLot[parent] ??= new Map<string, Passing>());
    const known = processes.get(processId);
    if (known) known.children.push(child);
    else {
      const quantity = BigInt(taken.get(parentLotId)?.get(processId) ?? 0);
      processes.set(processId, { processId, quantity, children: [child] });
    }
  }
  const passings: Passing[][] = [];
  byLot.forEach((processes, lot) => {
    passings[lot] = [...processes.values()].sort((a, b) => (a.processId < b.processId ? -1 : 1));
    for (const { children } of passings[lot]) children.sort((a, b) => a - b);
  });
  return passings;
}

function parentsFirst(count: number, passings: readonly (readonly Passing[])[]): number[] {
  const waits = new Int32Array(count);
  const each = (lot: number, visit: (child: number) => void): void => {
    for (const { children } of passings[lot] ?? []) children.forEach(visit);
  };
  for (let lot = 0; lot < count; lot += 1) each(lot, (child) => void (waits[child] = (waits[child] ?? 0) + 1));
  const ordered: number[] = [];
  for (let lot = 0; lot < count; lot += 1) if (waits[lot] === 0) ordered.push(lot);
  for (const lot of ordered) {
    each(lot, (child) => {
      const left = (waits[child] ?? 0) - 1;
      waits[child] = left;
      if (left === 0) ordered.push(child);
    });
  }
  if (ordered.length < count) throw new RangeError('A lot is made from itself');
  return ordered;
}
