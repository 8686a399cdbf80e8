/** SQL of the spreadsheets. Each statement is read row by row; nothing is held. */
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import { LOT_VISIBLE, partUseBy } from '../../ledger/index.ts';

export interface Filter {
  readonly siteId: string | null;
  /** days by the site's date, both included; null: no end */
  readonly from: string | null;
  readonly to: string | null;
}

interface LotColumns {
  readonly siteCode: string;
  readonly siteName: string;
  readonly gln: string | null;
  readonly itemCode: string;
  readonly itemName: string;
  readonly gtin: string | null;
  readonly lotCode: string;
  readonly supplierLotCode: string | null;
  readonly quantity: number;
  readonly unit: string;
  readonly bestBeforeDate: string | null;
}

export interface StockRow extends LotColumns {
  readonly placeCode: string;
  readonly placeName: string;
  readonly useByAt: Date | null;
  readonly useByDate: string | null;
  readonly holds: string | null;
}

/**
 * The day that a date with a time still gives whole, so that sorting by date never puts shortened lots last and a date read alone never
 * says more than the time beside it.
 */
const lastWholeDay = (at: string): string => `(nullif(${at}, 'infinity') at time zone st.time_zone)::date - 1`;

/** Kinds of the holds that stand on a lot, or on its part at a site or place; a part's own date and drills are no holds. */
const holdsOn = (part: string): string => `(
  select string_agg(distinct h.kind, ' ' order by h.kind)
    from hold_reach hr
    join hold h on h.group_id = hr.group_id and h.hold_id = hr.hold_id
   where hr.group_id = $1::uuid and hr.lot_id = l.lot_id and h.lifted_at is null and h.kind not in ('drill', 'use-by')
     and ${part})`;

export function readStockRows(tx: Tx, scope: SiteScope, filter: Filter): AsyncIterable<StockRow[]> {
  const here = '(h.site_id is null or h.site_id = a.site_id) and (h.account_id is null or h.account_id = b.account_id)';
  return tx.rows<StockRow>(
    `select st.code as "siteCode", st.name as "siteName", st.gln, pl.code as "placeCode", pl.name as "placeName",
            i.code as "itemCode", i.name as "itemName", i.gtin, l.code as "lotCode", l.supplier_lot_code as "supplierLotCode",
            b.quantity, l.unit, nullif(d.use_by_at, 'infinity') as "useByAt",
            case when d.use_by_at = s.use_by_at and s.use_by_date is not null then s.use_by_date else ${lastWholeDay('d.use_by_at')} end as "useByDate", l.best_before_date as "bestBeforeDate",
            ${holdsOn(here)} as holds
       from balance b
       join account a on a.group_id = b.group_id and a.account_id = b.account_id and a.kind = 'place'
       join place pl on pl.group_id = b.group_id and pl.place_id = b.account_id
       join site st on st.group_id = b.group_id and st.site_id = a.site_id
       join lot l on l.group_id = b.group_id and l.lot_id = b.lot_id
       join lot_state s on s.group_id = b.group_id and s.lot_id = b.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       cross join lateral (select ${partUseBy()} as use_by_at) d
      where b.group_id = $1::uuid and b.quantity > 0
        and ($2::boolean or a.site_id = any($3::uuid[]))
        and ($4::uuid is null or a.site_id = $4::uuid)
      order by st.code, pl.code, i.code, d.use_by_at, l.code`,
    [tx.groupId, scope.all, scope.siteIds, filter.siteId],
  );
}

export interface ExportLotRow extends LotColumns {
  readonly origin: string;
  readonly supplierName: string | null;
  readonly massMg: number;
  readonly bornAt: Date;
  readonly printedUseByDate: string | null;
  readonly printedUseByAt: Date | null;
  readonly useByAt: Date | null;
  readonly useByDate: string | null;
  readonly handling: string;
  readonly allergens: readonly string[];
  readonly mayContain: readonly string[];
  readonly holds: string | null;
}

