/** A tracking event as JSON. */
import { CRITICAL, roleOf } from '../../../domain/tracking-events.ts';
import type { TrackingEventAnswer } from './contract.ts';
import type { TrackedEvent } from './events.ts';

type Unit = TrackingEventAnswer['unit'];

/** Each once: two laws may ask for one thing. */
export function missingNames({ missing }: TrackedEvent): string[] {
  if (missing.length === 0) return [];
  return [...new Set(missing.map(({ element, part }) => (part === null ? element : `${element}.${part}`)))];
}

export function answerOf(event: TrackedEvent): TrackingEventAnswer {
  const { kind, row, lot, inputs } = event;
  return {
    eventId: row.eventId,
    event: kind,
    criticalTrackingEvent: CRITICAL[kind],
    role: roleOf(kind),
    occurredAt: row.occurredAt.toISOString(),
    lastAt: row.lastAt.getTime() === row.occurredAt.getTime() ? null : row.lastAt.toISOString(),
    occurredOn: row.occurredOn,
    facts: row.facts,
    lotId: lot.lotId,
    traceabilityLotCode: lot.lotCode,
    supplierLotCode: lot.supplierLotCode,
    tlcSourceId: event.tlcSource.locationId,
    itemCode: lot.itemCode,
    productName: lot.itemName,
    packSize: event.packSize,
    packStyle: event.packStyle,
    useByDate: lot.useByDate,
    bestBeforeDate: lot.bestBeforeDate,
    quantity: Math.abs(row.quantity),
    unit: lot.unit as Unit,
    locationId: event.location.locationId,
    previousSourceId: event.previousSource?.locationId ?? null,
    recipientId: event.recipient?.locationId ?? null,
    ownerId: event.owner?.locationId ?? null,
    dispatchedOn: event.dispatchedOn,
    referenceDocumentType: event.document.type,
    referenceDocumentNumber: event.document.number,
    inputs:
      inputs?.map((one) => ({
        traceabilityLotCode: one.lotCode,
        productName: one.itemName,
        quantity: one.quantity,
        unit: one.unit as Unit,
      })) ?? null,
    recordedBy: event.recordedBy,
    recordedAt: row.recordedAt.toISOString(),
    missing: missingNames(event),
  };
}
