/** SQL of what shared a delivery, a supplier's code, a van or a place with a scope. */
import type { Tx } from '../../../platform/db/db.ts';

export interface DeliveryRow {
  readonly goodsReceiptId: string;
  readonly supplierId: string | null;
  readonly supplierName: string;
  readonly occurredAt: Date;
  readonly documentNumber: string | null;
  /** of the delivery, in scope or not */
  readonly lotIds: readonly string[];
}

/** Deliveries that brought any of these lots, newest first. */
export async function listDeliveries(tx: Tx, lotIds: readonly string[], limit: number): Promise<DeliveryRow[]> {
  return tx.query<DeliveryRow>(
    `with brought as materialized (
       select distinct l.goods_receipt_id from lot l
        where l.group_id = $1::uuid and l.lot_id = any($2::uuid[]) and l.goods_receipt_id is not null
     )
     select g.goods_receipt_id as "goodsReceiptId", g.supplier_id as "supplierId",
            coalesce(su.name, g.shop_name) as "supplierName", g.occurred_at as "occurredAt",
            g.document_number as "documentNumber",
            array(select distinct n.lot_id from goods_receipt_line n
                   where n.group_id = g.group_id and n.goods_receipt_id = g.goods_receipt_id and n.lot_id is not null) as "lotIds"
       from brought b
       join goods_receipt g on g.group_id = $1::uuid and g.goods_receipt_id = b.goods_receipt_id
       left join supplier su on su.group_id = g.group_id and su.supplier_id = g.supplier_id
      order by g.occurred_at desc, g.goods_receipt_id
      limit $3::int`,
    [tx.groupId, lotIds, limit],
  );
}

export interface SupplierCodeRow {
  readonly supplierId: string;
  readonly supplierName: string;
  readonly supplierLotCode: string;
  readonly inScope: boolean;
  readonly lotIds: readonly string[];
}

/** Codes of the suppliers of these lots, the latest lots first; inScope: a lot given has it. */
export async function listSupplierCodes(tx: Tx, lotIds: readonly string[], limit: number): Promise<SupplierCodeRow[]> {
  return tx.query<SupplierCodeRow>(
    `with scope as materialized (select u.lot_id from unnest($2::uuid[]) as u(lot_id)), mine as materialized (
       select distinct l.supplier_id
         from scope s join lot l on l.group_id = $1::uuid and l.lot_id = s.lot_id
        where l.supplier_id is not null and l.supplier_lot_code is not null
     )
     select l.supplier_id as "supplierId", su.name as "supplierName", l.supplier_lot_code as "supplierLotCode",
            bool_or(s.lot_id is not null) as "inScope", array_agg(l.lot_id order by l.lot_id) as "lotIds"
       from mine
       join lot l on l.group_id = $1::uuid and l.supplier_id = mine.supplier_id and l.supplier_lot_code is not null
       join supplier su on su.group_id = l.group_id and su.supplier_id = l.supplier_id
       left join scope s on s.lot_id = l.lot_id
      group by l.supplier_id, su.name, l.supplier_lot_code
      order by bool_or(s.lot_id is not null) desc, max(l.born_at) desc, l.supplier_lot_code
      limit $3::int`,
    [tx.groupId, lotIds, limit],
  );
}

export interface WarmDispatchRow {
  readonly dispatchId: string;
  readonly code: string;
  readonly toSiteName: string;
  readonly lotIds: readonly string[];
}

/** Dispatches that carried any of these lots and from which something came too warm, with all that they carried; newest first. */
export async function listWarmDispatches(tx: Tx, lotIds: readonly string[], limit: number): Promise<WarmDispatchRow[]> {
  return tx.query<WarmDispatchRow>(
    `with carried as materialized (
       select distinct dl.dispatch_id from dispatch_line dl
        where dl.group_id = $1::uuid and dl.lot_id = any($2::uuid[])
     )
     select d.dispatch_id as "dispatchId", d.code, s.name as "toSiteName",
            array(select distinct dl.lot_id from dispatch_line dl
                   where dl.group_id = d.group_id and dl.dispatch_id = d.dispatch_id) as "lotIds"
       from carried c
       join dispatch d on d.group_id = $1::uuid and d.dispatch_id = c.dispatch_id and d.departed_at is not null
       join site s on s.group_id = d.group_id and s.site_id = d.to_site_id
      where exists (select from receipt r
                      join receipt_line n on n.group_id = r.group_id and n.receipt_id = r.receipt_id
                     where r.group_id = d.group_id and r.dispatch_id = d.dispatch_id and n.condition = 'too-warm')
      order by d.departed_at desc, d.dispatch_id
      limit $3::int`,
    [tx.groupId, lotIds, limit],
  );
}

