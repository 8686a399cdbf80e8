/** A kitchen of few words, for stories that are worked out by hand. */
import { randomUUID } from 'node:crypto';
import { conservation, costsAt, type OracleCosts } from './cost.ts';
import type { MonthFact, MonthItem, MonthWorld } from './month-facts.ts';
import { toldMovements } from './month-postings.ts';

const gramsOf = (id: string, more: Partial<MonthItem> = {}): MonthItem => ({
  id,
  unit: 'g',
  unitMassMg: 1000,
  ...more,
});
export const WORLD: MonthWorld = {
  sites: [
    { id: 'K', timeZone: 'Europe/London' },
    { id: 'H', timeZone: 'America/New_York' },
  ],
  places: [
    { id: 'k', siteId: 'K', usedByCount: false },
    { id: 'shelf', siteId: 'K', usedByCount: true },
    { id: 'h', siteId: 'H', usedByCount: false },
  ],
  items: [
    gramsOf('carrot'),
    gramsOf('onion'),
    gramsOf('water', { untracked: true }),
    gramsOf('soup'),
    gramsOf('stew'),
    gramsOf('pie'),
    { id: 'pack', unit: 'piece', unitMassMg: 300_000 },
  ],
  recipes: [
    { id: 'soup', itemId: 'soup', expectedYieldPpm: 900_000 },
    { id: 'stew', itemId: 'stew', expectedYieldPpm: 800_000 },
    { id: 'pie', itemId: 'pie', expectedYieldPpm: 500_000 },
    { id: 'wall', itemId: 'soup', expectedYieldPpm: 884_615 },
    { id: 'thirty-six', itemId: 'soup', expectedYieldPpm: 360_000 },
  ],
};

export const at = (instant: string): { readonly id: string; readonly occurredAt: number } => ({
  id: randomUUID(),
  occurredAt: Date.parse(instant),
});
export const SEPTEMBER = '2026-09-10T10:00:00Z';
export const buy = (lotId: string, quantity: number, priceMinor: number | null): MonthFact => ({
  ...at(SEPTEMBER),
  kind: 'bought',
  lotId,
  itemId: lotId.replace(/\d/, ''),
  placeId: 'k',
  quantity,
  priceMinor,
});
export const batch = (batchId: string, recipeId: string): MonthFact => ({
  ...at(SEPTEMBER),
  kind: 'batch',
  batchId,
  siteId: 'K',
  recipeId,
});
export const into = (batchId: string, lotId: string, quantity: number): MonthFact => ({
  ...at(SEPTEMBER),
  kind: 'input',
  batchId,
  lotId,
  placeId: 'k',
  quantity,
});
export const out = (batchId: string, lotId: string, itemId: string, quantity: number): MonthFact => ({
  ...at(SEPTEMBER),
  kind: 'output',
  batchId,
  lotId,
  itemId,
  placeId: 'k',
  quantity,
});
export const done = (batchId: string, gainsMg = 0): MonthFact => ({
  ...at(SEPTEMBER),
  kind: 'completion',
  batchId,
  gainsMg,
});
export const use = (lotId: string, quantity: number, when = SEPTEMBER): MonthFact => ({
  ...at(when),
  kind: 'use',
  lotId,
  placeId: 'k',
  quantity,
  purpose: 'service',
});
export const close = (month: string): MonthFact => ({ ...at('2026-12-01T00:00:00Z'), kind: 'close', month });

export const costsOf = (facts: readonly MonthFact[]): OracleCosts => costsAt(WORLD, facts, toldMovements(WORLD, facts));

/** What was paid and added, and what stands, has gone or is lost: the same. */
export function bothSides(facts: readonly MonthFact[]): readonly [string, string] {
  const { paidAndAdded, standing, gone, rest } = conservation(
    costsOf(facts),
    toldMovements(WORLD, facts),
    facts.length,
  );
  return [paidAndAdded.toFraction(), standing.add(gone).add(rest).toFraction()];
}
