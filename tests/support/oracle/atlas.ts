/**
 * Looks things up in the world by plain search, and names accounts. Throws on an unknown id: the oracle is only ever
 * given complete stories, so an unknown id is a mistake of the test.
 */
import type { DispatchFact, OracleFact, OracleSite, World } from './types.ts';

export const placeAccount = (placeId: string): string => `place:${placeId}`;
export const transitAccount = (dispatchId: string): string => `transit:${dispatchId}`;

export function siteOfPlace(world: World, placeId: string): string {
  const place = world.places.find((p) => p.id === placeId);
  if (place === undefined) throw new Error(`oracle: no place ${placeId}`);
  return place.siteId;
}

export function getSite(world: World, siteId: string): OracleSite {
  const site = world.sites.find((s) => s.id === siteId);
  if (site === undefined) throw new Error(`oracle: no site ${siteId}`);
  return site;
}

/** `facts` must include reversed ones: a consignment that was undone still had a destination. */
export function receivingPlaceOfDispatch(world: World, facts: readonly OracleFact[], dispatchId: string): string {
  const dispatch = facts.find((f): f is DispatchFact => f.kind === 'dispatch' && f.dispatchId === dispatchId);
  if (dispatch === undefined) throw new Error(`oracle: no dispatch ${dispatchId}`);
  return getSite(world, dispatch.toSiteId).receivingPlaceId;
}

export function useByOf(world: World, lotId: string): number {
  return world.lots?.find((l) => l.lotId === lotId)?.useByMs ?? Number.POSITIVE_INFINITY;
}

/** Place and transit accounts hold food; all other accounts are outside. */
export function isPhysical(account: string): boolean {
  return account.startsWith('place:') || account.startsWith('transit:');
}

/** What is left when every reversed fact and every reversal is struck out; a fact told twice counts once. */
export function liveFactsOf(facts: readonly OracleFact[]): OracleFact[] {
  const told = facts.filter((fact, index) => facts.findIndex((f) => f.id === fact.id) === index);
  return told.filter(
    (fact) => fact.kind !== 'reversal' && !told.some((f) => f.kind === 'reversal' && f.ofFactId === fact.id),
  );
}

/** Event order: time, then ordinary facts before counts, then id as plain text. */
export function compareEvents(
  a: { readonly occurredAt: number; readonly rank: number; readonly id: string },
  b: { readonly occurredAt: number; readonly rank: number; readonly id: string },
): number {
  if (a.occurredAt !== b.occurredAt) return a.occurredAt - b.occurredAt;
  if (a.rank !== b.rank) return a.rank - b.rank;
  if (a.id === b.id) return 0;
  return a.id < b.id ? -1 : 1;
}
