/** Tracking events of a set of lots, one row per event and lot, read chunk by chunk. */
import {
  CRITICAL,
  describeLocation,
  eventKindOf,
  missingOf,
  missingParts,
  packOf,
  roleOf,
  type Missing,
} from '../../../domain/tracking-events.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { LocationAnswer, TrackingEventAnswer } from './contract.ts';
import {
  listActorNames,
  listEvents,
  listInputs,
  listLocations,
  listRecordLots,
  type EventFilter,
  type EventRow,
  type InputRow,
  type RecordLotRow,
} from './queries.ts';

/** Lots that are read at once: enough that a statement pays, few enough that a file of any size fits into memory. */
const CHUNK = 1000;

export interface Place extends LocationAnswer {
  readonly lacks: readonly string[];
}

/** Where things were and who recorded them, for the rows of one file. */
export interface Gazetteer {
  readonly places: Map<string, Place>;
  readonly actors: ReadonlyMap<string, string>;
  readonly groupId: string;
}

export async function loadGazetteer(tx: Tx): Promise<Gazetteer> {
  const rows = await listLocations(tx);
  const places = new Map(
    rows.map(({ id, kind, code, name, address }): [string, Place] => [
      id,
      {
        locationId: id,
        kind,
        code,
        name,
        description: describeLocation(name, address),
        address,
        lacks: missingParts(address),
      },
    ]),
  );
  return { places, actors: await listActorNames(tx), groupId: tx.groupId };
}

/** A shop where somebody paid cash: its name is all that there is. */
function shopOf(gazetteer: Gazetteer, name: string): Place {
  const locationId = `shop:${name}`;
  const known = gazetteer.places.get(locationId);
  if (known) return known;
  const shop: Place = {
    locationId,
    kind: 'shop',
    code: null,
    name,
    description: name,
    address: null,
    lacks: missingParts(null),
  };
  gazetteer.places.set(locationId, shop);
  return shop;
}

export interface TrackedEvent {
  readonly answer: TrackingEventAnswer;
  readonly missing: readonly Missing[];
  readonly location: Place;
  readonly tlcSource: Place;
  readonly previousSource: Place | null;
  readonly recipient: Place | null;
  readonly owner: Place | null;
}

function documentOf(row: EventRow, lot: RecordLotRow): { type: string | null; number: string | null } {
  switch (row.entryKind) {
    case 'goods-receipt':
      if (lot.documentNumber !== null) return { type: 'delivery-note', number: lot.documentNumber };
      if (lot.shopReceiptNumber !== null) return { type: 'shop-receipt', number: lot.shopReceiptNumber };
      return { type: null, number: null };
    case 'dispatch':
    case 'receipt':
      return { type: 'dispatch', number: row.dispatchCode };
    case 'batch-input':
    case 'batch-output':
    case 'packing':
      return { type: 'batch-record', number: row.batchCode };
    default:
      // Entries are numbered without a gap, so the number finds it.
      return { type: 'ledger-entry', number: String(row.seq) };
  }
}

interface Ends {
  readonly previousSource: Place | null;
  readonly recipient: Place | null;
}

function endsOf(gazetteer: Gazetteer, kind: string, row: EventRow, lot: RecordLotRow): Ends {
  const place = (id: string | null) => (id === null ? null : (gazetteer.places.get(id) ?? null));
  const supplier = lot.shopName === null ? place(lot.supplierId) : shopOf(gazetteer, lot.shopName);
  if (kind === 'goods-in') return { previousSource: supplier, recipient: null };
  if (kind === 'receipt') return { previousSource: place(row.fromSiteId), recipient: null };
  if (kind === 'departure' || kind === 'refused-at-door')
    return { previousSource: null, recipient: place(row.toSiteId) };
  return { previousSource: null, recipient: kind === 'return-to-supplier' ? supplier : null };
}

const PEOPLE_NAMED = 5;

function namesOf(gazetteer: Gazetteer, actorIds: readonly string[]): string {
  const names = actorIds.map((actorId) => gazetteer.actors.get(actorId) ?? actorId).sort();
  const more = names.length - PEOPLE_NAMED;
  return more > 0 ? `${names.slice(0, PEOPLE_NAMED).join(', ')} and ${more} more` : names.join(', ');
}

