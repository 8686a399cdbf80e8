/**
 * Entries of the ledger as EPCIS events. Pure. An entry makes a transformation, or an object event for each business step and place that
 * its postings have. Crates with an SSCC are told as aggregations beside the departure: there is no earlier time of packing on record.
 */
import { crateUri, lotUri, packUri, placeUri, siteUri, UOM, uuidUri } from './names.ts';
import type { LotFacts, PlaceFacts, SiteFacts } from './names.ts';
import { timeFields, type ClassQuantity, type EpcisEvent, type EventDraft } from './shapes.ts';
import { stepOf, TRANSFORMATIONS, type Step } from './steps.ts';

interface EntryAccount {
  /** without `-shortfall`: what a twin stands for */
  readonly kind: string;
  /** of a place: its id; of transit: the dispatch; else the account's own */
  readonly id: string;
}

interface EntryLine {
  readonly lotId: string;
  readonly quantity: number;
  readonly from: EntryAccount;
  readonly to: EntryAccount;
}

export interface EntryFacts {
  readonly seq: number;
  readonly kind: string;
  readonly factId: string;
  readonly siteId: string;
  readonly occurredAtMs: number;
  readonly recordedAtMs: number;
  readonly batchId: string | null;
  readonly dispatchId: string | null;
  /** of the pack that was scanned */
  readonly serial: string | null;
  readonly lines: readonly EntryLine[];
}

export interface DispatchFacts {
  readonly dispatchId: string;
  readonly fromSiteId: string;
  readonly toSiteId: string;
  readonly crates: readonly { readonly code: string; readonly lotId: string; readonly quantity: number }[];
}

/** What entries name, by id. */
export interface Named {
  readonly lots: ReadonlyMap<string, LotFacts & { readonly supplierId: string | null }>;
  readonly sites: ReadonlyMap<string, SiteFacts>;
  readonly places: ReadonlyMap<string, PlaceFacts>;
  readonly dispatches: ReadonlyMap<string, DispatchFacts>;
  /** the URI of an event, made of its source; the same one for ever */
  readonly eventIdOf: (source: string) => string;
}

function get<T>(from: ReadonlyMap<string, T>, id: string): T {
  const found = from.get(id);
  if (found === undefined) throw new Error(`EPCIS: ${id} was not loaded`);
  return found;
}

const quantityOf = (lot: LotFacts, quantity: number): ClassQuantity => {
  const uom = UOM[lot.unit];
  return { epcClass: lotUri(lot), quantity, ...(uom !== undefined && { uom }) };
};

interface LotQuantity {
  readonly lotId: string;
  readonly quantity: number;
}

/** Lots of one name are one class: two deliveries of one supplier's lot. */
function quantities(lines: readonly LotQuantity[], named: Named): ClassQuantity[] {
  const byClass = new Map<string, { lot: LotFacts; quantity: number }>();
  for (const { lotId, quantity } of lines) {
    const lot = get(named.lots, lotId);
    const key = `${lotUri(lot)} ${lot.unit}`;
    byClass.set(key, { lot, quantity: quantity + (byClass.get(key)?.quantity ?? 0) });
  }
  return [...byClass.values()].map(({ lot, quantity }) => quantityOf(lot, quantity));
}

const lotIdsOf = (lines: readonly LotQuantity[]): string[] => [...new Set(lines.map((line) => line.lotId))];

function dateFields(lot: LotFacts): Readonly<Record<string, string>> {
  return {
    'cbvmda:lotNumber': lot.code,
    ...(lot.useByDate !== null && { 'cbvmda:itemExpirationDate': lot.useByDate }),
    ...(lot.bestBeforeDate !== null && { 'cbvmda:bestBeforeDate': lot.bestBeforeDate }),
  };
}

/** What is the same for every event of an entry. */
function frame(entry: EntryFacts, named: Named, part: string): { source: string; site: SiteFacts; head: EventHead } {
  const source = `entry|${entry.seq}|${part}`;
  const site = get(named.sites, entry.siteId);
  const head = { eventID: named.eventIdOf(source), ...timeFields(entry.occurredAtMs, site.timeZone) };
  return { source, site, head };
}
type EventHead = Pick<EpcisEvent, 'eventID' | 'eventTime' | 'eventTimeZoneOffset'>;

function draftOf(
  entry: EntryFacts,
  named: Named,
  source: string,
  lines: readonly LotQuantity[],
  event: EpcisEvent,
): EventDraft {
  const dispatch = entry.dispatchId === null ? null : get(named.dispatches, entry.dispatchId);
  const siteIds = new Set([entry.siteId, ...(dispatch ? [dispatch.fromSiteId, dispatch.toSiteId] : [])]);
  return {
    source,
    siteIds: [...siteIds],
    lotIds: lotIdsOf(lines),
    dispatchId: entry.dispatchId,
    recordedAtMs: entry.recordedAtMs,
    event,
  };
}

function transformation(entry: EntryFacts, named: Named): EventDraft {
  const { source, site, head } = frame(entry, named, 'transformation');
  const inputs = entry.lines.filter((line) => line.to.kind === 'consumed');
  const outputs = entry.lines.filter((line) => line.from.kind === 'produced');
  const born = lotIdsOf(outputs);
  const only = born.length === 1 && born[0] !== undefined ? get(named.lots, born[0]) : null;
  // A batch takes its food and gives its output in facts of their own, hours apart: one transformation by its id. So does an entry that
  // has one side only.
  const whole = inputs.length > 0 && outputs.length > 0;
  const transformationID = entry.batchId !== null && !whole ? uuidUri(entry.batchId) : uuidUri(entry.factId);
  const event: EpcisEvent = {
    type: 'TransformationEvent',
    ...head,
    ...(!whole && { transformationID }),
    ...(inputs.length > 0 && { inputQuantityList: quantities(inputs, named) }),
    ...(outputs.length > 0 && { outputQuantityList: quantities(outputs, named), disposition: 'active' }),
    ...(only && { ilmd: dateFields(only) }),
    bizStep: 'commissioning',
    readPoint: { id: siteUri(site) },
    bizLocation: { id: siteUri(site) },
    ...(entry.batchId !== null && {
      bizTransactionList: [{ type: 'prodorder', bizTransaction: uuidUri(entry.batchId) }],
    }),
  };
  return draftOf(entry, named, source, [...inputs, ...outputs], event);
}