export interface StayRow {
  readonly placeId: string;
  readonly placeName: string;
  readonly siteName: string;
  readonly fromMs: number;
  /** null: still there */
  readonly toMs: number | null;
  /** when goods first came in too warm into it meanwhile; null when none did */
  readonly warmAtMs: number | null;
}

/**
 * Places where any of these lots stood, from the first that came to the last that went. Shortfalls are what left and was not there on paper;
 * they say nothing of when it stood there, and are left out.
 */
export async function listStays(tx: Tx, lotIds: readonly string[], limit: number): Promise<StayRow[]> {
  return tx.query<StayRow>(
    `with moved as materialized (
       select a.account_id, p.lot_id, min(p.occurred_at) filter (where p.to_account_id = a.account_id) as from_at,
              max(p.occurred_at) filter (where p.from_account_id = a.account_id) as left_at
         from posting p
         join account a on a.group_id = p.group_id and a.kind = 'place' and a.account_id in (p.from_account_id, p.to_account_id)
        where p.group_id = $1::uuid and p.lot_id = any($2::uuid[])
        group by a.account_id, p.lot_id
     ), stay as (
       select m.account_id, min(m.from_at) as from_at, max(case when b.quantity <> 0 then 'infinity' else m.left_at end) as to_at
         from moved m
         left join balance b on b.group_id = $1::uuid and b.lot_id = m.lot_id and b.account_id = m.account_id
        where m.from_at is not null
        group by m.account_id
     )
     select s.account_id as "placeId", pl.name as "placeName", si.name as "siteName",
            (extract(epoch from s.from_at) * 1000)::int8 as "fromMs",
            case when s.to_at < 'infinity' then (extract(epoch from s.to_at) * 1000)::int8 end as "toMs",
            (select (extract(epoch from min(r.occurred_at)) * 1000)::int8
               from receipt_line n
               join receipt r on r.group_id = n.group_id and r.receipt_id = n.receipt_id
              where n.group_id = $1::uuid and n.place_id = s.account_id and n.condition = 'too-warm'
                and r.occurred_at between s.from_at and s.to_at) as "warmAtMs"
       from stay s
       join place pl on pl.group_id = $1::uuid and pl.place_id = s.account_id
       join site si on si.group_id = pl.group_id and si.site_id = pl.site_id
      where s.to_at is not null
      order by s.from_at desc, s.account_id
      limit $3::int`,
    [tx.groupId, lotIds, limit],
  );
}

export interface PlaceWindow {
  readonly placeId: string;
  readonly fromMs: number;
  readonly toMs: number;
}

/** Lots that stood in each place at any time within its window: came before it ended, and went after it began or are there still. */
export async function listLotsInPlaces(
  tx: Tx,
  windows: readonly PlaceWindow[],
  limit: number,
): Promise<{ at: number; lotId: string }[]> {
  return tx.query<{ at: number; lotId: string }>(
    `with w as materialized (
       select r.at, r."placeId" as place_id, to_timestamp(r."fromMs" / 1000) as from_at, to_timestamp(r."toMs" / 1000) as to_at
         from jsonb_to_recordset($2::jsonb) as r(at int, "placeId" uuid, "fromMs" float8, "toMs" float8)
     ), there as (
       select w.at, w.place_id, w.to_at, b.lot_id
         from w join balance b on b.group_id = $1::uuid and b.account_id = w.place_id and b.quantity <> 0
       union
       select w.at, w.place_id, w.to_at, p.lot_id
         from w
         join posting p on p.group_id = $1::uuid and p.occurred_on >= (w.from_at - interval '1 day')::date
          and p.from_account_id = w.place_id and p.occurred_at >= w.from_at
     )
     select t.at, t.lot_id as "lotId"
       from there t
      where exists (select from posting p
                     where p.group_id = $1::uuid and p.lot_id = t.lot_id and p.to_account_id = t.place_id and p.occurred_at < t.to_at)
      order by t.at, t.lot_id
      limit $3::int`,
    [tx.groupId, JSON.stringify(windows.map((window, at) => ({ at, ...window }))), limit],
  );
}
