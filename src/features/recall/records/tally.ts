/** What a file counts while it is written: rows, lots, the places that rows name, what is missing. */
import type { MissingAnswer } from './contract.ts';
import type { EventChunk, Place } from './events.ts';

export interface Tally {
  lotCount: number;
  eventCount: number;
  readonly byEvent: Map<string, number>;
  readonly missing: Map<string, MissingAnswer>;
  readonly places: Map<string, Place>;
}

export function newTally(): Tally {
  return { lotCount: 0, eventCount: 0, byEvent: new Map(), missing: new Map(), places: new Map() };
}

export function count(tally: Tally, chunk: EventChunk): void {
  tally.lotCount += chunk.lots.length;
  tally.eventCount += chunk.events.length;
  for (const { kind, missing, location, tlcSource, previousSource, recipient, owner } of chunk.events) {
    tally.byEvent.set(kind, (tally.byEvent.get(kind) ?? 0) + 1);
    for (const place of [location, tlcSource, previousSource, recipient, owner]) {
      if (place) tally.places.set(place.locationId, place);
    }
    for (const { element, part, law } of missing) {
      const key = `${law}|${element}|${part}`;
      const rows = (tally.missing.get(key)?.rows ?? 0) + 1;
      tally.missing.set(key, { element, part, law, rows });
    }
  }
}

export const missingList = ({ missing }: Tally): MissingAnswer[] =>
  [...missing.values()].sort(
    (a, b) => b.rows - a.rows || a.law.localeCompare(b.law) || a.element.localeCompare(b.element),
  );

export const placeList = ({ places }: Tally): Place[] =>
  [...places.values()].sort((a, b) => a.kind.localeCompare(b.kind) || a.name.localeCompare(b.name));