/** Postings of one step into one place. */
interface StepGroup {
  readonly step: Step;
  readonly placeId: string | null;
  readonly lines: EntryLine[];
}

function groupSteps(entry: EntryFacts): StepGroup[] {
  const groups = new Map<string, StepGroup>();
  for (const line of entry.lines) {
    const step = stepOf(entry.kind, line.from.kind, line.to.kind);
    const placeId = line.to.kind === 'place' ? line.to.id : null;
    const key = `${step.action} ${step.bizStep} ${placeId}`;
    const group = groups.get(key);
    if (group) group.lines.push(line);
    else groups.set(key, { step, placeId, lines: [line] });
  }
  return [...groups.values()];
}

/** One pack by its serial number, when the entry is one beep of it. */
function packOf(entry: EntryFacts, lines: readonly EntryLine[], named: Named): string | null {
  const [line, ...others] = lines;
  if (entry.serial === null || !line || others.length > 0 || line.quantity !== 1) return null;
  const lot = get(named.lots, line.lotId);
  return lot.serialised ? packUri(lot, entry.serial) : null;
}

function partners(entry: EntryFacts, lines: readonly EntryLine[], named: Named): Partial<EpcisEvent> {
  if (entry.dispatchId !== null) {
    const { dispatchId, fromSiteId, toSiteId } = get(named.dispatches, entry.dispatchId);
    const from = siteUri(get(named.sites, fromSiteId));
    const to = siteUri(get(named.sites, toSiteId));
    return {
      bizTransactionList: [{ type: 'desadv', bizTransaction: uuidUri(dispatchId) }],
      sourceList: [{ type: 'location', source: from }],
      destinationList: [{ type: 'location', destination: to }],
    };
  }
  if (entry.kind !== 'goods-receipt' && entry.kind !== 'return') return {};
  const suppliers = [...new Set(lines.map((line) => get(named.lots, line.lotId).supplierId))];
  const [supplierId, ...others] = suppliers;
  if (!supplierId || others.length > 0) return {};
  if (entry.kind === 'goods-receipt') {
    return {
      bizTransactionList: [{ type: 'recadv', bizTransaction: uuidUri(entry.factId) }],
      sourceList: [{ type: 'possessing_party', source: uuidUri(supplierId) }],
    };
  }
  if (lines.some((line) => line.to.kind !== 'supplier')) return {};
  return { destinationList: [{ type: 'possessing_party', destination: uuidUri(supplierId) }] };
}

function stepEvent(entry: EntryFacts, group: StepGroup, at: number, named: Named): EventDraft {
  const { source, site, head } = frame(entry, named, String(at));
  const { step, placeId, lines } = group;
  const pack = packOf(entry, lines, named);
  // What is on the road or gone is nowhere; what is at the site and in no place that has a name is at the site.
  const there = step.action !== 'DELETE' && entry.kind !== 'dispatch';
  const place = placeId === null ? siteUri(site) : placeUri(get(named.places, placeId), site);
  const event: EpcisEvent = {
    type: 'ObjectEvent',
    ...head,
    ...step,
    ...(pack === null ? { quantityList: quantities(lines, named) } : { epcList: [pack] }),
    readPoint: { id: siteUri(site) },
    ...(there && { bizLocation: { id: place } }),
    ...partners(entry, lines, named),
  };
  return draftOf(entry, named, source, lines, event);
}

/** Crates of a departure, each with its packs. */
function crateEvents(entry: EntryFacts, named: Named): EventDraft[] {
  if (entry.kind !== 'dispatch' || entry.dispatchId === null) return [];
  const dispatch = get(named.dispatches, entry.dispatchId);
  const leaving = entry.lines.some((line) => line.from.kind === 'place');
  const codes = leaving ? [...new Set(dispatch.crates.map((crate) => crate.code))] : [];
  return codes.flatMap((code) => {
    const parentID = crateUri(code);
    if (parentID === null) return [];
    const lines = dispatch.crates.filter((crate) => crate.code === code);
    const { source, site, head } = frame(entry, named, `crate|${code}`);
    const event: EpcisEvent = {
      type: 'AggregationEvent',
      ...head,
      action: 'ADD',
      bizStep: 'packing',
      disposition: 'in_progress',
      parentID,
      childQuantityList: quantities(lines, named),
      readPoint: { id: siteUri(site) },
      bizLocation: { id: siteUri(site) },
      bizTransactionList: [{ type: 'desadv', bizTransaction: uuidUri(dispatch.dispatchId) }],
    };
    return [draftOf(entry, named, source, lines, event)];
  });
}

/** Events of an entry that is no reversal: a reversal declares the events of the entry that it undoes as wrong. */
export function entryEvents(entry: EntryFacts, named: Named): EventDraft[] {
  if (TRANSFORMATIONS.includes(entry.kind)) return [transformation(entry, named)];
  return [...crateEvents(entry, named), ...groupSteps(entry).map((group, at) => stepEvent(entry, group, at, named))];
}
