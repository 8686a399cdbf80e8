/** What a case says over HTTP, held against the oracle. */
import { randomUUID } from 'node:crypto';
import { expect } from 'vitest';
import type { OracleScenario } from '../oracle/arbitraries.ts';
import { replay, type OracleFact, type OracleState, type World } from '../oracle/oracle.ts';
import { quantitiesOf, sitesOf, type Quantities } from '../oracle/recall-account.ts';
import { faultOfPath, type ScopeOver } from '../oracle/recall.ts';
import type { Json } from '../kitchen.ts';
import type { Client } from '../service.ts';
import { ITEMS } from './group.ts';
import { bodyOf, everyItem } from './recall.ts';

const sorted = (keys: Iterable<string>): string[] => [...keys].sort();
const lotIdsOf = (lots: readonly Json[]): string[] => lots.map((lot) => lot.lotId as string).sort();

/** Nothing is missing, nothing is too much. */
function expectWithin(found: readonly string[], { must, may }: ScopeOver['scope'], what: string): void {
  expect(
    sorted(must).filter((id) => !found.includes(id)),
    `${what}: missing`,
  ).toEqual([]);
  expect(
    found.filter((id) => !may.has(id)),
    `${what}: too much`,
  ).toEqual([]);
}

const itemOf = (story: OracleScenario, lotId: string): string => {
  if (story.lots.find((lot) => lot.lotId === lotId)?.form !== 'bulk') return ITEMS.packed;
  return story.facts.some((f) => f.kind === 'receive' && f.lotId === lotId) ? ITEMS.supplied : ITEMS.produced;
};

const FIGURES = ['produced', 'onHand', 'inTransit', 'served', 'wasted', 'returned', 'consumed', 'unexplained'] as const;
const figuresIn = (from: Json): Quantities =>
  Object.fromEntries(FIGURES.map((figure) => [figure, from[figure]])) as Quantities;

export function expectTotals(
  totals: readonly Json[],
  story: OracleScenario,
  state: OracleState,
  lotIds: readonly string[],
): void {
  const expected: Record<string, Quantities> = {};
  for (const lotId of lotIds) {
    const sums = (expected[itemOf(story, lotId)] ??= quantitiesOf(state, randomUUID()));
    for (const [figure, quantity] of Object.entries(quantitiesOf(state, lotId)))
      sums[figure as keyof Quantities] += quantity;
  }
  expect(Object.fromEntries(totals.map((total) => [total.itemId, figuresIn(total)]))).toEqual(expected);
  for (const total of totals) expect(total.balanced).toBe(true);
}

/** Sites that any fact about a lot names, also one that turned out to be wrong: a scan that a later one overrules, for example. */
function sitesNamed(world: World, told: readonly OracleFact[], lotId: string): string[] {
  const about = told.filter((fact) => JSON.stringify(fact).includes(lotId)).map((fact) => JSON.stringify(fact));
  return world.sites
    .filter((site) => {
      const ids = [site.id, ...world.places.filter((place) => place.siteId === site.id).map((place) => place.id)];
      return about.some((text) => ids.some((id) => text.includes(id)));
    })
    .map((site) => site.id);
}

/** A site is named when it has or had any of the food; whether one whose facts were all undone is named, nobody minds. */
export function expectSites(
  sites: readonly Json[],
  told: readonly OracleFact[],
  state: OracleState,
  lotIds: readonly string[],
): void {
  const ever = replay(
    state.world,
    told.filter((fact) => fact.kind !== 'reversal'),
  );
  const tally = (of: OracleState, more: (lotId: string) => Iterable<string>): Map<string, number> => {
    const counts = new Map<string, number>();
    for (const lotId of lotIds) {
      for (const siteId of new Set([...sitesOf(of, told, lotId), ...more(lotId)]))
        counts.set(siteId, (counts.get(siteId) ?? 0) + 1);
    }
    return counts;
  };
  const found = new Map(sites.map((site) => [site.siteId as string, site.lotCount as number]));
  const [least, most] = [tally(state, () => []), tally(ever, (lotId) => sitesNamed(state.world, told, lotId))];
  for (const [siteId, count] of least) expect(found.get(siteId) ?? 0, `site ${siteId}`).toBeGreaterThanOrEqual(count);
  for (const [siteId, count] of found) expect(count, `site ${siteId}`).toBeLessThanOrEqual(most.get(siteId) ?? 0);
}

export function expectRoad(onTheRoad: readonly Json[], state: OracleState, lotIds: readonly string[]): void {
  const road: Record<string, Record<string, number>> = {};
  for (const lotId of lotIds) {
    for (const [account, net] of state.whereIs(lotId)) {
      const [family, id = ''] = account.split(':');
      if (family === 'transit' && net > 0) (road[id] ??= {})[lotId] = net;
    }
  }
  const found = onTheRoad.map((one) => [
    one.dispatchId,
    Object.fromEntries((one.lots as Json[]).map((lot) => [lot.lotId, lot.quantity])),
  ]);
  expect(Object.fromEntries(found)).toEqual(road);
}