export function trackedEvent(
  gazetteer: Gazetteer,
  row: EventRow,
  lot: RecordLotRow,
  inputs: readonly InputRow[] | undefined,
): TrackedEvent {
  const event = eventKindOf(row.entryKind, row.fromKind, row.toKind, row.quantity);
  const location = gazetteer.places.get(row.siteId);
  const tlcSource = gazetteer.places.get(lot.siteId);
  if (!location || !tlcSource) throw new Error(`no site ${row.siteId} or ${lot.siteId}`);
  const { previousSource, recipient } = endsOf(gazetteer, event, row, lot);
  const document = documentOf(row, lot);
  const critical = CRITICAL[event];
  const role = roleOf(event);
  const { packSize, packStyle } = packOf(lot);
  const made = role === 'output' ? (inputs ?? []) : [];
  const dispatchedOn = event === 'departure' ? row.occurredOn : event === 'receipt' ? row.departedOn : null;
  const owner = critical === 'shipping' || critical === 'receiving' ? gazetteer.places.get(gazetteer.groupId) : null;
  const answer: TrackingEventAnswer = {
    eventId: row.eventId,
    event,
    criticalTrackingEvent: critical,
    role,
    occurredAt: row.occurredAt.toISOString(),
    lastAt: row.lastAt.getTime() === row.occurredAt.getTime() ? null : row.lastAt.toISOString(),
    occurredOn: row.occurredOn,
    facts: row.facts,
    lotId: lot.lotId,
    traceabilityLotCode: lot.lotCode,
    supplierLotCode: lot.supplierLotCode,
    tlcSourceId: tlcSource.locationId,
    itemCode: lot.itemCode,
    productName: lot.itemName,
    packSize,
    packStyle,
    useByDate: lot.useByDate,
    bestBeforeDate: lot.bestBeforeDate,
    quantity: Math.abs(row.quantity),
    unit: lot.unit as TrackingEventAnswer['unit'],
    locationId: location.locationId,
    previousSourceId: previousSource?.locationId ?? null,
    recipientId: recipient?.locationId ?? null,
    ownerId: owner?.locationId ?? null,
    dispatchedOn,
    referenceDocumentType: document.type as TrackingEventAnswer['referenceDocumentType'],
    referenceDocumentNumber: document.number,
    inputs:
      role === 'output'
        ? made.map(({ lotCode, itemName, quantity, unit }) => ({
            traceabilityLotCode: lotCode,
            productName: itemName,
            quantity,
            unit: unit as TrackingEventAnswer['unit'],
          }))
        : null,
    recordedBy: namesOf(gazetteer, row.actorIds),
    recordedAt: row.recordedAt.toISOString(),
    missing: [],
  };
  const missing = missingOf({
    kind: event,
    packSize,
    packStyle,
    location: location.lacks,
    tlcSource: tlcSource.lacks,
    previousSource: previousSource?.lacks ?? null,
    recipient: recipient?.lacks ?? null,
    referenceDocumentType: document.type,
    referenceDocumentNumber: document.number,
    dispatchedOn,
    inputCount: made.length,
  });
  const named = missing.map(({ element, part }) => (part === null ? element : `${element}.${part}`));
  return {
    answer: { ...answer, missing: [...new Set(named)] },
    missing,
    location,
    tlcSource,
    previousSource,
    recipient,
    owner: owner ?? null,
  };
}

export interface EventChunk {
  readonly lots: readonly RecordLotRow[];
  readonly events: readonly TrackedEvent[];
}

async function readChunk(tx: Tx, gazetteer: Gazetteer, lotIds: readonly string[], filter: EventFilter) {
  const lots = await listRecordLots(tx, lotIds);
  const rows = await listEvents(tx, lotIds, filter);
  const inputs = await listInputs(tx, lotIds);
  const byLot = new Map<string, EventRow[]>();
  for (const row of rows) {
    const own = byLot.get(row.lotId);
    if (own) own.push(row);
    else byLot.set(row.lotId, [row]);
  }
  const events = lots.flatMap((lot) =>
    (byLot.get(lot.lotId) ?? []).map((row) => trackedEvent(gazetteer, row, lot, inputs.get(lot.lotId))),
  );
  return { lots: lots.filter((lot) => byLot.has(lot.lotId)), events };
}

/**
 * Lots in the order given, of each its events in the order of time. The next chunk is read while the one before is written: the
 * database and this process then work side by side.
 */
export async function* eventChunks(
  tx: Tx,
  gazetteer: Gazetteer,
  lotIds: readonly string[],
  filter: EventFilter,
): AsyncGenerator<EventChunk> {
  const read = (at: number): Promise<EventChunk> | null => {
    if (at >= lotIds.length) return null;
    const reading = readChunk(tx, gazetteer, lotIds.slice(at, at + CHUNK), filter);
    // It is awaited later; or never, when the reader has left, and then nobody wants to hear that it failed.
    reading.catch(() => undefined);
    return reading;
  };
  let reading = read(0);
  for (let at = CHUNK; reading !== null; at += CHUNK) {
    const chunk: EventChunk = await reading;
    reading = read(at);
    yield chunk;
  }
}
