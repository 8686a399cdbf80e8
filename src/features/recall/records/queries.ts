/** SQL of tracking events: which lots are asked for, what happened to them, what went into them. */
import type { Tx } from '../../../platform/db/db.ts';

export type Walk = 'forward' | 'back';

/** Lots from which a file begins, with everything before or after them; each once, at most `limit`. */
export async function walkFrom(tx: Tx, lotIds: readonly string[], walk: Walk, limit: number): Promise<string[]> {
  const [near, far] = walk === 'forward' ? ['parent_lot_id', 'child_lot_id'] : ['child_lot_id', 'parent_lot_id'];
  const rows = await tx.query<{ lotId: string }>(
    `with recursive walk (lot_id) as (
       select u.lot_id from unnest($2::uuid[]) as u(lot_id)
       union
       select le.${far} from walk w join lot_edge le on le.group_id = $1::uuid and le.${near} = w.lot_id
     )
     select w.lot_id as "lotId" from walk w limit $3::int`,
    [tx.groupId, lotIds, limit],
  );
  return rows.map((row) => row.lotId);
}

export async function listSupplierLots(tx: Tx, supplierId: string, limit: number): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select l.lot_id as "lotId" from lot l where l.group_id = $1::uuid and l.supplier_id = $2::uuid limit $3::int`,
    [tx.groupId, supplierId, limit],
  );
  return rows.map((row) => row.lotId);
}

/** Lots with which anything happened on these days (the sites' dates, both inclusive). */
export async function listPeriodLots(tx: Tx, from: string, to: string, limit: number): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select distinct p.lot_id as "lotId" from posting p
      where p.group_id = $1::uuid and p.occurred_on between $2::date and $3::date limit $4::int`,
    [tx.groupId, from, to, limit],
  );
  return rows.map((row) => row.lotId);
}

/** The scope of a case: what its hold reaches. */
export async function listReachedLots(tx: Tx, holdId: string): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select hr.lot_id as "lotId" from hold_reach hr where hr.group_id = $1::uuid and hr.hold_id = $2::uuid`,
    [tx.groupId, holdId],
  );
  return rows.map((row) => row.lotId);
}

/** In order of their birth. */
export async function sortByBirth(tx: Tx, lotIds: readonly string[]): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select l.lot_id as "lotId" from lot l
      where l.group_id = $1::uuid and l.lot_id = any($2::uuid[]) order by l.born_at, l.code`,
    [tx.groupId, lotIds],
  );
  return rows.map((row) => row.lotId);
}

export interface RecordLotRow {
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemCode: string;
  readonly itemName: string;
  readonly itemKind: string;
  readonly netWeightMg: number;
  readonly unit: string;
  readonly quantity: number;
  readonly origin: string;
  readonly siteId: string;
  readonly bornAt: Date;
  readonly useByDate: string | null;
  readonly bestBeforeDate: string | null;
  readonly supplierId: string | null;
  readonly shopName: string | null;
  readonly supplierLotCode: string | null;
  readonly documentNumber: string | null;
  readonly shopReceiptNumber: string | null;
  readonly entryUnit: string | null;
  readonly perEntryUnit: number | null;
}

export async function listRecordLots(tx: Tx, lotIds: readonly string[]): Promise<RecordLotRow[]> {
  return tx.query<RecordLotRow>(
    `select l.lot_id as "lotId", l.code as "lotCode", i.code as "itemCode", i.name as "itemName", i.kind as "itemKind",
            i.net_weight_mg as "netWeightMg", l.unit, l.quantity, l.origin, l.site_id as "siteId", l.born_at as "bornAt",
            l.printed_use_by_date as "useByDate", l.best_before_date as "bestBeforeDate", l.supplier_id as "supplierId",
            coalesce(l.shop_name, gr.shop_name) as "shopName", l.supplier_lot_code as "supplierLotCode",
            gr.document_number as "documentNumber", gr.shop_receipt_number as "shopReceiptNumber",
            gl.entry_unit as "entryUnit", gl.per_unit::float8 as "perEntryUnit"
       from lot l
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       left join goods_receipt gr on gr.group_id = l.group_id and gr.goods_receipt_id = l.goods_receipt_id
       left join lateral (
         select g.entry_unit, (u ->> 'quantity')::int8 as per_unit
           from goods_receipt_line g
           left join lateral jsonb_array_elements(i.entry_units) as u on u ->> 'code' = g.entry_unit
          where g.group_id = l.group_id and g.goods_receipt_id = l.goods_receipt_id and g.lot_id = l.lot_id
          limit 1) gl on l.goods_receipt_id is not null
      where l.group_id = $1::uuid and l.lot_id = any($2::uuid[])
      order by l.born_at, l.code`,
    [tx.groupId, lotIds],
  );
}

