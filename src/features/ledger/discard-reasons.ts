/** Why something was thrown away and where it went. Refusal: `discard-reason-unknown`, with what the site has. */
import destinationTable from '../../../shared/destinations.json' with { type: 'json' };
import { Refused } from '../../domain/errors.ts';
import type { KnownReason } from '../../domain/waste-reasons.ts';

const destinations: ReadonlySet<string> = new Set(destinationTable.list.map((one) => one.code));
const NONE: ReadonlyMap<string, KnownReason> = new Map();

/** Of the ten of the Food Loss and Waste Standard. */
export const DESTINATIONS: readonly string[] = [...destinations];

interface Said {
  readonly reason: string;
  readonly destination: string;
  readonly note?: string | undefined;
}

/**
 * Refuses a reason that the site does not have, or a destination that the standard does not have. A reason that the site does not offer
 * any more passes: the food is gone, and whoever wrote it down may have had yesterday's list.
 * @param known reasons of the site, from the catalogue
 */
export function checkDiscardReason(
  known: ReadonlyMap<string, KnownReason> = NONE,
  { reason, destination, note }: Said,
): void {
  const unknown = (detail: string) => {
    const reasons = Array.from(known, ([code, { label }]) => ({ code, label }));
    return new Refused('discard-reason-unknown', detail, { members: { reasons, destinations: DESTINATIONS } });
  };
  if (!known.has(reason)) throw unknown(`The reason ${reason} is not known at this site.`);
  if (!destinations.has(destination)) throw unknown(`The destination ${destination} is not known.`);
  if (reason === 'other' && !note) throw unknown('The reason other needs a note.');
}

/** How a posting says what was thrown away: food, the usual, by saying nothing. */
export const materialOf = (material: unknown): 'inedible-parts' | undefined =>
  material === 'inedible-parts' ? material : undefined;

/** How a posting says why food was used: service, the usual, by saying nothing. */
export const purposeOf = (purpose: unknown): string | undefined =>
  typeof purpose === 'string' && purpose !== 'service' ? purpose : undefined;
