/**
 * What a supplier's EPCIS events announce: the shipping event with what is said elsewhere in the same document about its crates (packing)
 * and its lots (dates). Pure; the events are valid ones. Nothing is guessed: what the document does not say stays null.
 *
 * An EPCIS error declaration takes back the shipping event that it names.
 */
import { namedBy, toDigitalLink } from './query-uris.ts';

/** An event as JSON, already checked. */
export type CapturedEvent = Readonly<Record<string, unknown>>;

interface AnnouncedLine {
  /** class or instance as URI, as Digital Link where it can be said so */
  readonly epc: string;
  readonly gtin: string | null;
  readonly lotCode: string | null;
  readonly sscc: string | null;
  readonly quantity: number | null;
  /** UN/ECE Recommendation 20; null: so many of the article */
  readonly uom: string | null;
  /** YYYY-MM-DD */
  readonly useByDate: string | null;
  readonly bestBeforeDate: string | null;
}

export interface Announcement {
  /** position in the document */
  readonly at: number;
  readonly eventId: string | null;
  readonly shippedAtMs: number;
  readonly fromGln: string | null;
  readonly toGln: string | null;
  readonly despatchAdvice: string | null;
  readonly purchaseOrder: string | null;
  readonly ssccs: readonly string[];
  /** of these the document does not say what is inside */
  readonly closedSsccs: readonly string[];
  readonly lines: readonly AnnouncedLine[];
}

interface Withdrawal {
  readonly at: number;
  readonly eventId: string;
  readonly declaredAtMs: number;
  readonly reason: string | null;
}

export interface Unused {
  readonly at: number;
  readonly eventId: string | null;
  readonly type: string;
  readonly bizStep: string | null;
  readonly why: string;
}

export interface ReadAnnouncements {
  readonly announcements: readonly Announcement[];
  readonly withdrawals: readonly Withdrawal[];
  readonly unused: readonly Unused[];
}

/** Crates in crates: pallet, crate, box, and two to spare. */
const MOST_LEVELS = 5;

const textOf = (value: unknown): string | null => (typeof value === 'string' ? value : null);
const textsOf = (value: unknown): string[] =>
  Array.isArray(value) ? value.filter((one): one is string => typeof one === 'string') : [];
const objectsOf = (value: unknown): CapturedEvent[] =>
  Array.isArray(value) ? value.filter((one): one is CapturedEvent => typeof one === 'object' && one !== null) : [];

const linkOf = (uri: string): string => toDigitalLink(uri) ?? uri;

interface Content {
  readonly epcs: readonly string[];
  readonly quantities: readonly CapturedEvent[];
}

/** What is said of the inside of a crate, by its URI. The last packing counts. */
function contentsIn(events: readonly CapturedEvent[]): ReadonlyMap<string, Content> {
  const inside = new Map<string, Content>();
  for (const event of events) {
    if (event.type !== 'AggregationEvent' || event.action === 'DELETE' || event.errorDeclaration) continue;
    const parent = textOf(event.parentID);
    if (parent === null) continue;
    inside.set(linkOf(parent), { epcs: textsOf(event.childEPCs), quantities: objectsOf(event.childQuantityList) });
  }
  return inside;
}

interface Dates {
  readonly useByDate: string | null;
  readonly bestBeforeDate: string | null;
}

const DATE = /^\d{4}-\d\d-\d\d/;
const dateOf = (value: unknown): string | null => DATE.exec(textOf(value) ?? '')?.[0] ?? null;

/**
 * Dates of lots and instances, by URI, from the master data that comes with their making. Names of the fields are CBV 2.0's
 * (`cbvmda:itemExpirationDate`, `cbvmda:bestBeforeDate`: from memory).
 */
function datesIn(events: readonly CapturedEvent[]): ReadonlyMap<string, Dates> {
  const dates = new Map<string, Dates>();
  for (const event of events) {
    if (typeof event.ilmd !== 'object' || event.ilmd === null || event.errorDeclaration) continue;
    const ilmd = event.ilmd as CapturedEvent;
    const said = {
      useByDate: dateOf(ilmd['cbvmda:itemExpirationDate']),
      bestBeforeDate: dateOf(ilmd['cbvmda:bestBeforeDate']),
    };
    const made =
      event.type === 'TransformationEvent' ? ['outputEPCList', 'outputQuantityList'] : ['epcList', 'quantityList'];
    const named = [
      ...textsOf(event[made[0] ?? '']),
      ...objectsOf(event[made[1] ?? '']).map((one) => textOf(one.epcClass) ?? ''),
    ];
    for (const uri of named) dates.set(linkOf(uri), said);
  }
  return dates;
}

/** GLN of a place or party. */
function glnOf(uri: unknown): string | null {
  const named = namedBy(textOf(uri) ?? '');
  return named.get('414') ?? named.get('417') ?? null;
}

/** The place where there is one, else who holds it, else who owns it. */
function partyOf(list: unknown, field: 'source' | 'destination'): string | null {
  const parties = objectsOf(list);
  for (const type of ['location', 'possessing_party', 'owning_party']) {
    const found = parties.find((one) => one.type === type && glnOf(one[field]) !== null);
    if (found) return glnOf(found[field]);
  }
  return null;
}

