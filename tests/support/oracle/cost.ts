/**
 * What every lot cost, in exact fractions of a minor unit, read from the facts as they were told and from nothing else. Nothing is rounded
 * on the way. Rules: a lot's worth is what went into its process, times its share of the output's mass; a process carries no more than it
 * was planned to lose: min(1, output / expected output) of what went in. The rest is work in process, or an abnormal loss.
 */
import Fraction from 'fraction.js';
import {
  dateAt,
  itemOf,
  lotsOf,
  type BatchFact,
  type MonthFact,
  type MonthLot,
  type MonthWorld,
  type RateFact,
} from './month-facts.ts';
import type { ToldMovement } from './month-postings.ts';

export const ZERO = new Fraction(0);
const ONE = new Fraction(1);
const MG_PER_KG = 1_000_000;

interface OracleLotCost {
  /** minor units for one unit of quantity */
  readonly unit: Fraction;
  /** some of what went in has no price */
  readonly uncosted: boolean;
  /** made, and undone: nothing stands of it, and what went on from it cannot be costed */
  readonly hollow: boolean;
  /** milligrams bought from suppliers that are in one unit of quantity */
  readonly boughtMgPerUnit: Fraction;
}

interface OracleProcess {
  readonly processId: string;
  readonly batch: BatchFact | null;
  readonly state: 'open' | 'completed';
  /** what went in, and the rates per batch */
  readonly pool: Fraction;
  /** all rates, also those for each kilogram made */
  readonly added: Fraction;
  /** the rates that apply: for the batch, and for each kilogram made */
  readonly rates: { readonly perBatch: Fraction; readonly perKg: Fraction };
  /** what the outputs carry, rates for each kilogram included */
  readonly carried: Fraction;
  readonly rest: Fraction;
  /** net, of what stands */
  readonly takings: ReadonlyMap<string, number>;
  readonly outputs: ReadonlyMap<string, number>;
}

export interface OracleCosts {
  readonly costOf: (lotId: string) => OracleLotCost;
  readonly processes: ReadonlyMap<string, OracleProcess>;
  readonly lots: ReadonlyMap<string, MonthLot>;
}

interface Made extends OracleProcess {
  readonly uncosted: boolean;
  readonly boughtMg: Fraction;
}

/** The rate in force of each kind for a batch: the most specific, of those the latest to begin, of those the last told. */
function ratesOf(world: MonthWorld, facts: readonly MonthFact[], batch: BatchFact): RateFact[] {
  const day = dateAt(world, batch.siteId, batch.occurredAt);
  const rates = facts.filter((fact): fact is RateFact => fact.kind === 'rate');
  const sameStatement = (a: RateFact, b: RateFact): boolean =>
    a.rateKind === b.rateKind && a.siteId === b.siteId && a.recipeId === b.recipeId && a.fromDate === b.fromDate;
  const inForce = rates.filter(
    (rate, at) =>
      !rates.slice(at + 1).some((later) => sameStatement(rate, later)) &&
      (rate.siteId === null || rate.siteId === batch.siteId) &&
      (rate.recipeId === null || rate.recipeId === batch.recipeId) &&
      rate.fromDate <= day &&
      (rate.throughDate === null || day <= rate.throughDate),
  );
  const specific = (one: RateFact): number => (one.recipeId === null ? 0 : 2) + (one.siteId === null ? 0 : 1);
  const chosen = new Map<string, RateFact>();
  for (const rate of inForce) {
    const best = chosen.get(rate.rateKind);
    const better =
      best === undefined ||
      specific(rate) > specific(best) ||
      (specific(rate) === specific(best) && rate.fromDate >= best.fromDate);
    if (better) chosen.set(rate.rateKind, rate);
  }
  return [...chosen.values()];
}