export interface Case {
  readonly story: OracleScenario;
  readonly office: Client;
  readonly recallId: string;
}

async function expectLots({ office, recallId }: Case, state: OracleState, over: ScopeOver): Promise<string[]> {
  const lots = await everyItem(office, `/v1/recalls/${recallId}/lots`);
  const found = lotIdsOf(lots);
  expect(new Set(found).size).toBe(found.length);
  expectWithin(found, over.scope, 'scope');
  for (const lot of lots) {
    const path = (lot.reasonPath as Json[]).map((step) => step.lotId as string);
    expect([lot.lotId, faultOfPath(path, lot.lotId, over)]).toEqual([lot.lotId, null]);
    expect((lot.reasonPath as Json[]).map((step) => step.via === 'start')).toEqual(path.map((_, at) => at === 0));
    const quantities = figuresIn(lot.quantities);
    expect(quantities, `quantities of ${lot.lotId}`).toEqual(quantitiesOf(state, lot.lotId));
    const { produced, ...parts } = quantities;
    expect(Object.values(parts).reduce((sum, part) => sum + part, 0)).toBe(produced);
    expect(lot.quantities.balanced).toBe(true);
    const where = (lot.where as Json[]).reduce((sum, one) => sum + (one.quantity as number), 0);
    expect(where, `where ${lot.lotId} is`).toBe(produced);
  }
  return found;
}

export async function expectRecall(one: Case, told: readonly OracleFact[], over: ScopeOver): Promise<string[]> {
  const { story, office, recallId } = one;
  const state = replay(story.world, told);
  const found = await expectLots(one, state, over);
  const recall = bodyOf(await office.get(`/v1/recalls/${recallId}`), 200);
  expect(recall.lotCount).toBe(found.length);
  expectTotals(recall.totals, story, state, found);
  expectSites(recall.sites, told, state, found);
  expectRoad(recall.onTheRoad, state, found);
  return found;
}

export async function expectRevisions(
  { office, recallId }: Case,
  over: ScopeOver,
  opened: readonly string[],
): Promise<void> {
  const { revisions } = bodyOf(await office.get(`/v1/recalls/${recallId}/revisions`), 200);
  expect((revisions as Json[]).map((one) => one.revision)).toEqual((revisions as Json[]).map((_, at) => at + 1));
  const [first, ...later] = revisions as Json[];
  expect(lotIdsOf(first.addedLots)).toEqual(sorted(opened));
  expect(later.map((one) => [one.factId, one.addedLotCount, lotIdsOf(one.addedLots)])).toEqual(
    over.revisions.map(({ factId, added }) => [factId, added.size, sorted(added)]),
  );
}

/** What a request or a use took of which lots. */
export function takenBy(fact: OracleFact): string[] {
  switch (fact.kind) {
    case 'use':
    case 'batch-input':
      return [fact.lotId];
    case 'packing':
      return fact.fills.map((fill) => fill.fromLotId);
    case 'dispatch':
      return fact.lines.map((line) => line.lotId);
    default:
      return [];
  }
}

export async function expectExceptions(
  one: Case,
  told: readonly OracleFact[],
  opened: number,
  openedMs: number,
  over: ScopeOver,
): Promise<void> {
  const exceptions = await everyItem(one.office, `/v1/recalls/${one.recallId}/exceptions`);
  const found = exceptions.map((each) => `${each.factId}|${each.lotId}`);
  const undone = new Set(told.flatMap((fact) => (fact.kind === 'reversal' ? [fact.ofFactId] : [])));
  const later = told.slice(opened);
  const against = (fact: OracleFact, lotId: string): boolean => {
    const since = over.since.get(lotId);
    return since !== undefined && told.indexOf(fact) >= since && fact.occurredAt >= openedMs;
  };
  const must = later.flatMap((fact) =>
    undone.has(fact.id)
      ? []
      : takenBy(fact).flatMap((lotId) => (against(fact, lotId) ? [`${fact.kind} ${fact.id}|${lotId}`] : [])),
  );
  expect(
    [...new Set(must)].filter((key) => !found.includes(key.split(' ')[1] ?? '')),
    'exceptions: missing',
  ).toEqual([]);
  const known = new Set(told.slice(0, opened).map((fact) => fact.id));
  expect(
    exceptions.filter((each) => known.has(each.factId) || !over.scope.may.has(each.lotId)),
    'exceptions: too much',
  ).toEqual([]);
}
