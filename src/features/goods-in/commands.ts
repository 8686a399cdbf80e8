/**
 * Goods in. Refusals: `not-found`, `unit-mismatch`, `entry-unit-unknown`, `item-unsuitable`, `allergen-unknown`, `code-taken`,
 * `rule-broken`.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { post } from '../../domain/ledger/book.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import { outbox } from '../../platform/jobs.ts';
import { findItems, findPlaces, findSites, findSuppliers, type SiteRow } from '../catalogue/index.ts';
import {
  insertLots,
  loadBook,
  openFindings,
  outside,
  placeAccount,
  requireFreeLots,
  writeBook,
} from '../ledger/index.ts';
import type * as contract from './contract.ts';
import { findingsOfLine, readLine, type TakenLine } from './lines.ts';
import { findReceipt, insertReceipt, insertReceiptLines, listReceipts, type ReceiptRow } from './store.ts';

type Create = Context<typeof contract.createGoodsReceipt>;

/** Everywhere that food of this site may be presumed to be put. */
export function presumedPlaces(site: SiteRow | undefined): string[] {
  if (!site) return [];
  return [site.receivingPlaceId, ...Object.values(site.putAway)].filter((placeId) => placeId !== null);
}

export async function takeIn(context: Create): Promise<Reply> {
  const { body, tx, nowMs, factId, actor } = context;
  const { supplierId, cashPurchase } = body;
  const site = (await findSites(tx, [body.siteId])).get(body.siteId);
  const suppliers = await findSuppliers(tx, supplierId === undefined ? [] : [supplierId]);
  const items = await findItems(
    tx,
    body.lines.map((line) => line.itemId),
  );
  const places = await findPlaces(
    tx,
    body.lines.flatMap((line) => (line.placeId ? [line.placeId] : [])).concat(presumedPlaces(site)),
  );
  if (!site || !context.scope.includes(site.siteId)) throw notFound('site');
  if ((supplierId === undefined) === (cashPurchase === undefined)) {
    const detail = 'Give supplierId, or cashPurchase for what was bought at a shop.';
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/supplierId' }] });
  }
  if (supplierId !== undefined && !suppliers.has(supplierId)) throw notFound('supplier');
  const occurredAtMs = fromInstant(body.occurredAt);
  const delivery = { goodsReceiptId: factId, site, supplierId, shopName: cashPurchase?.shopName, occurredAtMs };
  const lines = body.lines.map((line, at) => readLine(delivery, line, at, items, places));
  const taken = lines.flatMap((one) => (one.taken ? [one.taken] : []));
  const lots = taken.map(({ lot }) => lot);
  await requireFreeLots(tx, lots);
  const findings = lines.flatMap((one) => findingsOfLine(delivery, one));
  const presumed = taken.flatMap((one) => (one.presumed ? [{ lotId: one.lot.lotId, placeId: one.place.placeId }] : []));
  // From here on only success.
  await insertLots(tx, lots, context.nowMs);
  const book = await loadBook(
    tx,
    taken.map(({ lot, place }) => ({ lotId: lot.lotId, account: placeAccount(place.placeId, site.siteId) })),
    [site.siteId],
  );
  post(book, {
    entryId: factId,
    kind: 'goods-receipt',
    factId,
    siteId: site.siteId,
    occurredAtMs,
    occurredOn: localDate(occurredAtMs, site.timeZone),
    contentHash: context.contentHash,
    ...(presumed.length > 0 && { note: { presumed } }),
    moves: taken.map(({ lot, place }) => ({
      lotId: lot.lotId,
      fromAccountId: outside('supplier', site.siteId),
      toAccountId: place.placeId,
      quantity: lot.quantity,
      basis: lot.unit === 'piece' ? 'counted' : 'weighed',
    })),
  });
  await writeBook({ tx, ids: context.ids, actorId: actor.actorId, nowMs }, book);
  const head = {
    goodsReceiptId: factId,
    siteId: site.siteId,
    supplierId: supplierId ?? null,
    shopName: cashPurchase?.shopName ?? null,
    shopReceiptNumber: cashPurchase?.receiptNumber ?? null,
    documentNumber: body.documentNumber ?? null,
    occurredAtMs,
    receivedBy: actor.actorId,
  };
  await insertReceipt(tx, head, nowMs);
  await insertReceiptLines(tx, factId, lines.map(lineRow));
  await openFindings(tx, findings, nowMs);
  if (lots.length > 0) await outbox(tx, 'lots-born', { lotIds: lots.map((lot) => lot.lotId) }, nowMs);
  const row = await findReceipt(tx, factId);
  if (!row) throw new Error('the receipt cannot be read back');
  const shown = findings.map(({ kind, lotId, quantity, detail }) => ({ kind, lotId, quantity, detail }));
  return {
    status: 201,
    body: { ...receiptAnswer(row), findings: shown },
    siteId: site.siteId,
    headers: { Location: `/v1/goods-receipts/${factId}` },
  };
}

function lineRow({ line, lineNo, item, taken, rejectedQuantity, allergensConfirmed }: TakenLine) {
  return {
    lineNo,
    deliveryLineNo: line.deliveryLineNo ?? null,
    lotId: taken?.lot.lotId ?? null,
    itemId: item.itemId,
    placeId: taken?.place.placeId ?? null,
    placePresumed: taken?.presumed ?? false,
    quantity: taken?.lot.quantity ?? 0,
    entryUnit: line.entryUnit ?? null,
    entryQuantity: line.entryQuantity ?? null,
    rejectedQuantity,
    rejectedReason: line.rejectedReason ?? null,
    supplierLotCode: line.supplierLotCode ?? null,
    useByDate: line.useByDate ?? null,
    bestBeforeDate: line.bestBeforeDate ?? null,
    allergensConfirmed,
    temperatureC: line.temperatureC ?? null,
    priceMinor: line.priceMinor ?? null,
  };
}

function receiptAnswer({ shopName, shopReceiptNumber, ...row }: ReceiptRow): object {
  return {
    ...row,
    cashPurchase: shopName === null ? null : { shopName, receiptNumber: shopReceiptNumber },
    occurredAt: row.occurredAt.toISOString(),
    recordedAt: row.recordedAt.toISOString(),
  };
}

export async function readReceipt(context: Context<typeof contract.getGoodsReceipt>): Promise<Reply> {
  const row = await findReceipt(context.tx, context.params.goodsReceiptId);
  if (!row || !context.scope.includes(row.siteId)) throw notFound('goods receipt');
  return { status: 200, body: receiptAnswer(row) };
}

export async function readReceipts(context: Context<typeof contract.listGoodsReceipts>): Promise<Reply> {
  const { query } = context;
  const page = pageOf(query, ['uuid']);
  const filter = { siteId: query.siteId ?? null, supplierId: query.supplierId ?? null };
  const rows = await listReceipts(context.tx, context.scope, filter, page);
  return pageReply(context.path, query, page, rows.map(receiptAnswer) as { goodsReceiptId: string }[], (row) => [
    row.goodsReceiptId,
  ]);
}