/** @param facts those told by the cut, in order */
export function costsAt(
  world: MonthWorld,
  facts: readonly MonthFact[],
  movements: readonly ToldMovement[],
): OracleCosts {
  const known = movements.filter((moved) => moved.told <= facts.length);
  const lots = lotsOf(world, facts);
  const lotOf = (lotId: string): MonthLot => {
    const lot = lots.get(lotId);
    if (lot === undefined) throw new Error(`oracle: no lot ${lotId}`);
    return lot;
  };
  const takings = new Map<string, Map<string, number>>();
  const outputs = new Map<string, Map<string, number>>();
  const madeBy = new Map<string, string>();
  const add = (to: Map<string, Map<string, number>>, processId: string, lotId: string, quantity: number): void => {
    const sums = to.get(processId) ?? new Map<string, number>();
    sums.set(lotId, (sums.get(lotId) ?? 0) + quantity);
    to.set(processId, sums);
  };
  for (const { processId, lotId, to, quantity } of known) {
    if (processId === null) continue;
    if (to.startsWith('consumed:')) add(takings, processId, lotId, quantity);
    else {
      add(outputs, processId, lotId, quantity);
      madeBy.set(lotId, processId);
    }
  }
  const massOf = (lotId: string, quantity: number): Fraction => {
    const lot = lotOf(lotId);
    return new Fraction(lot.massMg).mul(quantity).div(lot.quantity);
  };

  const costs = new Map<string, OracleLotCost>();
  const processes = new Map<string, Made>();

  function bought(lot: MonthLot): OracleLotCost {
    const item = itemOf(world, lot.itemId);
    const isFood = item.packaging !== true && item.untracked !== true;
    const boughtMgPerUnit = isFood ? new Fraction(lot.massMg).div(lot.quantity) : ZERO;
    const told = facts.flatMap((fact) => (fact.kind === 'price' && fact.lotId === lot.lotId ? [fact] : [])).at(-1);
    const minor = told?.priceMinor ?? lot.bought?.priceMinor ?? null;
    const priced = minor !== null && (minor > 0 || told?.freeOfCharge === true);
    if (!priced) return { unit: ZERO, uncosted: item.untracked !== true, hollow: false, boughtMgPerUnit };
    return {
      unit: new Fraction(minor).div(told?.perQuantity ?? lot.quantity),
      uncosted: false,
      hollow: false,
      boughtMgPerUnit,
    };
  }

  function processOf(processId: string): Made {
    const ready = processes.get(processId);
    if (ready) return ready;
    const went = takings.get(processId) ?? new Map<string, number>();
    const came = outputs.get(processId) ?? new Map<string, number>();
    let inputs = ZERO;
    let inMg = ZERO;
    let boughtInMg = ZERO;
    let uncosted = false;
    let fed = false;
    for (const [lotId, quantity] of went) {
      if (quantity === 0) continue;
      const cost = costOf(lotId);
      inputs = inputs.add(cost.unit.mul(quantity));
      boughtInMg = boughtInMg.add(cost.boughtMgPerUnit.mul(quantity));
      uncosted ||= cost.uncosted || cost.hollow;
      fed = true;
      if (itemOf(world, lotOf(lotId).itemId).packaging !== true) inMg = inMg.add(massOf(lotId, quantity));
    }
    let outMg = ZERO;
    for (const [lotId, quantity] of came) outMg = outMg.add(massOf(lotId, quantity));
    const batch = facts.find((fact): fact is BatchFact => fact.kind === 'batch' && fact.batchId === processId) ?? null;
    const completion = facts.find((fact) => fact.kind === 'completion' && fact.batchId === processId);
    const conversion = facts.some((fact) => fact.kind === 'conversion' && fact.id === processId);
    const stands = [...went.values(), ...came.values()].some((quantity) => quantity !== 0);
    const rates = { perBatch: ZERO, perKg: ZERO };
    for (const rate of batch ? ratesOf(world, facts, batch) : []) {
      rates.perBatch = rates.perBatch.add(rate.perBatchMinor ?? 0);
      rates.perKg = rates.perKg.add(rate.perKgMinor ?? 0);
    }
    const perBatch = stands ? rates.perBatch : ZERO;
    const perKg = rates.perKg.mul(outMg).div(MG_PER_KG);
    const recipe = world.recipes.find((one) => one.id === batch?.recipeId);
    const expectedMg = batch ? inMg.mul(recipe?.expectedYieldPpm ?? 0).div(1_000_000) : inMg;
    const share = conversion || expectedMg.equals(0) ? ONE : least(ONE, outMg.div(expectedMg));
    const pool = inputs.add(perBatch);
    const carried = outMg.equals(0) ? ZERO : pool.mul(share).add(perKg);
    const gainsMg = completion?.kind === 'completion' ? completion.gainsMg : 0;
    const grown = outMg.sub(gainsMg);
    const kept = inMg.equals(0) ? ZERO : least(ONE, grown.compare(0) < 0 ? ZERO : grown.div(inMg));
    const made = {
      processId,
      batch,
      state: batch && !completion ? ('open' as const) : ('completed' as const),
      pool,
      added: perBatch.add(perKg),
      rates,
      carried,
      rest: pool.add(perKg).sub(carried),
      takings: went,
      outputs: came,
      // made of nothing that is known
      uncosted: uncosted || !fed,
      boughtMg: boughtInMg.mul(kept),
    };
    processes.set(processId, made);
    return made;
  }

  function costOf(lotId: string): OracleLotCost {
    const ready = costs.get(lotId);
    if (ready) return ready;
    const lot = lotOf(lotId);
    const processId = madeBy.get(lotId);
    let cost: OracleLotCost;
    if (lot.bought || processId === undefined) cost = bought(lot);
    else {
      const process = processOf(processId);
      const quantity = process.outputs.get(lotId) ?? 0;
      let outMg = ZERO;
      for (const [id, made] of process.outputs) outMg = outMg.add(massOf(id, made));
      // its share by mass, spread over what stands of it
      const perUnit = quantity === 0 || outMg.equals(0) ? ZERO : massOf(lotId, quantity).div(outMg).div(quantity);
      cost = {
        unit: process.carried.mul(perUnit),
        uncosted: process.uncosted,
        hollow: quantity === 0,
        boughtMgPerUnit: process.boughtMg.mul(perUnit),
      };
    }
    costs.set(lotId, cost);
    return cost;
  }

  for (const processId of new Set([...takings.keys(), ...outputs.keys()])) processOf(processId);
  return { costOf, processes, lots };
}

