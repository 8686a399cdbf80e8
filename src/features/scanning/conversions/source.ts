/**
 * What a conversion speaks of: site, lot or pack, items and places. Refusals: `not-found`, `rule-broken`, `unit-mismatch`,
 * `serials-do-not-fit`, `item-unsuitable`, `scan-unreadable`.
 */
import type { ConversionKind } from '../../../domain/conversions.ts';
import { notFound, Refused } from '../../../domain/errors.ts';
import { withoutReaderEnd } from '../../../domain/gs1/index.ts';
import { localDate } from '../../../domain/time.ts';
import type { Context } from '../../../platform/http/contract.ts';
import {
  findItems,
  findPlaces,
  findSites,
  presumedPlaceId,
  type ItemRow,
  type PlaceRow,
  type SiteRow,
} from '../../catalogue/index.ts';
import { findLots, findLotsByCode, requireUnit, type LotRow } from '../../ledger/index.ts';
import { readCodes } from '../codes.ts';
import { lotCodeOf, nameOf } from '../resolve.ts';
import type { createConversion } from './contract.ts';

export type Convert = Context<typeof createConversion>;

export interface Asked {
  readonly site: SiteRow;
  readonly lot: LotRow;
  /** a pack with a number: its scans say where it was */
  readonly serial: string | null;
  readonly item: ItemRow;
  readonly toItem: ItemRow;
  readonly quantity: number;
  /** as named, by id */
  readonly places: ReadonlyMap<string, PlaceRow>;
}

/** Kinds after which the food is in the hands of a cook: what opening gives is said by the item. */
const GIVES_OPENED: ReadonlySet<ConversionKind> = new Set(['open', 'portion', 'regenerate', 'cook']);

const broken = (detail: string, pointer: string) =>
  new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });

export async function loadAsked(context: Convert): Promise<Asked> {
  const { body, tx, scope } = context;
  if ((body.code === undefined) === (body.lotId === undefined)) {
    throw broken('Name what was scanned (code) or its lotId, one of the two.', '#/code');
  }
  if (body.siteId === undefined && body.placeId === undefined) throw broken('Say at which site, or place.', '#/siteId');
  if (body.disposeAfter !== undefined && body.kind !== 'sample') {
    throw broken('Only a sample is kept to a day of its own.', '#/disposeAfter');
  }
  if (body.sampleFor !== undefined && body.kind !== 'sample') throw broken('Only a sample is for that.', '#/sampleFor');
  const places = await findPlaces(tx, [...new Set([body.placeId, body.toPlaceId].flatMap((id) => id ?? []))]);
  const siteId = body.siteId ?? places.get(body.placeId ?? '')?.siteId;
  const site = (await findSites(tx, siteId === undefined ? [] : [siteId])).get(siteId ?? '');
  const code = await codeOf(context, site);
  const lots = code === null ? await findLots(tx, [body.lotId ?? '']) : await findLotsByCode(tx, [lotCodeOf(code)]);
  const lot = [...lots.values()][0];
  const wanted = [lot?.itemId, body.toItemId].flatMap((id) => id ?? []);
  const items = await findItems(tx, [...new Set(wanted)]);
  if (!site || !scope.includes(site.siteId)) throw notFound(body.siteId === undefined ? 'place' : 'site');
  for (const id of [body.placeId, body.toPlaceId]) {
    if (id !== undefined && places.get(id)?.siteId !== site.siteId) throw notFound('place');
  }
  const item = lot && items.get(lot.itemId);
  if (!lot || !item) throw notFound('lot');
  const serial = code === null ? null : serialOf(code, lot);
  const toItem = await targetOf(context, item, items);
  if (!item.lotTracked || item.kind === 'packaging') throw unsuitable(item);
  if (!toItem.lotTracked || toItem.kind === 'packaging') throw unsuitable(toItem);
  if (body.unit !== undefined) requireUnit(lot, body.unit);
  if (body.toUnit !== undefined && body.toUnit !== toItem.unit) {
    const detail = `${toItem.name} is kept in ${toItem.unit}, not in ${body.toUnit}.`;
    throw new Refused('unit-mismatch', detail, { errors: [{ detail, pointer: '#/toUnit' }] });
  }
  if (body.serialised === true && toItem.unit !== 'piece') throw broken('Only pieces have serials.', '#/serialised');
  return { site, lot, serial, item, toItem, quantity: quantityOf(context, lot, serial), places };
}

/** What was scanned as LOT or LOT/SERIAL, whatever the symbol; null: the lot is named by its id. */
async function codeOf({ body, tx, nowMs }: Convert, site: SiteRow | undefined): Promise<string | null> {
  if (body.code === undefined) return null;
  const code = withoutReaderEnd(body.code);
  const readOn = localDate(nowMs, site?.timeZone ?? 'UTC');
  const read = (await readCodes(tx, site?.siteId ?? null, [code], readOn)).get(code);
  if (read?.refused) throw read.refused;
  return read?.named ?? code;
}

function serialOf(code: string, lot: LotRow): string | null {
  const named = nameOf(code, new Map([[lot.code, lot]]), [], undefined);
  return named.as === 'lot' ? named.serial : null;
}

function quantityOf({ body }: Convert, lot: LotRow, serial: string | null): number {
  if (serial !== null && (body.quantity ?? 1) !== 1) throw broken('One serial is one pack.', '#/quantity');
  if (body.quantity === undefined && lot.unit !== 'piece') {
    throw broken(`Lot ${lot.code} is kept in ${lot.unit}; say how much of it.`, '#/quantity');
  }
  return body.quantity ?? 1;
}

async function targetOf({ body, tx }: Convert, item: ItemRow, items: ReadonlyMap<string, ItemRow>): Promise<ItemRow> {
  if (body.toItemId !== undefined) {
    const named = items.get(body.toItemId);
    if (!named) throw notFound('item');
    return named;
  }
  if (GIVES_OPENED.has(body.kind) && item.openedItemId !== null) {
    return (await findItems(tx, [item.openedItemId])).get(item.openedItemId) ?? item;
  }
  if (body.kind === 'portion') throw broken(`Nothing says what a portion of ${item.name} is.`, '#/toItemId');
  return item;
}

function unsuitable(item: ItemRow): Refused {
  return new Refused('item-unsuitable', `${item.name} is not kept by lot.`);
}

export interface Whither {
  readonly toPlaceId: string;
  readonly presumed: boolean;
  /** it follows the pack: where it stands hangs on scans that may come later */
  readonly stays: boolean;
}

/**
 * Where the new lot is put: as said; thawed and frozen food in its put-away; else where it was taken from.
 * @param stoodId where it was taken from
 * @param seen a scan of the pack says so
 */
export function whither(asked: Asked, body: Convert['body'], stoodId: string, seen: boolean): Whither {
  const { site, serial } = asked;
  if (body.toPlaceId !== undefined) return { toPlaceId: body.toPlaceId, presumed: false, stays: false };
  if (body.kind === 'thaw' || body.kind === 'freeze') {
    const toPlaceId = presumedPlaceId(site, body.kind === 'thaw' ? 'chilled' : 'frozen');
    return { toPlaceId, presumed: true, stays: false };
  }
  return { toPlaceId: stoodId, presumed: body.placeId === undefined && !seen, stays: serial !== null };
}
