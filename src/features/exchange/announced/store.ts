/** SQL on what suppliers announced. Which site, supplier and item a number means is looked up here, on reading; two with one number are none. */
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';

export interface StoredLine {
  readonly lineNo: number;
  readonly epc: string;
  readonly gtin: string | null;
  readonly lotCode: string | null;
  readonly sscc: string | null;
  readonly quantity: number | null;
  readonly uom: string | null;
  readonly useByDate: string | null;
  readonly bestBeforeDate: string | null;
  readonly itemId: string | null;
  readonly itemName: string | null;
  readonly unit: string | null;
}

export interface DeliveryRow {
  readonly announcedDeliveryId: string;
  readonly captureId: string;
  readonly eventId: string;
  readonly shippedAt: Date;
  readonly recordedAt: Date;
  readonly fromGln: string | null;
  readonly toGln: string | null;
  readonly despatchAdvice: string | null;
  readonly purchaseOrder: string | null;
  readonly ssccs: readonly string[];
  readonly closedSsccs: readonly string[];
  readonly siteId: string | null;
  readonly siteName: string | null;
  readonly supplierId: string | null;
  readonly supplierName: string | null;
  readonly withdrawal: {
    readonly declaredAt: string;
    readonly reason: string | null;
    readonly captureId: string;
  } | null;
  readonly receiptIds: readonly string[];
  readonly lines: readonly StoredLine[];
}

export type DeliveryState = 'announced' | 'received' | 'withdrawn';

const SELECT = `select d.announced_delivery_id as "announcedDeliveryId", d.capture_id as "captureId", d.event_id as "eventId",
  d.shipped_at as "shippedAt", d.recorded_at as "recordedAt", d.from_gln as "fromGln", d.to_gln as "toGln",
  d.despatch_advice as "despatchAdvice", d.purchase_order as "purchaseOrder", d.ssccs, d.closed_ssccs as "closedSsccs",
  t.site_id as "siteId", t.name as "siteName", f.supplier_id as "supplierId", f.name as "supplierName",
  case when w.announced_delivery_id is null then null else json_build_object('declaredAt', w.declared_at, 'reason', w.reason,
    'captureId', w.capture_id) end as withdrawal,
  array(select r.goods_receipt_id from announced_delivery_receipt r
         where r.group_id = d.group_id and r.announced_delivery_id = d.announced_delivery_id order by r.recorded_at, r.goods_receipt_id
  ) as "receiptIds",
  coalesce((select json_agg(json_build_object('lineNo', n.line_no, 'epc', n.epc, 'gtin', n.gtin, 'lotCode', n.lot_code,
              'sscc', n.sscc, 'quantity', n.quantity, 'uom', n.uom, 'useByDate', n.use_by_date,
              'bestBeforeDate', n.best_before_date, 'itemId', i.item_id, 'itemName', i.name, 'unit', i.unit) order by n.line_no)
     from announced_delivery_line n
     left join lateral (select min(o.item_id::text)::uuid as item_id, min(o.name) as name, min(o.unit) as unit from item o
                         where o.group_id = n.group_id and o.gtin = n.gtin having count(*) = 1) i on true
    where n.group_id = d.group_id and n.announced_delivery_id = d.announced_delivery_id), '[]'::json) as lines
  from announced_delivery d
  left join lateral (select min(s.site_id::text)::uuid as site_id, min(s.name) as name from site s
                      where s.group_id = d.group_id and s.gln = d.to_gln having count(*) = 1) t on true
  left join lateral (select min(s.supplier_id::text)::uuid as supplier_id, min(s.name) as name from supplier s
                      where s.group_id = d.group_id and s.gln = d.from_gln having count(*) = 1) f on true
  left join announced_delivery_withdrawal w on w.group_id = d.group_id and w.announced_delivery_id = d.announced_delivery_id`;

