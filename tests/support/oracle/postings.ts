/** Turns facts into movements between accounts, by event time. Counts come last, since they read all the others. */
import {
  compareEvents,
  getSite,
  placeAccount,
  receivingPlaceOfDispatch,
  siteOfPlace,
  transitAccount,
} from './atlas.ts';
import type { CountFact, OracleFact, OraclePosting, World } from './types.ts';

type Movement = Pick<OraclePosting, 'lotId' | 'from' | 'to' | 'quantity'>;

function movementsOf(world: World, allFacts: readonly OracleFact[], fact: OracleFact): Movement[] {
  switch (fact.kind) {
    case 'receive':
      return [
        {
          lotId: fact.lotId,
          from: `supplier:${siteOfPlace(world, fact.placeId)}`,
          to: placeAccount(fact.placeId),
          quantity: fact.quantity,
        },
      ];
    case 'batch-input':
      return [
        {
          lotId: fact.lotId,
          from: placeAccount(fact.placeId),
          to: `consumed:${siteOfPlace(world, fact.placeId)}`,
          quantity: fact.quantity,
        },
      ];
    case 'batch-output':
      return [
        {
          lotId: fact.lotId,
          from: `produced:${siteOfPlace(world, fact.placeId)}`,
          to: placeAccount(fact.placeId),
          quantity: fact.quantity,
        },
      ];
    case 'packing':
      return fact.fills.flatMap((fill) => [
        {
          lotId: fill.fromLotId,
          from: placeAccount(fill.placeId),
          to: `consumed:${siteOfPlace(world, fill.placeId)}`,
          quantity: fill.usedQuantity,
        },
        {
          lotId: fill.packLotId,
          from: `produced:${siteOfPlace(world, fill.toPlaceId)}`,
          to: placeAccount(fill.toPlaceId),
          quantity: fill.packs,
        },
      ]);
    case 'move':
      return [
        {
          lotId: fact.lotId,
          from: placeAccount(fact.fromPlaceId),
          to: placeAccount(fact.toPlaceId),
          quantity: fact.quantity,
        },
      ];
    case 'dispatch':
      return fact.lines.map((line) => ({
        lotId: line.lotId,
        from: placeAccount(line.placeId),
        to: transitAccount(fact.dispatchId),
        quantity: line.quantity,
      }));
    case 'arrival-counted':
      return [
        {
          lotId: fact.lotId,
          from: transitAccount(fact.dispatchId),
          to: placeAccount(fact.placeId ?? receivingPlaceOfDispatch(world, allFacts, fact.dispatchId)),
          quantity: fact.quantity,
        },
      ];
    case 'use':
    case 'discard':
      return [
        {
          lotId: fact.lotId,
          from: placeAccount(fact.placeId),
          to: `${fact.kind === 'use' ? 'served' : 'waste'}:${siteOfPlace(world, fact.placeId)}`,
          quantity: fact.quantity,
        },
      ];
    case 'return-from-service':
      return [
        {
          lotId: fact.lotId,
          from: `served:${fact.siteId}`,
          to: placeAccount(getSite(world, fact.siteId).quarantinePlaceId),
          quantity: fact.quantity,
        },
      ];
    default:
      return []; // Counts, scans and holds are read elsewhere; a reversal only strikes out.
  }
}

export function ordinaryPostings(
  world: World,
  allFacts: readonly OracleFact[],
  liveFacts: readonly OracleFact[],
): OraclePosting[] {
  return liveFacts.flatMap((fact) =>
    movementsOf(world, allFacts, fact).map((m) => ({
      factId: fact.id,
      occurredAt: fact.occurredAt,
      rank: 0 as const,
      ...m,
    })),
  );
}

/** The sum of every posting of one lot on one account, in to out. */
export function balanceOf(postings: readonly OraclePosting[], lotId: string, account: string): number {
  let balance = 0;
  for (const p of postings) {
    if (p.lotId !== lotId) continue;
    if (p.to === account) balance += p.quantity;
    if (p.from === account) balance -= p.quantity;
  }
  return balance;
}

/**
 * All postings in event order, the counts' differences included. Each is what was counted minus everything that stands
 * before the count, so it never matters when a fact was told. A complete count has counted none of every lot that it has no
 * line for. What is gone from a place used by count was served; every other difference is variance.
 */
export function withVariances(
  world: World,
  ordinary: readonly OraclePosting[],
  liveFacts: readonly OracleFact[],
): OraclePosting[] {
  const all = [...ordinary];
  const counts = liveFacts
    .filter((f): f is CountFact => f.kind === 'count')
    .sort((a, b) => compareEvents({ ...a, rank: 1 }, { ...b, rank: 1 }));
  for (const count of counts) {
    const account = placeAccount(count.placeId);
    const siteId = siteOfPlace(world, count.placeId);
    const usedByCount = world.places.some((place) => place.id === count.placeId && place.usedByCount === true);
    for (const line of linesOf(count, all)) {
      const before = all.filter(
        (p) =>
          compareEvents(
            { occurredAt: p.occurredAt, rank: p.rank, id: p.factId },
            { occurredAt: count.occurredAt, rank: 1, id: count.id },
          ) < 0,
      );
      const difference = line.counted - balanceOf(before, line.lotId, account);
      if (difference === 0) continue;
      const outside = usedByCount && difference < 0 ? `served:${siteId}` : `variance:${siteId}`;
      all.push({
        factId: count.id,
        occurredAt: count.occurredAt,
        rank: 1,
        lotId: line.lotId,
        from: difference > 0 ? outside : account,
        to: difference > 0 ? account : outside,
        quantity: Math.abs(difference),
      });
    }
  }
  return all.sort((a, b) => compareEvents({ ...a, id: a.factId }, { ...b, id: b.factId }));
}

function linesOf(count: CountFact, postings: readonly OraclePosting[]): CountFact['lines'] {
  if (count.complete !== true) return count.lines;
  const unnamed = [...new Set(postings.map((p) => p.lotId))].filter((id) => !count.lines.some((l) => l.lotId === id));
  return [...count.lines, ...unnamed.map((lotId) => ({ lotId, counted: 0 }))];
}
