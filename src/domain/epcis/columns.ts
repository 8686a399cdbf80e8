/** What of an event is asked for in queries, in columns. Pure. */
import type { ClassQuantity, EpcisEvent, EventDraft } from './shapes.ts';

const classesOf = (list: readonly ClassQuantity[] | undefined): string[] => (list ?? []).map((one) => one.epcClass);

/** Fields named as in `epcis_event`. */
export function columnsOf({ source, siteIds, lotIds, dispatchId, recordedAtMs, event }: EventDraft) {
  const { persistentDisposition, errorDeclaration } = event;
  return {
    event_id: event.eventID,
    source,
    site_ids: siteIds,
    lot_ids: lotIds,
    dispatch_id: dispatchId,
    type: event.type,
    action: event.action ?? null,
    event_time: event.eventTime,
    record_time: new Date(recordedAtMs).toISOString(),
    biz_step: event.bizStep ?? null,
    disposition: event.disposition ?? null,
    dispositions_set: persistentDisposition?.set ?? [],
    dispositions_unset: persistentDisposition?.unset ?? [],
    read_point: event.readPoint?.id ?? null,
    biz_location: event.bizLocation?.id ?? null,
    transformation_id: event.transformationID ?? null,
    parent: event.parentID ?? null,
    epcs: [...(event.epcList ?? []), ...(event.childEPCs ?? [])],
    input_epcs: event.inputEPCList ?? [],
    output_epcs: event.outputEPCList ?? [],
    classes: [...classesOf(event.quantityList), ...classesOf(event.childQuantityList)],
    input_classes: classesOf(event.inputQuantityList),
    output_classes: classesOf(event.outputQuantityList),
    error_declared_at: errorDeclaration?.declarationTime ?? null,
    error_reason: errorDeclaration?.reason ?? null,
    corrective_event_ids: errorDeclaration?.correctiveEventIDs ?? [],
    body: event satisfies EpcisEvent,
  };
}
