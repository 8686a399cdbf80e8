/**
 * Goods in. Refusals: `not-found`, `unit-mismatch`, `item-unsuitable`, `allergen-unknown`, `code-taken`, `rule-broken`.
 */
import { isAllergenCode } from '../../domain/allergens.ts';
import { bornAllergens, endOfDateMs } from '../../domain/birth.ts';
import { notFound, Refused } from '../../domain/errors.ts';
import { post } from '../../domain/ledger/book.ts';
import { makeLotCode } from '../../domain/lot-codes.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import { derivedId } from '../../platform/ids.ts';
import { outbox } from '../../platform/jobs.ts';
import {
  findItems,
  findPlaces,
  findSites,
  findSuppliers,
  type ItemRow,
  type PlaceRow,
  type SiteRow,
} from '../catalogue/index.ts';
import {
  insertLots,
  loadBook,
  openFindings,
  outside,
  placeAccount,
  requireFreeLots,
  requireUnit,
  writeBook,
  type FindingDraft,
  type LotDraft,
} from '../ledger/index.ts';
import type * as contract from './contract.ts';
import { findReceipt, insertReceipt, insertReceiptLines, listReceipts, type ReceiptRow } from './store.ts';

type Create = Context<typeof contract.createGoodsReceipt>;
type Line = Create['body']['lines'][number];

function lotOf(context: Create, line: Line, at: number, item: ItemRow, site: SiteRow, occurredAtMs: number): LotDraft {
  const pointer = (field: string) => `#/lines/${at}/${field}`;
  requireUnit({ unit: item.unit, code: item.code }, line.unit, pointer('unit'));
  if (!item.lotTracked || item.kind === 'packaging') {
    const detail = `${item.name} is not kept by lot; it needs no goods receipt.`;
    throw new Refused('item-unsuitable', detail, { errors: [{ detail, pointer: pointer('itemId') }] });
  }
  for (const code of [...(line.allergens ?? []), ...(line.mayContain ?? [])]) {
    if (!isAllergenCode(code)) throw new Refused('allergen-unknown', `${code} is not an allergen code.`);
  }
  const lotId = line.lotId ?? derivedId(`goods-receipt-line-${at + 1}`, context.factId);
  const endsAtMs =
    line.useByDate === undefined ? null : endOfDateMs(line.useByDate, site.timeZone, pointer('useByDate'));
  return {
    lotId,
    code: line.lotCode ?? makeLotCode(site.code, localDate(occurredAtMs, site.timeZone), lotId),
    itemId: item.itemId,
    unit: item.unit,
    quantity: line.quantity,
    massMg: line.massG === undefined ? line.quantity * item.unitMassMg : line.massG * 1000,
    origin: 'supplied',
    siteId: site.siteId,
    serialised: false,
    bornAtMs: occurredAtMs,
    handling: item.handling,
    storageInstruction: item.storageInstruction,
    useBy: endsAtMs === null ? null : { endsAtMs, date: line.useByDate ?? null },
    useByBasis: endsAtMs === null ? null : { why: 'supplier', date: line.useByDate },
    anchors: {},
    ...bornAllergens(item, [
      { code: '', useByAtMs: null, allergens: line.allergens ?? [], mayContain: line.mayContain ?? [] },
    ]),
    supplierId: context.body.supplierId,
    supplierLotCode: line.supplierLotCode ?? null,
    goodsReceiptId: context.factId,
  };
}

export async function takeIn(context: Create): Promise<Reply> {
  const { body, tx, nowMs, factId, actor } = context;
  const site = (await findSites(tx, [body.siteId])).get(body.siteId);
  const suppliers = await findSuppliers(tx, [body.supplierId]);
  const items = await findItems(
    tx,
    body.lines.map((line) => line.itemId),
  );
  const places = await findPlaces(
    tx,
    body.lines.flatMap((line) => (line.placeId ? [line.placeId] : [])).concat(site?.receivingPlaceId ?? []),
  );
  if (!site || !context.scope.includes(site.siteId)) throw notFound('site');
  if (!suppliers.has(body.supplierId)) throw notFound('supplier');
  const occurredAtMs = fromInstant(body.occurredAt);
  const lines = body.lines.map((line, at) => {
    const item = items.get(line.itemId);
    const place = places.get(line.placeId ?? site.receivingPlaceId);
    if (!item) throw notFound('item');
    if (!place || place.siteId !== site.siteId) throw notFound('place');
    return { line, at, place, lot: lotOf(context, line, at, item, site, occurredAtMs) };
  });
  await requireFreeLots(
    tx,
    lines.map(({ lot }) => lot),
  );
  const findings = pastOnArrival(lines, factId, occurredAtMs);
  // From here on only success.
  await insertLots(
    tx,
    lines.map(({ lot }) => lot),
  );
  const book = await loadBook(
    tx,
    lines.map(({ lot, place }) => ({ lotId: lot.lotId, account: placeAccount(place.placeId, site.siteId) })),
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
    moves: lines.map(({ line, lot, place }) => ({
      lotId: lot.lotId,
      fromAccountId: outside('supplier', site.siteId),
      toAccountId: place.placeId,
      quantity: line.quantity,
      basis: lot.unit === 'piece' ? 'counted' : 'weighed',
    })),
  });
  await writeBook({ tx, ids: context.ids, actorId: actor.actorId, nowMs }, book);
  const head = {
    goodsReceiptId: factId,
    siteId: site.siteId,
    supplierId: body.supplierId,
    documentNumber: body.documentNumber ?? null,
    occurredAtMs,
    receivedBy: actor.actorId,
  };
  await insertReceipt(tx, head, nowMs);
  await insertReceiptLines(
    tx,
    factId,
    lines.map(({ line, at, lot, place }) => ({
      lineNo: at + 1,
      lotId: lot.lotId,
      placeId: place.placeId,
      quantity: line.quantity,
      temperatureC: line.temperatureC ?? null,
      priceMinor: line.priceMinor ?? null,
    })),
  );
  await openFindings(tx, findings, nowMs);
  await outbox(tx, 'lots-born', { lotIds: lines.map(({ lot }) => lot.lotId) }, nowMs);
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

function pastOnArrival(
  lines: readonly { lot: LotDraft; place: PlaceRow }[],
  factId: string,
  occurredAtMs: number,
): FindingDraft[] {
  return lines
    .filter(({ lot }) => lot.useBy !== null && lot.useBy.endsAtMs <= occurredAtMs)
    .map(({ lot, place }) => ({
      kind: 'past-use-by',
      subject: lot.lotId,
      siteId: place.siteId,
      lotId: lot.lotId,
      quantity: null,
      occurredAtMs,
      detail: { lotCode: lot.code, useByDate: lot.useBy?.date ?? null, atGoodsIn: true, factId },
    }));
}

function receiptAnswer(row: ReceiptRow): object {
  return { ...row, occurredAt: row.occurredAt.toISOString(), recordedAt: row.recordedAt.toISOString() };
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
