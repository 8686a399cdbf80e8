/** Crates in crates as EPCIS aggregations: into a roll cage, out of it. Pure. */
import { crateUri, siteUri, type SiteFacts } from './names.ts';
import { timeFields, type EpcisEvent, type EventDraft } from './shapes.ts';

export interface PlacementFacts {
  readonly placementId: string;
  readonly crateCode: string;
  /** null: it was only taken out */
  readonly intoCode: string | null;
  /** what it was in until then, by the facts that are known; null: in nothing */
  readonly outOfCode: string | null;
  readonly site: SiteFacts;
  readonly occurredAtMs: number;
  readonly recordedAtMs: number;
}

/** Out of the one and into the other: at most two events. A crate with a code of the group's own has no name for others and is left out. */
export function placementEvents(facts: PlacementFacts, eventIdOf: (source: string) => string): EventDraft[] {
  const child = crateUri(facts.crateCode);
  if (child === null) return [];
  const steps = [
    { part: 'out', action: 'DELETE', bizStep: 'unpacking', parent: facts.outOfCode },
    { part: 'in', action: 'ADD', bizStep: 'packing', parent: facts.intoCode },
  ] as const;
  return steps.flatMap(({ part, action, bizStep, parent }) => {
    const parentID = parent === null ? null : crateUri(parent);
    if (parentID === null) return [];
    const source = `placement|${facts.placementId}|${part}`;
    const at = { id: siteUri(facts.site) };
    const event: EpcisEvent = {
      type: 'AggregationEvent',
      eventID: eventIdOf(source),
      ...timeFields(facts.occurredAtMs, facts.site.timeZone),
      action,
      bizStep,
      disposition: 'in_progress',
      parentID,
      childEPCs: [child],
      readPoint: at,
      bizLocation: at,
    };
    const siteIds = [facts.site.siteId];
    return [{ source, siteIds, lotIds: [], dispatchId: null, recordedAtMs: facts.recordedAtMs, event }];
  });
}
