/**
 * What one process (a batch, a packing run, a conversion) makes of what went into it. Loss that the recipe plans is carried by the good
 * output; what is lost beyond it is an expense of the period and is carried by nothing: normal and abnormal loss of process costing.
 * Sources: Accounting for Management, "Process costing - normal loss" and "- abnormal loss" (accountingformanagement.org); the worked
 * example of an ACCA course is in the tests. One departure: where more comes out than planned (abnormal gain), the output carries what
 * went in and no more, instead of the planned cost with a gain beside it, so that stock is never worth more than was paid.
 */
import { ceilingOf, floorOf, isLess, NOTHING, plus, ratio, times, type Ratio } from './ratio.ts';
import {
  FINE_PER_MINOR,
  type CostLot,
  type CostProcess,
  type CostTaking,
  type LotCost,
  type ProcessCost,
} from './shapes.ts';

const MG_PER_KG = 1_000_000n;
const PPM = 1_000_000n;

export interface Put {
  readonly taking: CostTaking;
  readonly lot: CostLot;
  /** null: it closes a circle, and counts as unpriced */
  readonly cost: LotCost | null;
}

/** @returns mass of `quantity` units of a lot, in mg */
function massOf(lot: Pick<CostLot, 'quantity' | 'massMg'>, quantity: number): Ratio {
  return ratio(BigInt(lot.massMg) * BigInt(quantity), BigInt(lot.quantity));
}

interface Went {
  readonly fine: bigint;
  readonly mass: Ratio;
  /** mg x ppm */
  readonly unpriced: Ratio;
  readonly boughtUg: bigint;
}

function sumUp(puts: readonly Put[]): Went {
  let [fine, boughtUg] = [0n, 0n];
  let [mass, unpriced] = [NOTHING, NOTHING];
  for (const { taking, lot, cost } of puts) {
    const quantity = BigInt(taking.quantity);
    if (cost) {
      fine += quantity * cost.unitFine;
      boughtUg += quantity * cost.boughtUgPerUnit;
    }
    if (lot.packaging) continue;
    const own = massOf(lot, taking.quantity);
    mass = plus(mass, own);
    const ppm = cost ? BigInt(cost.unpricedPpm) : PPM;
    if (ppm > 0n) unpriced = plus(unpriced, times(own, ppm, 1n));
  }
  return { fine, mass, unpriced, boughtUg };
}

/** What the recipe says should come out, in mg; null: whatever comes out carries everything. */
function expectedOf(process: CostProcess, input: Ratio): Ratio | null {
  if (process.kind === 'conversion') return null;
  if (process.kind === 'packing') return input;
  return times(input, BigInt(process.expectedYieldPpm), PPM);
}

function reasonOf(puts: readonly Put[]): LotCost['reason'] {
  if (puts.length === 0) return 'nothing-went-in';
  if (puts.some(({ cost }) => cost === null)) return 'made-from-itself';
  return puts.some(({ cost }) => cost?.uncosted) ? 'uncosted-input' : null;
}

/** Of all bought mass that went in, what is in the output: losses take their share, gains bring none. In millionths it would round; so exactly. */
function boughtKept(boughtUg: bigint, input: Ratio, output: Ratio, gainsMg: number): Ratio {
  const own = plus(output, ratio(-BigInt(gainsMg), 1n));
  if (own.over <= 0n) return NOTHING;
  if (input.over === 0n || !isLess(own, input)) return ratio(boughtUg, 1n);
  return ratio(boughtUg * own.over * input.under, own.under * input.over);
}

/** What the rates of a process add. Per-kg rates are of what came out. */
interface Added {
  readonly batchFine: bigint;
  readonly perMgFine: bigint;
}

/** What rates say, summed. */
export type BatchRates = Pick<CostProcess, 'perBatchMinor' | 'perKgMinor'>;

type Output = Pick<CostLot, 'quantity' | 'massMg' | 'stands'>;

function addedTo(process: BatchRates, worked: boolean): Added {
  // Rates belong to work that was done: a batch that nothing went into or came out of was none.
  const batchFine = worked ? process.perBatchMinor * FINE_PER_MINOR : 0n;
  return { batchFine, perMgFine: (process.perKgMinor * FINE_PER_MINOR) / MG_PER_KG };
}

function standingMass(outputs: readonly Output[]): Ratio {
  return outputs.reduce((sum, lot) => (lot.stands > 0 ? plus(sum, massOf(lot, lot.stands)) : sum), NOTHING);
}

/**
 * What rates add to a process of which these outputs stand, rounded down.
 * @param worked whether something went in or came out
 */
export function addedFine(rates: BatchRates, worked: boolean, outputs: readonly Output[]): bigint {
  const { batchFine, perMgFine } = addedTo(rates, worked);
  return batchFine + floorOf(times(standingMass(outputs), perMgFine, 1n));
}

