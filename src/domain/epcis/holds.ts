/** Holds as EPCIS events: `holding` when one is placed, `inspecting` when it is lifted. Pure. */
import { lotUri, placeUri, siteUri, type LotFacts, type PlaceFacts, type SiteFacts } from './names.ts';
import { timeFields, type EpcisEvent, type EventDraft } from './shapes.ts';
import { HOLD_STEPS } from './steps.ts';

export interface HoldFacts {
  readonly holdId: string;
  readonly kind: string;
  readonly change: 'placed' | 'lifted';
  readonly atMs: number;
  readonly lot: LotFacts;
  /** where the lot was made or taken in: its clock is used */
  readonly home: SiteFacts;
  /** null: it holds everywhere */
  readonly site: SiteFacts | null;
  readonly place: PlaceFacts | null;
  /** sites that have or await some of it */
  readonly siteIds: readonly string[];
  readonly dispatchId: string | null;
}

/**
 * One lot that a hold has reached, or no longer reaches; null for holds that say nothing to a partner. No quantity: a hold is about however
 * much there is.
 */
export function holdEvent(hold: HoldFacts, eventIdOf: (source: string) => string): EventDraft | null {
  const steps = HOLD_STEPS[hold.kind];
  if (!steps) return null;
  const source = `hold|${hold.holdId}|${hold.lot.lotId}|${hold.change}`;
  const placed = hold.change === 'placed';
  const where = hold.site === null ? null : siteUri(hold.site);
  const flag = steps.persistent === null ? null : [steps.persistent];
  const event: EpcisEvent = {
    type: 'ObjectEvent',
    eventID: eventIdOf(source),
    ...timeFields(hold.atMs, (hold.site ?? hold.home).timeZone),
    action: 'OBSERVE',
    bizStep: placed ? 'holding' : 'inspecting',
    disposition: placed ? steps.placed : steps.lifted,
    ...(flag && { persistentDisposition: placed ? { set: flag } : { unset: flag } }),
    quantityList: [{ epcClass: lotUri(hold.lot) }],
    ...(where !== null && {
      readPoint: { id: where },
      bizLocation: { id: hold.place && hold.site ? placeUri(hold.place, hold.site) : where },
    }),
  };
  return {
    source,
    siteIds: hold.siteIds,
    lotIds: [hold.lot.lotId],
    dispatchId: hold.dispatchId,
    recordedAtMs: hold.atMs,
    event,
  };
}