export function readLotRows(tx: Tx, scope: SiteScope, filter: Filter): AsyncIterable<ExportLotRow[]> {
  return tx.rows<ExportLotRow>(
    `select st.code as "siteCode", st.name as "siteName", st.gln, i.code as "itemCode", i.name as "itemName", i.gtin,
            l.code as "lotCode", l.supplier_lot_code as "supplierLotCode", l.origin,
            coalesce(su.name, l.shop_name) as "supplierName", l.quantity, l.unit, l.mass_mg as "massMg", l.born_at as "bornAt",
            l.printed_use_by_date as "printedUseByDate", l.printed_use_by_at as "printedUseByAt",
            nullif(s.use_by_at, 'infinity') as "useByAt", coalesce(s.use_by_date, ${lastWholeDay('s.use_by_at')}) as "useByDate", l.best_before_date as "bestBeforeDate",
            coalesce(s.handling, l.handling) as handling, s.allergens, s.may_contain as "mayContain",
            ${holdsOn('h.site_id is null and h.account_id is null')} as holds
       from lot l
       join lot_state s on s.group_id = l.group_id and s.lot_id = l.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       join site st on st.group_id = l.group_id and st.site_id = l.site_id
       left join supplier su on su.group_id = l.group_id and su.supplier_id = l.supplier_id
      where l.group_id = $1::uuid and l.origin <> 'pseudo' and ${LOT_VISIBLE('$2', '$3')}
        and ($4::uuid is null or l.site_id = $4::uuid)
        and ($5::date is null or (l.born_at at time zone st.time_zone)::date >= $5::date)
        and ($6::date is null or (l.born_at at time zone st.time_zone)::date <= $6::date)
      order by l.born_at, l.code`,
    [tx.groupId, scope.all, scope.siteIds, filter.siteId, filter.from, filter.to],
  );
}

export interface ExportReceiptRow extends LotColumns {
  readonly kind: string;
  readonly occurredAt: Date;
  readonly occurredOn: string;
  readonly recordedAt: Date;
  readonly placeCode: string | null;
  readonly fromName: string | null;
  readonly document: string | null;
  readonly condition: string | null;
  readonly temperatureC: string | null;
  readonly receivedBy: string | null;
}

/** What entered a place out of a delivery, a dispatch or the opening stock. What was undone is left out. */
export function readReceiptRows(tx: Tx, scope: SiteScope, filter: Filter): AsyncIterable<ExportReceiptRow[]> {
  return tx.rows<ExportReceiptRow>(
    `select e.kind, p.occurred_at as "occurredAt", p.occurred_on as "occurredOn", e.recorded_at as "recordedAt",
            st.code as "siteCode", st.name as "siteName", st.gln, pl.code as "placeCode",
            coalesce(fs.name, su.name, gr.shop_name, l.shop_name) as "fromName",
            coalesce(d.code, gr.document_number, gr.shop_receipt_number) as document,
            i.code as "itemCode", i.name as "itemName", i.gtin, l.code as "lotCode", l.supplier_lot_code as "supplierLotCode",
            p.quantity, l.unit, rl.condition, coalesce(rl.temperature_c, gl.temperature_c)::text as "temperatureC",
            l.best_before_date as "bestBeforeDate", coalesce(pe.name, de.name) as "receivedBy"
       from posting p
       join entry e on e.group_id = p.group_id and e.seq = p.seq
       join account ta on ta.group_id = p.group_id and ta.account_id = p.to_account_id and ta.kind like 'place%'
       join site st on st.group_id = p.group_id and st.site_id = ta.site_id
       join lot l on l.group_id = p.group_id and l.lot_id = p.lot_id
       join item i on i.group_id = p.group_id and i.item_id = l.item_id
       left join place pl on pl.group_id = p.group_id and pl.place_id = coalesce(ta.twin_of, ta.account_id)
       left join dispatch d on d.group_id = p.group_id and d.dispatch_id = e.dispatch_id
       left join site fs on fs.group_id = p.group_id and fs.site_id = d.from_site_id
       left join goods_receipt gr on gr.group_id = p.group_id and gr.goods_receipt_id = l.goods_receipt_id and e.kind = 'goods-receipt'
       left join supplier su on su.group_id = p.group_id and su.supplier_id = coalesce(gr.supplier_id, l.supplier_id)
        and e.dispatch_id is null
       left join lateral (
         select x.condition, x.temperature_c from receipt_line x
          where x.group_id = p.group_id and x.receipt_id = e.entry_id and x.lot_id = p.lot_id order by x.line_no limit 1) rl on true
       left join lateral (
         select x.temperature_c from goods_receipt_line x
          where x.group_id = p.group_id and x.goods_receipt_id = gr.goods_receipt_id and x.lot_id = p.lot_id
          order by x.line_no limit 1) gl on true
       left join person pe on pe.group_id = p.group_id and pe.person_id = e.actor_id
       left join device de on de.group_id = p.group_id and de.device_id = e.actor_id
      where p.group_id = $1::uuid and e.kind in ('goods-receipt', 'receipt', 'opening-stock')
        and ($2::boolean or ta.site_id = any($3::uuid[]))
        and ($4::uuid is null or ta.site_id = $4::uuid)
        and ($5::date is null or p.occurred_on >= $5::date) and ($6::date is null or p.occurred_on <= $6::date)
        and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)
      order by p.seq, p.line_no`,
    [tx.groupId, scope.all, scope.siteIds, filter.siteId, filter.from, filter.to],
  );
}