/**
 * @param puts all that went in, reversals net, with what it cost
 * @param outputs the lots that came out; those that nothing stands of cost nothing
 * @returns the cost of each output
 */
export function reckonOutputs(process: CostProcess, puts: readonly Put[], outputs: readonly CostLot[]): LotCost[] {
  const went = sumUp(puts);
  const output = standingMass(outputs);
  const { batchFine, perMgFine } = addedTo(process, true);
  const shared = went.fine + batchFine;
  const expected = expectedOf(process, went.mass);
  const carriers = expected && isLess(output, expected) ? expected : output;
  const bought = boughtKept(went.boughtUg, went.mass, output, process.gainsMg);
  const reason = reasonOf(puts);
  const unpricedPpm = reason === null ? 0 : unpricedPpmOf(went, reason);
  return outputs.map((lot): LotCost => {
    if (lot.stands <= 0) return costsNothing(lot.lotId);
    const [mass, quantity] = [BigInt(lot.massMg), BigInt(lot.quantity)];
    const part = ratio(shared * mass * carriers.under, quantity * carriers.over);
    const unitFine = floorOf(plus(part, ratio(perMgFine * mass, quantity)));
    const boughtUgPerUnit = floorOf(ratio(bought.over * mass * output.under, bought.under * quantity * output.over));
    return { lotId: lot.lotId, unitFine, uncosted: reason !== null, reason, unpricedPpm, boughtUgPerUnit };
  });
}

function unpricedPpmOf(went: Went, reason: LotCost['reason']): number {
  const { mass, unpriced } = went;
  if (mass.over === 0n) return reason === 'nothing-went-in' ? Number(PPM) : 0;
  return Number(ceilingOf(ratio(unpriced.over * mass.under, unpriced.under * mass.over)));
}

/**
 * The money of one process, from the costs of the lots on both sides. carried is what the outputs are worth at their unit costs, so what
 * rounding down leaves over is in the rest: pool = carried + rest to the last fine unit. What closed a circle was put in, so it is in the
 * pool; nothing carries it, so it is in the rest.
 */
export function moneyOfProcess(
  process: CostProcess,
  takings: readonly CostTaking[],
  outputs: readonly CostLot[],
  unitFineOf: (lotId: string) => bigint,
): ProcessCost {
  const worked = takings.length > 0 || outputs.some(({ stands }) => stands > 0);
  const added = addedFine(process, worked, outputs);
  const wentFine = takings.reduce((sum, { lotId, quantity }) => sum + BigInt(quantity) * unitFineOf(lotId), 0n);
  const carriedFine = outputs.reduce((sum, { lotId, stands }) => {
    return stands > 0 ? sum + BigInt(stands) * unitFineOf(lotId) : sum;
  }, 0n);
  const poolFine = wentFine + added;
  return { processId: process.processId, poolFine, addedFine: added, carriedFine, restFine: poolFine - carriedFine };
}

/** What one rate adds to a process that made these, rounded down. */
export function rateFine(
  rate: { readonly perBatchMinor: number | null; readonly perKgMinor: number | null },
  outputs: readonly CostLot[],
): bigint {
  const perMgFine = (BigInt(rate.perKgMinor ?? 0) * FINE_PER_MINOR) / MG_PER_KG;
  return BigInt(rate.perBatchMinor ?? 0) * FINE_PER_MINOR + floorOf(times(standingMass(outputs), perMgFine, 1n));
}

/** As of a lot that nothing stands of. */
export function costsNothing(lotId: string): LotCost {
  return { lotId, unitFine: 0n, uncosted: false, reason: null, unpricedPpm: 0, boughtUgPerUnit: 0n };
}

/** As of something that has no price at all. */
export function unknown(lotId: string): LotCost {
  return { ...costsNothing(lotId), uncosted: true, reason: 'no-price', unpricedPpm: Number(PPM) };
}

/** A lot that came from outside. */
export function reckonBought(lot: CostLot): LotCost {
  const boughtUgPerUnit =
    lot.source === 'bought' && !lot.packaging ? (BigInt(lot.massMg) * 1000n) / BigInt(lot.quantity) : 0n;
  const common = { lotId: lot.lotId, boughtUgPerUnit };
  const { price } = lot;
  if (price !== null && price.minor !== null) {
    const unitFine = (price.minor * FINE_PER_MINOR) / price.perQuantity;
    return { ...common, unitFine, uncosted: false, reason: null, unpricedPpm: 0 };
  }
  if (lot.source === 'free') return { ...common, unitFine: 0n, uncosted: false, reason: null, unpricedPpm: 0 };
  const reason = price?.zero ? 'price-zero' : 'no-price';
  return { ...common, unitFine: 0n, uncosted: true, reason, unpricedPpm: Number(PPM) };
}