/** Who sends: the party before the place, because suppliers are known by one number and have many yards. */
function senderOf(event: CapturedEvent): string | null {
  const parties = objectsOf(event.sourceList);
  for (const type of ['possessing_party', 'owning_party', 'location']) {
    const found = parties.find((one) => one.type === type && glnOf(one.source) !== null);
    if (found) return glnOf(found.source);
  }
  return glnOf((event.readPoint as CapturedEvent | undefined)?.id);
}

function transactionOf(event: CapturedEvent, type: string): string | null {
  const found = objectsOf(event.bizTransactionList).find((one) => one.type === type);
  return textOf(found?.bizTransaction);
}

function announcementOf(
  event: CapturedEvent,
  at: number,
  inside: ReadonlyMap<string, Content>,
  dates: ReadonlyMap<string, Dates>,
): Announcement {
  const ssccs = new Set<string>();
  const closed = new Set<string>();
  const lines: AnnouncedLine[] = [];
  const pieces = new Map<string, AnnouncedLine>();

  const line = (uri: string, sscc: string | null, quantity: number | null, uom: string | null): AnnouncedLine => {
    const epc = linkOf(uri);
    const named = namedBy(epc);
    return {
      epc,
      gtin: named.get('01') ?? null,
      lotCode: named.get('10') ?? null,
      sscc,
      quantity,
      uom,
      useByDate: dates.get(epc)?.useByDate ?? null,
      bestBeforeDate: dates.get(epc)?.bestBeforeDate ?? null,
    };
  };
  /** Instances of one article, lot and crate are one line. */
  function addPiece(uri: string, sscc: string | null): void {
    const one = line(uri, sscc, 1, null);
    const key = JSON.stringify([one.gtin ?? one.epc, one.lotCode, sscc, one.useByDate, one.bestBeforeDate]);
    const known = pieces.get(key);
    pieces.set(key, known ? { ...known, quantity: (known.quantity ?? 0) + 1 } : one);
  }
  function addContent({ epcs, quantities }: Content, sscc: string | null, level: number): void {
    for (const one of quantities) {
      const quantity = typeof one.quantity === 'number' ? one.quantity : null;
      lines.push(line(textOf(one.epcClass) ?? '', sscc, quantity, textOf(one.uom)));
    }
    for (const uri of epcs) {
      const inner = namedBy(uri).get('00');
      if (inner === undefined) addPiece(uri, sscc);
      else addCrate(linkOf(uri), inner, level + 1);
    }
  }
  function addCrate(uri: string, sscc: string, level: number): void {
    if (ssccs.has(sscc)) return;
    ssccs.add(sscc);
    const content = level > MOST_LEVELS ? undefined : inside.get(uri);
    if (content) addContent(content, sscc, level);
    else closed.add(sscc);
  }

  const parent = textOf(event.parentID);
  const epcs = [...(parent === null ? [] : [parent]), ...textsOf(event.epcList)];
  addContent({ epcs, quantities: objectsOf(event.quantityList) }, null, 0);
  return {
    at,
    eventId: textOf(event.eventID),
    shippedAtMs: Date.parse(textOf(event.eventTime) ?? ''),
    fromGln: senderOf(event),
    toGln: partyOf(event.destinationList, 'destination'),
    despatchAdvice: transactionOf(event, 'desadv'),
    purchaseOrder: transactionOf(event, 'po'),
    ssccs: [...ssccs],
    closedSsccs: [...closed],
    lines: [...lines, ...pieces.values()],
  };
}

/** @param events of one document, in its order; null where an event is left out because it is wrong */
export function readAnnouncements(events: readonly (CapturedEvent | null)[]): ReadAnnouncements {
  const valid = events.filter((event) => event !== null);
  const inside = contentsIn(valid);
  const dates = datesIn(valid);
  const announcements: Announcement[] = [];
  const withdrawals: Withdrawal[] = [];
  const unused: Unused[] = [];
  events.forEach((event, at) => {
    if (event === null) return;
    const eventId = textOf(event.eventID);
    const bizStep = textOf(event.bizStep);
    const leave = (why: string) => unused.push({ at, eventId, type: textOf(event.type) ?? '', bizStep, why });
    const error = event.errorDeclaration as CapturedEvent | undefined;
    if (error) {
      const declaredAtMs = Date.parse(textOf(error.declarationTime) ?? '');
      if (eventId === null) leave('an error declaration that names no event');
      else withdrawals.push({ at, eventId, declaredAtMs, reason: textOf(error.reason) });
    } else if (bizStep === 'shipping' && (event.type === 'ObjectEvent' || event.type === 'TransactionEvent')) {
      if (event.action === 'DELETE') leave('shipping with action DELETE takes something back; it announces nothing');
      else announcements.push(announcementOf(event, at, inside, dates));
    } else if (event.type === 'AggregationEvent')
      leave('read for what is in its crate; it announces nothing by itself');
    else if (event.ilmd !== undefined) leave('read for the dates of its lots; it announces nothing by itself');
    else leave('only shipping announces a delivery');
  });
  return { announcements, withdrawals, unused };
}
