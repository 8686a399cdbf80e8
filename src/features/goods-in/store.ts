/** SQL of goods receipts. */
import type { Tx } from '../../platform/db/db.ts';
import type { SiteScope } from '../../platform/http/contract.ts';
import type { Page } from '../../platform/http/paging.ts';

export interface ReceiptHead {
  readonly goodsReceiptId: string;
  readonly siteId: string;
  readonly supplierId: string;
  readonly documentNumber: string | null;
  readonly occurredAtMs: number;
  readonly receivedBy: string;
}

export async function insertReceipt(tx: Tx, head: ReceiptHead, nowMs: number): Promise<void> {
  await tx.query(
    `insert into goods_receipt (group_id, goods_receipt_id, site_id, supplier_id, document_number, occurred_at, recorded_at,
            received_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::text, to_timestamp($6::float8 / 1000), to_timestamp($7::float8 / 1000),
            $8::uuid)`,
    [
      tx.groupId,
      head.goodsReceiptId,
      head.siteId,
      head.supplierId,
      head.documentNumber,
      head.occurredAtMs,
      nowMs,
      head.receivedBy,
    ],
  );
}

export async function insertReceiptLines(
  tx: Tx,
  goodsReceiptId: string,
  lines: readonly {
    lineNo: number;
    lotId: string;
    placeId: string;
    quantity: number;
    temperatureC: number | null;
    priceMinor: number | null;
  }[],
): Promise<void> {
  await tx.query(
    `insert into goods_receipt_line (group_id, goods_receipt_id, line_no, lot_id, place_id, quantity, temperature_c, price_minor)
     select $1::uuid, $2::uuid, r."lineNo", r."lotId", r."placeId", r.quantity, r."temperatureC", r."priceMinor"
       from jsonb_to_recordset($3::jsonb) as r("lineNo" int, "lotId" uuid, "placeId" uuid, quantity int8,
            "temperatureC" numeric, "priceMinor" int8)`,
    [tx.groupId, goodsReceiptId, JSON.stringify(lines)],
  );
}

export interface ReceiptRow {
  readonly goodsReceiptId: string;
  readonly siteId: string;
  readonly supplierId: string;
  readonly documentNumber: string | null;
  readonly occurredAt: Date;
  readonly recordedAt: Date;
  readonly receivedBy: string;
  readonly lines: readonly object[];
}

const COLUMNS = `g.goods_receipt_id as "goodsReceiptId", g.site_id as "siteId", g.supplier_id as "supplierId",
  g.document_number as "documentNumber", g.occurred_at as "occurredAt", g.recorded_at as "recordedAt",
  g.received_by as "receivedBy",
  (select json_agg(json_build_object('lineNo', n.line_no, 'lotId', n.lot_id, 'lotCode', l.code, 'itemId', l.item_id,
            'itemName', i.name, 'placeId', n.place_id, 'quantity', n.quantity, 'unit', l.unit,
            'supplierLotCode', l.supplier_lot_code, 'useByDate', l.printed_use_by_date, 'temperatureC', n.temperature_c,
            'priceMinor', n.price_minor) order by n.line_no)
     from goods_receipt_line n
     join lot l on l.group_id = n.group_id and l.lot_id = n.lot_id
     join item i on i.group_id = l.group_id and i.item_id = l.item_id
    where n.group_id = g.group_id and n.goods_receipt_id = g.goods_receipt_id) as lines`;

export async function findReceipt(tx: Tx, goodsReceiptId: string): Promise<ReceiptRow | null> {
  const rows = await tx.query<ReceiptRow>(
    `select ${COLUMNS} from goods_receipt g where g.group_id = $1::uuid and g.goods_receipt_id = $2::uuid`,
    [tx.groupId, goodsReceiptId],
  );
  return rows[0] ?? null;
}

export async function listReceipts(
  tx: Tx,
  scope: SiteScope,
  filter: { siteId: string | null; supplierId: string | null },
  page: Page,
): Promise<ReceiptRow[]> {
  return tx.query<ReceiptRow>(
    `select ${COLUMNS} from goods_receipt g
      where g.group_id = $1::uuid and ($2::boolean or g.site_id = any($3::uuid[]))
        and ($4::uuid is null or g.site_id = $4::uuid)
        and ($5::uuid is null or g.supplier_id = $5::uuid)
        and ($6::uuid is null or g.goods_receipt_id > $6::uuid)
      order by g.goods_receipt_id
      limit $7::int`,
    [tx.groupId, scope.all, scope.siteIds, filter.siteId, filter.supplierId, page.after?.[0] ?? null, page.limit + 1],
  );
}