const least = (a: Fraction, b: Fraction): Fraction => (a.compare(b) < 0 ? a : b);

/**
 * Money is neither made nor lost: what was paid for all that came from suppliers and what rates added stands in lots, has gone out of them,
 * was lost beyond the plan, or is in process. Answers paid + added and the sum of the others, which must be equal.
 */
export function conservation(
  costs: OracleCosts,
  movements: readonly ToldMovement[],
  cut: number,
): { readonly paidAndAdded: Fraction; readonly standing: Fraction; readonly gone: Fraction; readonly rest: Fraction } {
  let paidAndAdded = ZERO;
  let standing = ZERO;
  let gone = ZERO;
  let rest = ZERO;
  for (const { lotId, from, to, quantity, told } of movements) {
    if (told > cut) continue;
    const worth = costs.costOf(lotId).unit.mul(quantity);
    const family = (account: string): string => account.slice(0, account.indexOf(':'));
    if (family(from) === 'supplier') paidAndAdded = paidAndAdded.add(worth);
    for (const [account, sign] of [
      [from, -1],
      [to, 1],
    ] as const) {
      const name = family(account);
      if (name === 'place' || name === 'road') standing = standing.add(worth.mul(sign));
      if (['served', 'waste', 'variance'].includes(name) || (name === 'supplier' && sign === 1)) {
        gone = gone.add(worth.mul(sign));
      }
    }
  }
  for (const process of costs.processes.values()) {
    paidAndAdded = paidAndAdded.add(process.added);
    rest = rest.add(process.rest);
  }
  return { paidAndAdded, standing, gone, rest };
}
