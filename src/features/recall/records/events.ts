/** Tracking events of a set of lots, one for an event and lot, read chunk by chunk. */
import {
  CRITICAL,
  describeLocation,
  eventKindOf,
  missingOf,
  missingParts,
  packOf,
  roleOf,
  type EventKind,
  type Missing,
} from '../../../domain/tracking-events.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { LocationAnswer } from './contract.ts';
import {
  listActorNames,
  listEvents,
  listInputs,
  listLocations,
  listOutside,
  listRecordLots,
  type EventFilter,
  type EventRow,
  type InputRow,
  type RecordLotRow,
} from './queries.ts';

/** Lots that are read at once: enough that a statement pays, few enough that a file of any size fits into memory. */
const CHUNK = 3000;

export interface Place extends LocationAnswer {
  readonly lacks: readonly string[];
}

/** Where things were and who recorded them, for the rows of one file. */
export interface Gazetteer {
  readonly places: Map<string, Place>;
  readonly actors: ReadonlyMap<string, string>;
  readonly outside: ReadonlyMap<string, string>;
  readonly groupId: string;
}

export async function loadGazetteer(tx: Tx): Promise<Gazetteer> {
  const rows = await listLocations(tx);
  const places = new Map(
    rows.map(({ id, kind, code, name, address }): [string, Place] => {
      const description = describeLocation(name, address);
      return [id, { locationId: id, kind, code, name, description, address, lacks: missingParts(address) }];
    }),
  );
  const actors = await listActorNames(tx);
  return { places, actors, outside: await listOutside(tx), groupId: tx.groupId };
}

/** A shop where somebody paid cash: its name is all that there is. */
function shopOf(gazetteer: Gazetteer, name: string): Place {
  const locationId = `shop:${name}`;
  const known = gazetteer.places.get(locationId);
  if (known) return known;
  const lacks = missingParts(null);
  const shop: Place = { locationId, kind: 'shop', code: null, name, description: name, address: null, lacks };
  gazetteer.places.set(locationId, shop);
  return shop;
}

type DocumentType = 'delivery-note' | 'shop-receipt' | 'dispatch' | 'batch-record' | 'ledger-entry';

interface Document {
  readonly type: DocumentType | null;
  readonly number: string | null;
}

/** What happened to one lot in one event, with the places that it names. */
export interface TrackedEvent {
  readonly kind: EventKind;
  readonly row: EventRow;
  readonly lot: RecordLotRow;
  readonly packSize: string | null;
  readonly packStyle: string | null;
  readonly location: Place;
  readonly tlcSource: Place;
  readonly previousSource: Place | null;
  readonly recipient: Place | null;
  readonly owner: Place | null;
  readonly dispatchedOn: string | null;
  readonly document: Document;
  /** of outputs only */
  readonly inputs: readonly InputRow[] | null;
  readonly recordedBy: string;
  readonly missing: readonly Missing[];
}

