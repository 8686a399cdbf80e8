/** SQL of goods receipts. */
import type { Tx } from '../../platform/db/db.ts';
import type { SiteScope } from '../../platform/http/contract.ts';
import type { Page } from '../../platform/http/paging.ts';

export interface ReceiptHead {
  readonly goodsReceiptId: string;
  readonly siteId: string;
  readonly supplierId: string | null;
  readonly shopName: string | null;
  readonly shopReceiptNumber: string | null;
  readonly documentNumber: string | null;
  readonly occurredAtMs: number;
  readonly receivedBy: string;
}

export async function insertReceipt(tx: Tx, head: ReceiptHead, nowMs: number): Promise<void> {
  await tx.query(
    `insert into goods_receipt (group_id, goods_receipt_id, site_id, supplier_id, document_number, occurred_at, recorded_at,
            received_by, shop_name, shop_receipt_number)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::text, to_timestamp($6::float8 / 1000), to_timestamp($7::float8 / 1000),
            $8::uuid, $9::text, $10::text)`,
    [
      tx.groupId,
      head.goodsReceiptId,
      head.siteId,
      head.supplierId,
      head.documentNumber,
      head.occurredAtMs,
      nowMs,
      head.receivedBy,
      head.shopName,
      head.shopReceiptNumber,
    ],
  );
}

interface ReceiptLine {
  readonly lineNo: number;
  readonly deliveryLineNo: number | null;
  /** null: rejected whole */
  readonly lotId: string | null;
  readonly itemId: string;
  readonly placeId: string | null;
  readonly placePresumed: boolean;
  readonly quantity: number;
  readonly entryUnit: string | null;
  readonly entryQuantity: number | null;
  readonly rejectedQuantity: number;
  readonly rejectedReason: string | null;
  readonly supplierLotCode: string | null;
  readonly useByDate: string | null;
  readonly bestBeforeDate: string | null;
  readonly allergensConfirmed: boolean;
  readonly temperatureC: number | null;
  readonly priceMinor: number | null;
}

export async function insertReceiptLines(tx: Tx, goodsReceiptId: string, lines: readonly ReceiptLine[]): Promise<void> {
  await tx.query(
    `insert into goods_receipt_line (group_id, goods_receipt_id, line_no, lot_id, place_id, quantity, temperature_c, price_minor,
            item_id, delivery_line_no, entry_unit, entry_quantity, rejected_quantity, rejected_reason, supplier_lot_code,
            use_by_date, best_before_date, allergens_confirmed, place_presumed)
     select $1::uuid, $2::uuid, r."lineNo", r."lotId", r."placeId", r.quantity, r."temperatureC", r."priceMinor", r."itemId",
            r."deliveryLineNo", r."entryUnit", r."entryQuantity", r."rejectedQuantity", r."rejectedReason",
            r."supplierLotCode", r."useByDate", r."bestBeforeDate", r."allergensConfirmed", r."placePresumed"
       from jsonb_to_recordset($3::jsonb) as r("lineNo" int, "lotId" uuid, "placeId" uuid, quantity int8,
            "temperatureC" numeric, "priceMinor" int8, "itemId" uuid, "deliveryLineNo" int, "entryUnit" text,
            "entryQuantity" numeric, "rejectedQuantity" int8, "rejectedReason" text, "supplierLotCode" text,
            "useByDate" date, "bestBeforeDate" date, "allergensConfirmed" boolean, "placePresumed" boolean)`,
    [tx.groupId, goodsReceiptId, JSON.stringify(lines)],
  );
}

export interface ReceiptRow {
  readonly goodsReceiptId: string;
  readonly siteId: string;
  readonly supplierId: string | null;
  readonly shopName: string | null;
  readonly shopReceiptNumber: string | null;
  readonly documentNumber: string | null;
  readonly occurredAt: Date;
  readonly recordedAt: Date;
  readonly receivedBy: string;
  readonly lines: readonly object[];
}

/** Lines from before a line kept its own item and codes have them from their lot. */
const COLUMNS = `g.goods_receipt_id as "goodsReceiptId", g.site_id as "siteId", g.supplier_id as "supplierId",
  g.shop_name as "shopName", g.shop_receipt_number as "shopReceiptNumber",
  g.document_number as "documentNumber", g.occurred_at as "occurredAt", g.recorded_at as "recordedAt",
  g.received_by as "receivedBy",
  (select json_agg(json_build_object('lineNo', n.line_no, 'deliveryLineNo', n.delivery_line_no, 'lotId', n.lot_id,
            'lotCode', l.code, 'itemId', i.item_id, 'itemName', i.name, 'placeId', n.place_id,
            'placePresumed', n.place_presumed, 'quantity', n.quantity, 'unit', i.unit,
            'entryUnit', n.entry_unit, 'entryQuantity', n.entry_quantity, 'rejectedQuantity', n.rejected_quantity,
            'rejectedReason', n.rejected_reason,
            'supplierLotCode', coalesce(l.supplier_lot_code, n.supplier_lot_code),
            'useByDate', coalesce(l.printed_use_by_date, n.use_by_date), 'bestBeforeDate', n.best_before_date,
            'allergensConfirmed', n.allergens_confirmed, 'temperatureC', n.temperature_c,
            'priceMinor', n.price_minor) order by n.line_no)
     from goods_receipt_line n
     left join lot l on l.group_id = n.group_id and l.lot_id = n.lot_id
     join item i on i.group_id = n.group_id and i.item_id = coalesce(n.item_id, l.item_id)
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