export interface EventRow {
  readonly lotId: string;
  readonly entryKind: string;
  readonly fromKind: string;
  readonly toKind: string;
  readonly siteId: string;
  readonly eventId: string;
  readonly seq: number;
  /** entries that it sums: beeps of one day, a count and what corrected it */
  readonly facts: number;
  /** below zero only for counts that found more */
  readonly quantity: number;
  readonly occurredAt: Date;
  readonly lastAt: Date;
  readonly occurredOn: string;
  readonly recordedAt: Date;
  readonly actorIds: readonly string[];
  readonly dispatchCode: string | null;
  readonly fromSiteId: string | null;
  readonly toSiteId: string | null;
  readonly departedOn: string | null;
  readonly batchCode: string | null;
}

export interface EventFilter {
  readonly from: string | null;
  readonly to: string | null;
  /** null: every site */
  readonly siteIds: readonly string[] | null;
}

/**
 * What stands of what happened to these lots, net of what was undone; moves within a site are left out. One row for an entry and a lot.
 * Scans are one entry a beep: those of one kind, lot, site, dispatch and day are one row. A count is one row with whatever corrected it
 * later, and gone when nothing is left of it.
 */
export async function listEvents(tx: Tx, lotIds: readonly string[], filter: EventFilter): Promise<EventRow[]> {
  return tx.query<EventRow>(
    `with x as (
       select p.lot_id, case when e.count_id is null then e.kind else 'stock-count' end as kind,
              case when e.count_id is null then replace(fa.kind, '-shortfall', '') else 'place' end as from_kind,
              case when e.count_id is null then replace(ta.kind, '-shortfall', '')
                   when ta.sign = 0 then ta.kind else fa.kind end as to_kind,
              case when e.count_id is not null and ta.sign <> 0 then -p.quantity else p.quantity end as quantity,
              e.site_id, e.dispatch_id, e.batch_id, e.entry_id, e.seq, e.recorded_at, e.actor_id, p.occurred_at, p.occurred_on,
              case when e.count_id is not null then 'c' || e.count_id when e.scan_id is not null then 's' || p.occurred_on
                   else e.seq::text end as one
         from posting p
         join entry e on e.group_id = p.group_id and e.seq = p.seq
         join account fa on fa.group_id = p.group_id and fa.account_id = p.from_account_id
         join account ta on ta.group_id = p.group_id and ta.account_id = p.to_account_id
        where p.group_id = $1::uuid and p.lot_id = any($2::uuid[]) and e.kind <> 'move'
          and ($3::date is null or p.occurred_on >= $3::date) and ($4::date is null or p.occurred_on <= $4::date)
          and ($5::uuid[] is null or e.site_id = any($5::uuid[]))
          and (e.count_id is not null or (e.kind <> 'reversal' and not exists (
                select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)))
     ), g as (
       select x.lot_id, x.kind, x.from_kind, x.to_kind, x.site_id, x.dispatch_id, x.batch_id, min(x.seq) as seq,
              (array_agg(x.entry_id order by x.seq))[1] as entry_id, count(distinct x.seq)::int as facts,
              sum(x.quantity)::int8 as quantity, min(x.occurred_at) as occurred_at, max(x.occurred_at) as last_at,
              min(x.occurred_on) as occurred_on, max(x.recorded_at) as recorded_at, array_agg(distinct x.actor_id) as actor_ids
         from x
        group by x.lot_id, x.kind, x.from_kind, x.to_kind, x.site_id, x.dispatch_id, x.batch_id, x.one
       having sum(x.quantity) <> 0
     )
     select g.lot_id as "lotId", g.kind as "entryKind", g.from_kind as "fromKind", g.to_kind as "toKind", g.site_id as "siteId",
            g.entry_id as "eventId", g.seq, g.facts, g.quantity, g.occurred_at as "occurredAt", g.last_at as "lastAt",
            g.occurred_on as "occurredOn", g.recorded_at as "recordedAt", g.actor_ids as "actorIds", d.code as "dispatchCode",
            d.from_site_id as "fromSiteId", d.to_site_id as "toSiteId",
            (d.departed_at at time zone s.time_zone)::date as "departedOn", b.code as "batchCode"
       from g
       left join dispatch d on d.group_id = $1::uuid and d.dispatch_id = g.dispatch_id
       left join site s on s.group_id = $1::uuid and s.site_id = d.from_site_id
       left join batch b on b.group_id = $1::uuid and b.batch_id = g.batch_id
      order by g.lot_id, g.occurred_at, g.seq`,
    [tx.groupId, lotIds, filter.from, filter.to, filter.siteIds],
  );
}

