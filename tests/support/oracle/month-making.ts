/**
 * The money of making, process by process. Each batch, packing run and conversion has a purse: what goes in and is added by rates fills it,
 * what comes out empties it. What is in the purse of a batch that is not complete is work in process; in any other it is lost, in the month
 * in which it got there. When prices change later, purses change too: by what is in them of what had moved before.
 */
import Fraction from 'fraction.js';
import { ZERO, type OracleCosts } from './cost.ts';
import { dateAt, type MonthFact, type MonthWorld } from './month-facts.ts';
import { periodOf, type ActiveClose, type Scope } from './month-lines.ts';
import type { ToldMovement } from './month-postings.ts';

export interface OracleMaking {
  opening: Fraction;
  revalued: Fraction;
  consumed: Fraction;
  added: Fraction;
  produced: Fraction;
  closing: Fraction;
  readonly lossOf: Map<string, Fraction>;
}

interface Asked {
  readonly month: string;
  readonly through: string;
  readonly scope: Scope;
  readonly closes: readonly ActiveClose[];
  readonly costs: OracleCosts;
  /** what the month before was closed with */
  readonly oldCosts: OracleCosts;
}

/** By the end of the months for which `counts` says yes. */
function rated(
  moved: readonly ToldMovement[],
  { costs, lots }: { costs: OracleCosts; lots: OracleCosts['lots'] },
  counts: (moved: ToldMovement) => boolean,
): Fraction {
  const [first] = moved;
  const rates = costs.processes.get(first?.processId ?? '')?.rates;
  if (rates === undefined) return ZERO;
  const net = new Map<string, number>();
  let kg = ZERO;
  for (const one of moved.filter(counts)) {
    const inward = one.to.startsWith('consumed:');
    const key = `${inward}|${one.lotId}`;
    net.set(key, (net.get(key) ?? 0) + one.quantity);
    const lot = lots.get(one.lotId);
    if (!inward && lot) kg = kg.add(new Fraction(lot.massMg).mul(one.quantity).div(lot.quantity).div(1_000_000));
  }
  const begun = [...net.values()].some((quantity) => quantity !== 0);
  return (begun ? rates.perBatch : ZERO).add(rates.perKg.mul(kg));
}

export function makingOf(
  world: MonthWorld,
  known: readonly MonthFact[],
  movements: readonly ToldMovement[],
  { month, through, scope, closes, costs, oldCosts }: Asked,
): OracleMaking {
  const sums: OracleMaking = {
    opening: ZERO,
    revalued: ZERO,
    consumed: ZERO,
    added: ZERO,
    produced: ZERO,
    closing: ZERO,
    lossOf: new Map(),
  };
  const byProcess = new Map<string, ToldMovement[]>();
  for (const moved of movements) {
    if (moved.processId === null || moved.told > known.length || periodOf(moved, closes) > through) continue;
    byProcess.set(moved.processId, [...(byProcess.get(moved.processId) ?? []), moved]);
  }
  const unitAt = (at: OracleCosts, lotId: string): Fraction => (at.lots.has(lotId) ? at.costOf(lotId).unit : ZERO);
  for (const [processId, moved] of byProcess) {
    const account = moved[0]?.to.startsWith('consumed:') ? moved[0].to : (moved[0]?.from ?? '');
    const siteId = account.slice(account.indexOf(':') + 1);
    if (scope.siteIds !== null && !scope.siteIds.includes(siteId)) continue;
    const batch = costs.processes.get(processId)?.batch ?? null;
    const told = known.findIndex((fact) => fact.kind === 'completion' && fact.batchId === processId);
    const completion = known[told];
    // a packing run or conversion is complete from the beginning
    let completed: string | null = batch === null ? '' : null;
    if (batch && completion) {
      const occurredOn = dateAt(world, batch.siteId, completion.occurredAt);
      completed = periodOf({ occurredOn, told: told + 1 } as ToldMovement, closes);
    }
    const openIn = (last: 'before' | 'end'): boolean =>
      completed === null || (last === 'before' ? completed >= month : completed > through);
    const early = (one: ToldMovement): boolean => periodOf(one, closes) < month;
    const { lots } = costs;
    let opening = rated(moved, { costs: oldCosts, lots }, early);
    let later = rated(moved, { costs, lots }, early).sub(opening);
    const added = rated(moved, { costs, lots }, () => true).sub(rated(moved, { costs, lots }, early));
    let flowed = ZERO;
    for (const one of moved) {
      const inward = one.to.startsWith('consumed:');
      const worth = unitAt(costs, one.lotId).mul(one.quantity);
      if (early(one)) {
        const old = unitAt(oldCosts, one.lotId).mul(one.quantity);
        opening = inward ? opening.add(old) : opening.sub(old);
        later = inward ? later.add(worth).sub(old) : later.sub(worth).add(old);
        continue;
      }
      flowed = inward ? flowed.add(worth) : flowed.sub(worth);
      if (inward) sums.consumed = sums.consumed.add(worth);
      else sums.produced = sums.produced.add(worth);
    }
    // what was lost in closed months is theirs
    const stood = openIn('before') ? opening : ZERO;
    const purse = stood.add(later).add(flowed).add(added);
    sums.opening = sums.opening.add(stood);
    sums.revalued = sums.revalued.add(later);
    sums.added = sums.added.add(added);
    if (openIn('end')) sums.closing = sums.closing.add(purse);
    else sums.lossOf.set(siteId, (sums.lossOf.get(siteId) ?? ZERO).add(purse));
  }
  return sums;
}