/** Those that may be seen: of the sites, or for those who act at all of them also what names no site. */
const VISIBLE = `d.group_id = $1::uuid and ($2::boolean or t.site_id = any($3::uuid[]))`;

export async function findDelivery(tx: Tx, scope: SiteScope, announcedDeliveryId: string): Promise<DeliveryRow | null> {
  const rows = await tx.query<DeliveryRow>(`${SELECT} where ${VISIBLE} and d.announced_delivery_id = $4::uuid`, [
    tx.groupId,
    scope.all,
    scope.siteIds,
    announcedDeliveryId,
  ]);
  return rows[0] ?? null;
}

/** The last shipped first, one more than the page holds. */
export async function listDeliveries(
  tx: Tx,
  scope: SiteScope,
  filter: { readonly siteId: string | null; readonly state: DeliveryState | null },
  page: Page,
): Promise<DeliveryRow[]> {
  return tx.query<DeliveryRow>(
    `${SELECT} where ${VISIBLE} and ($4::uuid is null or t.site_id = $4::uuid)
        and ($5::text is null or $5::text = case
              when exists (select 1 from announced_delivery_receipt r
                            where r.group_id = d.group_id and r.announced_delivery_id = d.announced_delivery_id) then 'received'
              when w.announced_delivery_id is not null then 'withdrawn' else 'announced' end)
        and ($6::timestamptz is null or (d.shipped_at, d.announced_delivery_id) < ($6::timestamptz, $7::uuid))
      order by d.shipped_at desc, d.announced_delivery_id desc limit $8::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.state,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      page.limit + 1,
    ],
  );
}

export interface ReceivedRow {
  readonly itemId: string;
  readonly itemName: string;
  readonly unit: string;
  readonly lotCode: string | null;
  readonly quantity: number;
  readonly useByDate: string | null;
}

/** What came, with what was refused at the door. */
export async function findReceivedLines(tx: Tx, goodsReceiptIds: readonly string[]): Promise<ReceivedRow[]> {
  return tx.query<ReceivedRow>(
    `select i.item_id as "itemId", i.name as "itemName", i.unit, coalesce(l.supplier_lot_code, n.supplier_lot_code) as "lotCode",
            (n.quantity + n.rejected_quantity)::float8 as quantity,
            to_char(coalesce(l.printed_use_by_date, n.use_by_date), 'YYYY-MM-DD') as "useByDate"
       from goods_receipt_line n
       left join lot l on l.group_id = n.group_id and l.lot_id = n.lot_id
       join item i on i.group_id = n.group_id and i.item_id = coalesce(n.item_id, l.item_id)
      where n.group_id = $1::uuid and n.goods_receipt_id = any($2::uuid[])
      order by n.goods_receipt_id, n.line_no`,
    [tx.groupId, goodsReceiptIds],
  );
}

export async function findReceiptHead(
  tx: Tx,
  goodsReceiptId: string,
): Promise<{ readonly siteId: string; readonly supplierId: string | null } | null> {
  const rows = await tx.query<{ siteId: string; supplierId: string | null }>(
    `select g.site_id as "siteId", g.supplier_id as "supplierId" from goods_receipt g
      where g.group_id = $1::uuid and g.goods_receipt_id = $2::uuid`,
    [tx.groupId, goodsReceiptId],
  );
  return rows[0] ?? null;
}

/** False when the receipt is of an announced delivery already. */
export async function insertReceiptLink(
  tx: Tx,
  link: { readonly announcedDeliveryId: string; readonly goodsReceiptId: string; readonly actorId: string },
  nowMs: number,
): Promise<boolean> {
  const rows = await tx.query(
    `insert into announced_delivery_receipt (group_id, announced_delivery_id, goods_receipt_id, recorded_at, recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, to_timestamp($4::float8 / 1000), $5::uuid)
     on conflict do nothing returning goods_receipt_id`,
    [tx.groupId, link.announcedDeliveryId, link.goodsReceiptId, nowMs, link.actorId],
  );
  return rows.length > 0;
}
