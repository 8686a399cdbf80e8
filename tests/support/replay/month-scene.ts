/** What a story has to go on with: what is known, what is there, and chance. */
import { lotsOf, type BatchFact, type MonthFact, type MonthLot, type OutputFact } from '../oracle/month-facts.ts';
import { balancesOf } from '../oracle/month-postings.ts';
import type { Dice } from './dice.ts';
import { CHILLERS, WORLD } from './month-world.ts';

export interface Held {
  readonly lot: MonthLot;
  readonly placeId: string;
  readonly quantity: number;
}

export interface Scene extends Dice {
  readonly facts: readonly MonthFact[];
  readonly nowMs: number;
  readonly stock: readonly Held[];
  /** any of the stock */
  readonly any: Held | null;
}

/** How a fact of one kind is made up; null when there is nothing to do it with. */
export type Maker = (scene: Scene, base: { readonly id: string; readonly occurredAt: number }) => MonthFact | null;

export function sceneOf(facts: readonly MonthFact[], nowMs: number, dice: Dice): Scene {
  const lots = lotsOf(WORLD, facts);
  const stock = [...balancesOf(WORLD, facts)].flatMap(([key, quantity]): Held[] => {
    const [lotId = '', account = ''] = key.split('|');
    const lot = lots.get(lotId);
    const placeId = account.slice('place:'.length);
    return lot && quantity > 0 && account.startsWith('place:') ? [{ lot, placeId, quantity }] : [];
  });
  return { ...dice, facts, nowMs, stock, any: stock.length > 0 ? dice.oneOf(stock) : null };
}

/** mostly some of it, at times all, rarely more than there is */
export function partOf({ chance, whole }: Dice, of: Held, exactly?: number) {
  const some = (): number => {
    if (chance(0.25)) return of.quantity;
    return chance(0.03) ? of.quantity + 7 : whole(1, of.quantity);
  };
  return { lotId: of.lot.lotId, placeId: of.placeId, quantity: exactly ?? some() };
}

export const chillerOf = (siteId: string): string => CHILLERS.find((one) => one.siteId === siteId)?.id ?? '';

export function batchesOf(facts: readonly MonthFact[], openOnly: boolean): BatchFact[] {
  const completed = new Set(facts.flatMap((fact) => (fact.kind === 'completion' ? [fact.batchId] : [])));
  return facts.flatMap((fact) => (fact.kind === 'batch' && !(openOnly && completed.has(fact.batchId)) ? [fact] : []));
}

export const outputsOf = (facts: readonly MonthFact[], batchId: string): OutputFact[] =>
  facts.flatMap((fact) => (fact.kind === 'output' && fact.batchId === batchId ? [fact] : []));

/** The lots that a lot was made from, undone or not, itself included. */
export function originsOf(facts: readonly MonthFact[], lotId: string, seen = new Set<string>()): Set<string> {
  if (seen.has(lotId)) return seen;
  seen.add(lotId);
  const from: string[] = [];
  for (const fact of facts) {
    if (fact.kind === 'output' && fact.lotId === lotId) {
      for (const one of facts) if (one.kind === 'input' && one.batchId === fact.batchId) from.push(one.lotId);
    }
    if (fact.kind === 'conversion' && fact.into.lotId === lotId) from.push(fact.from.lotId);
    if (fact.kind === 'packing' && fact.fills.some((fill) => fill.packs.lotId === lotId)) {
      from.push(...fact.fills.map((fill) => fill.from.lotId));
    }
  }
  for (const one of from) originsOf(facts, one, seen);
  return seen;
}