export interface InputRow {
  readonly lotCode: string;
  readonly itemName: string;
  /** 0: it was in the bin that was used, and none of it was booked */
  readonly quantity: number;
  readonly unit: string;
}

/**
 * What went into each of these lots, by the lots that went in. Of a batch: all that went into it, not shared out between its outputs. Of
 * a packing run: what went into these packs. Of a conversion: what was opened, thawed ...
 */
export async function listInputs(tx: Tx, lotIds: readonly string[]): Promise<Map<string, InputRow[]>> {
  const rows = await tx.query<{ lotId: string; inputs: InputRow[] }>(
    `with e as materialized (
       select le.child_lot_id, le.parent_lot_id, le.process_id
         from lot_edge le where le.group_id = $1::uuid and le.child_lot_id = any($2::uuid[])
     ), taken as (
       select en.batch_id, p.lot_id, sum(p.quantity) as quantity
         from entry en
         join posting p on p.group_id = en.group_id and p.seq = en.seq
        where en.group_id = $1::uuid and en.batch_id in (select e.process_id from e) and en.kind = 'batch-input'
          and not exists (select from entry r where r.group_id = en.group_id and r.reverses_entry_id = en.entry_id)
        group by en.batch_id, p.lot_id
     ), filled as (
       select f.packing_run_id, f.from_lot_id, f.pack_lot_id, sum(f.used_quantity) as quantity
         from packing_fill f
        where f.group_id = $1::uuid and f.packing_run_id in (select e.process_id from e)
        group by f.packing_run_id, f.from_lot_id, f.pack_lot_id
     )
     select e.child_lot_id as "lotId", json_agg(json_build_object('lotCode', l.code, 'itemName', i.name, 'unit', l.unit,
              'quantity', coalesce(t.quantity, f.quantity, c.from_quantity, 0)) order by l.code) as inputs
       from e
       join lot l on l.group_id = $1::uuid and l.lot_id = e.parent_lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       left join taken t on t.batch_id = e.process_id and t.lot_id = e.parent_lot_id
       left join filled f on f.packing_run_id = e.process_id and f.from_lot_id = e.parent_lot_id and f.pack_lot_id = e.child_lot_id
       left join conversion c on c.group_id = $1::uuid and c.conversion_id = e.process_id and c.to_lot_id = e.child_lot_id
      group by e.child_lot_id`,
    [tx.groupId, lotIds],
  );
  return new Map(rows.map((row) => [row.lotId, row.inputs]));
}

interface NamedRow {
  readonly id: string;
  readonly code: string | null;
  readonly name: string;
  readonly address: Readonly<Record<string, string | number>> | null;
}

export interface LocationRow extends NamedRow {
  readonly kind: 'site' | 'supplier' | 'group';
}

/** Every site and supplier of the group, and the group itself. */
export async function listLocations(tx: Tx): Promise<LocationRow[]> {
  return tx.query<LocationRow>(
    `select s.site_id as id, 'site' as kind, s.code, s.name, s.address from site s where s.group_id = $1::uuid
      union all
     select s.supplier_id, 'supplier', s.code, s.name, s.address from supplier s where s.group_id = $1::uuid
      union all
     select g.group_id, 'group', g.code, g.name, g.address from groups g where g.group_id = $1::uuid
      order by 2, 3`,
    [tx.groupId],
  );
}

/** Names of everybody who could have recorded something. */
export async function listActorNames(tx: Tx): Promise<Map<string, string>> {
  const rows = await tx.query<{ id: string; name: string }>(
    `select p.person_id as id, p.name from person p where p.group_id = $1::uuid
      union all
     select d.device_id, d.name from device d where d.group_id = $1::uuid`,
    [tx.groupId],
  );
  return new Map(rows.map((row) => [row.id, row.name]));
}