function documentOf(row: EventRow, lot: RecordLotRow): Document {
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

/** Whom it came from, and whom it went to. */
function endsOf(gazetteer: Gazetteer, kind: EventKind, row: EventRow, lot: RecordLotRow): readonly (Place | null)[] {
  const place = (id: string | null) => (id === null ? null : (gazetteer.places.get(id) ?? null));
  const supplier = () => (lot.shopName === null ? place(lot.supplierId) : shopOf(gazetteer, lot.shopName));
  if (kind === 'goods-in') return [supplier(), null];
  if (kind === 'receipt') return [place(row.fromSiteId), null];
  if (kind === 'departure' || kind === 'refused-at-door') return [null, place(row.toSiteId)];
  return [null, kind === 'return-to-supplier' ? supplier() : null];
}

const PEOPLE_NAMED = 5;

function namesOf({ actors }: Gazetteer, actorIds: readonly string[]): string {
  const [only] = actorIds;
  if (actorIds.length === 1 && only !== undefined) return actors.get(only) ?? only;
  const names = actorIds.map((actorId) => actors.get(actorId) ?? actorId).sort();
  const more = names.length - PEOPLE_NAMED;
  return more > 0 ? `${names.slice(0, PEOPLE_NAMED).join(', ')} and ${more} more` : names.join(', ');
}

function dispatchedOn(kind: EventKind, row: EventRow): string | null {
  if (kind === 'departure') return row.occurredOn;
  return kind === 'receipt' ? row.departedOn : null;
}

function trackedEvent(
  gazetteer: Gazetteer,
  row: EventRow,
  lot: RecordLotRow,
  inputs: readonly InputRow[],
): TrackedEvent {
  const { outside, places } = gazetteer;
  const to = outside.get(row.toAccountId) ?? 'place';
  const kind = eventKindOf(row.entryKind, row.refused ? 'transit' : 'place', to, row.quantity);
  const location = places.get(row.siteId);
  const tlcSource = places.get(lot.siteId);
  if (!location || !tlcSource) throw new Error(`no site ${row.siteId} or ${lot.siteId}`);
  const [previousSource = null, recipient = null] = endsOf(gazetteer, kind, row, lot);
  const document = documentOf(row, lot);
  const pack = packOf(lot);
  const output = roleOf(kind) === 'output';
  const between = CRITICAL[kind] === 'shipping' || CRITICAL[kind] === 'receiving';
  const sent = dispatchedOn(kind, row);
  return {
    kind,
    row,
    lot,
    ...pack,
    location,
    tlcSource,
    previousSource,
    recipient,
    owner: between ? (places.get(gazetteer.groupId) ?? null) : null,
    dispatchedOn: sent,
    document,
    inputs: output ? inputs : null,
    recordedBy: namesOf(gazetteer, row.actorIds),
    missing: missingOf({
      kind,
      ...pack,
      location: location.lacks,
      tlcSource: tlcSource.lacks,
      previousSource: previousSource?.lacks ?? null,
      recipient: recipient?.lacks ?? null,
      referenceDocumentType: document.type,
      referenceDocumentNumber: document.number,
      dispatchedOn: sent,
      inputCount: inputs.length,
    }),
  };
}

export interface EventChunk {
  /** those with an event */
  readonly lots: readonly RecordLotRow[];
  readonly events: readonly TrackedEvent[];
}

/** Postings of one entry that say the same of the same lot are one event: what was there, and what was short. */
function merged(rows: readonly EventRow[], outside: ReadonlyMap<string, string>): EventRow[] {
  const sorted = [...rows].sort((a, b) => a.occurredAt.getTime() - b.occurredAt.getTime() || a.seq - b.seq);
  const side = (accountId: string) => outside.get(accountId);
  const kept: EventRow[] = [];
  for (const row of sorted) {
    const before = kept.at(-1);
    const same =
      before?.seq === row.seq &&
      before.entryKind === row.entryKind &&
      side(before.fromAccountId) === side(row.fromAccountId) &&
      side(before.toAccountId) === side(row.toAccountId);
    if (before && same) kept[kept.length - 1] = { ...before, quantity: before.quantity + row.quantity };
    else kept.push(row);
  }
  return kept;
}

const NOTHING: readonly InputRow[] = [];

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
    merged(byLot.get(lot.lotId) ?? [], gazetteer.outside).map((row) =>
      trackedEvent(gazetteer, row, lot, inputs.get(lot.lotId) ?? NOTHING),
    ),
  );
  return { lots: lots.filter((lot) => byLot.has(lot.lotId)), events };
}

/**
 * Lots in the order given, of each its events in the order of time. The next chunk is read while the one before is written: the
 * database and this process then work side by side. Whoever takes the chunks must not use the transaction meanwhile.
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
  try {
    for (let at = CHUNK; reading !== null; at += CHUNK) {
      const chunk: EventChunk = await reading;
      reading = read(at);
      yield chunk;
    }
  } finally {
    // The transaction ends only when nothing of it is under way.
    await reading?.catch(() => undefined);
  }
}
