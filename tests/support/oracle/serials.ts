/**
 * The path of each serialised pack, as a pure function of the set of its scans: the earliest terminal scan by time,
 * then id, wins; later ones are findings. Reads nothing but scans, so what was dispatched does not steer it.
 */
import {
  compareEvents,
  getSite,
  placeAccount,
  receivingPlaceOfDispatch,
  siteOfPlace,
  transitAccount,
} from './atlas.ts';
import type { OracleFact, OraclePosting, ScanFact, World } from './types.ts';

export interface SerialReading {
  readonly postings: OraclePosting[];
  /** "seen-after-end|scanId" and "ended-twice|scanId" */
  readonly findings: string[];
  /** Ids of the scans that ended a pack. */
  readonly winningEnds: string[];
}

function isScan(fact: OracleFact): fact is ScanFact {
  return (
    fact.kind === 'scan-arrival' ||
    fact.kind === 'scan-put-away' ||
    fact.kind === 'scan-use' ||
    fact.kind === 'scan-discard'
  );
}

export function readSerials(
  world: World,
  allFacts: readonly OracleFact[],
  liveFacts: readonly OracleFact[],
): SerialReading {
  const reading: SerialReading = { postings: [], findings: [], winningEnds: [] };
  const scans = liveFacts.filter(isScan);
  const packs = new Set(scans.map((s) => JSON.stringify([s.lotId, s.serial])));
  for (const pack of packs) {
    const own = scans.filter((s) => JSON.stringify([s.lotId, s.serial]) === pack);
    readOnePack(world, allFacts, own, reading);
  }
  return reading;
}

function readOnePack(
  world: World,
  allFacts: readonly OracleFact[],
  scans: readonly ScanFact[],
  reading: SerialReading,
): void {
  let location: string | undefined;
  let ended = false;
  const arrivedOn = new Set<string>();

  const post = (scan: ScanFact, from: string, to: string): void => {
    reading.postings.push({
      factId: scan.id,
      occurredAt: scan.occurredAt,
      rank: 0,
      lotId: scan.lotId,
      from,
      to,
      quantity: 1,
    });
  };

  const sorted = [...scans].sort((a, b) => compareEvents({ ...a, rank: 0 }, { ...b, rank: 0 }));
  for (const scan of sorted) {
    if (scan.kind === 'scan-arrival') {
      if (arrivedOn.has(scan.dispatchId)) continue;
      arrivedOn.add(scan.dispatchId);
      const into = scan.placeId ?? receivingPlaceOfDispatch(world, allFacts, scan.dispatchId);
      post(scan, transitAccount(scan.dispatchId), placeAccount(into));
      if (!ended) location = into;
      continue;
    }

    const receivingPlaceId = getSite(world, scan.siteId).receivingPlaceId;
    const here = location !== undefined && siteOfPlace(world, location) === scan.siteId ? location : undefined;

    if (scan.kind === 'scan-put-away') {
      if (ended) {
        reading.findings.push(`seen-after-end|${scan.id}`);
        continue;
      }
      const from = here ?? receivingPlaceId;
      if (from !== scan.placeId) post(scan, placeAccount(from), placeAccount(scan.placeId));
      location = scan.placeId;
      continue;
    }

    if (ended) {
      reading.findings.push(`ended-twice|${scan.id}`);
      continue;
    }
    const from = here ?? scan.placeId ?? receivingPlaceId;
    post(scan, placeAccount(from), scan.kind === 'scan-use' ? `served:${scan.siteId}` : `waste:${scan.siteId}`);
    ended = true;
    reading.winningEnds.push(scan.id);
  }
}
