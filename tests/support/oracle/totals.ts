/**
 * Scans of labels without a serial: all that speak of the same thing are sorted by time, then id, and the last is the total.
 * An arrival speaks of what came by one dispatch; a put-away of what was put into one place on one day; a use of one meal from
 * one place on one day; a discard of what went from one place on one day. Days are those of London, where the stories happen.
 */
import { compareEvents, getSite, placeAccount, transitAccount } from './atlas.ts';
import type { CountedScanFact, OracleFact, OraclePosting, World } from './types.ts';

const dayOf = new Intl.DateTimeFormat('sv-SE', { timeZone: 'Europe/London' });

function subjectOf(world: World, scan: CountedScanFact): string {
  const place = scan.placeId ?? getSite(world, scan.siteId).receivingPlaceId;
  const day = dayOf.format(scan.occurredAt);
  const about = scan.what === 'arrival' ? [scan.dispatchId] : [place, day, scan.what === 'use' ? scan.meal : ''];
  return [scan.what, scan.lotId, ...about].join(' ');
}

/** The scans that count: the last one of each subject. */
export function lastWords(world: World, liveFacts: readonly OracleFact[]): CountedScanFact[] {
  const scans = liveFacts.filter((fact): fact is CountedScanFact => fact.kind === 'scan-counted');
  return scans.filter(
    (scan) =>
      !scans.some(
        (other) =>
          subjectOf(world, other) === subjectOf(world, scan) &&
          compareEvents({ ...other, rank: 0 }, { ...scan, rank: 0 }) > 0,
      ),
  );
}

export function totalPostings(world: World, liveFacts: readonly OracleFact[]): OraclePosting[] {
  return lastWords(world, liveFacts).flatMap((scan) => {
    const receiving = getSite(world, scan.siteId).receivingPlaceId;
    const place = placeAccount(scan.placeId ?? receiving);
    const [from, to] = {
      arrival: [transitAccount(scan.dispatchId ?? ''), place],
      'put-away': [placeAccount(receiving), place],
      use: [place, `served:${scan.siteId}`],
      discard: [place, `waste:${scan.siteId}`],
    }[scan.what] as [string, string];
    const { id: factId, occurredAt, lotId, quantity } = scan;
    return from === to ? [] : [{ factId, occurredAt, rank: 0 as const, lotId, from, to, quantity }];
  });
}
