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
    `select l.lot_id as "lotId"
       from unnest($2::uuid[]) as u(lot_id)
       join lot l on l.group_id = $1::uuid and l.lot_id = u.lot_id
      order by l.born_at, l.code`,
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

/** Lots in the order given. */
export async function listRecordLots(tx: Tx, lotIds: readonly string[]): Promise<RecordLotRow[]> {
  return tx.query<RecordLotRow>(
    `select l.lot_id as "lotId", l.code as "lotCode", i.code as "itemCode", i.name as "itemName", i.kind as "itemKind",
            i.net_weight_mg as "netWeightMg", l.unit, l.quantity, l.origin, l.site_id as "siteId", l.born_at as "bornAt",
            l.printed_use_by_date as "useByDate", l.best_before_date as "bestBeforeDate", l.supplier_id as "supplierId",
            coalesce(l.shop_name, gr.shop_name) as "shopName", l.supplier_lot_code as "supplierLotCode",
            gr.document_number as "documentNumber", gr.shop_receipt_number as "shopReceiptNumber",
            gl.entry_unit as "entryUnit", gl.per_unit::float8 as "perEntryUnit"
       from unnest($2::uuid[]) with ordinality as u(lot_id, no)
       join lot l on l.group_id = $1::uuid and l.lot_id = u.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       left join goods_receipt gr on gr.group_id = l.group_id and gr.goods_receipt_id = l.goods_receipt_id
       left join lateral (
         select g.entry_unit, (x ->> 'quantity')::int8 as per_unit
           from goods_receipt_line g
           left join lateral jsonb_array_elements(i.entry_units) as x on x ->> 'code' = g.entry_unit
          where g.group_id = l.group_id and g.goods_receipt_id = l.goods_receipt_id and g.lot_id = l.lot_id
          limit 1) gl on l.goods_receipt_id is not null
      order by u.no`,
    [tx.groupId, lotIds],
  );
}

export interface EventRow {
  readonly lotId: string;
  readonly entryKind: string;
  readonly fromAccountId: string;
  readonly toAccountId: string;
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
  /** it goes back from the door of another dispatch */
  readonly refused: boolean;
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
 * What stands of what happened to these lots, net of what was undone; moves within a site are left out. In no order, and a row for each
 * posting: an entry that took some from a place and the rest from its shortfall has two. Scans are one entry a beep: those of one kind,
 * lot, site, dispatch and day are one row. A count is one row with whatever corrected it later, signed towards what went, and gone when
 * nothing is left of it.
 */
export async function listEvents(tx: Tx, lotIds: readonly string[], filter: EventFilter): Promise<EventRow[]> {
  return tx.query<EventRow>(
    `with x as materialized (
       select p.lot_id, p.from_account_id, p.to_account_id, p.quantity, p.occurred_at, p.occurred_on, e.kind, e.site_id,
              e.dispatch_id, e.batch_id, e.entry_id, e.seq, e.recorded_at, e.actor_id, e.count_id, e.scan_id
         from posting p
         join entry e on e.group_id = p.group_id and e.seq = p.seq
        where p.group_id = $1::uuid and p.lot_id = any($2::uuid[]) and e.kind <> 'move'
          and ($3::date is null or p.occurred_on >= $3::date) and ($4::date is null or p.occurred_on <= $4::date)
          and ($5::uuid[] is null or e.site_id = any($5::uuid[]))
          and (e.count_id is not null or (e.kind <> 'reversal' and not exists (
                select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)))
     ), g as (
       select x.lot_id, x.kind, x.from_account_id, x.to_account_id, x.site_id, x.dispatch_id, x.batch_id, x.seq, x.entry_id,
              1 as facts, x.quantity, x.occurred_at, x.occurred_at as last_at, x.occurred_on, x.recorded_at,
              array[x.actor_id] as actor_ids
         from x where x.count_id is null and x.scan_id is null
       union all
       select x.lot_id, x.kind, (array_agg(x.from_account_id))[1], (array_agg(x.to_account_id))[1], x.site_id, x.dispatch_id,
              x.batch_id, min(x.seq), (array_agg(x.entry_id order by x.seq))[1], count(distinct x.seq)::int, sum(x.quantity)::int8,
              min(x.occurred_at), max(x.occurred_at), x.occurred_on, max(x.recorded_at), array_agg(distinct x.actor_id)
         from x where x.count_id is null and x.scan_id is not null
        group by x.lot_id, x.kind, x.site_id, x.dispatch_id, x.batch_id, x.occurred_on
       union all
       select x.lot_id, 'stock-count', (array_agg(x.from_account_id))[1], a.account_id, x.site_id, null, null, min(x.seq), x.count_id,
              count(distinct x.seq)::int, sum(case when x.to_account_id = a.account_id then x.quantity else -x.quantity end)::int8,
              min(x.occurred_at), max(x.occurred_at), min(x.occurred_on), max(x.recorded_at), array_agg(distinct x.actor_id)
         from x
         join account a on a.group_id = $1::uuid and a.account_id in (x.from_account_id, x.to_account_id) and a.sign = 0
        where x.count_id is not null
        group by x.lot_id, x.count_id, a.account_id, x.site_id
       having sum(case when x.to_account_id = a.account_id then x.quantity else -x.quantity end) <> 0
     )
     select g.lot_id as "lotId", g.kind as "entryKind", g.from_account_id as "fromAccountId", g.to_account_id as "toAccountId",
            g.site_id as "siteId", g.entry_id as "eventId", g.seq, g.facts, g.quantity, g.occurred_at as "occurredAt",
            g.last_at as "lastAt", g.occurred_on as "occurredOn", g.recorded_at as "recordedAt", g.actor_ids as "actorIds",
            d.code as "dispatchCode", d.refused_from_id is not null as refused, d.from_site_id as "fromSiteId",
            d.to_site_id as "toSiteId", (d.departed_at at time zone s.time_zone)::date as "departedOn", b.code as "batchCode"
       from g
       left join dispatch d on d.group_id = $1::uuid and d.dispatch_id = g.dispatch_id
       left join site s on s.group_id = $1::uuid and s.site_id = d.from_site_id
       left join batch b on b.group_id = $1::uuid and b.batch_id = g.batch_id`,
    [tx.groupId, lotIds, filter.from, filter.to, filter.siteIds],
  );
}

/** Accounts outside the group's places, by id: supplier, consumed, produced, served, waste, variance of each site. */
export async function listOutside(tx: Tx): Promise<Map<string, string>> {
  const rows = await tx.query<{ id: string; kind: string }>(
    `select a.account_id as id, a.kind from account a where a.group_id = $1::uuid and a.sign = 0`,
    [tx.groupId],
  );
  return new Map(rows.map((row) => [row.id, row.kind]));
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
         from lot_edge le
        where le.group_id = $1::uuid and le.child_lot_id = any($2::uuid[])
     ), taken as (
       select en.batch_id, p.lot_id, sum(p.quantity) as quantity
         from (select distinct e.process_id from e) as x
         join entry en on en.group_id = $1::uuid and en.batch_id = x.process_id and en.kind = 'batch-input'
         join posting p on p.group_id = en.group_id and p.seq = en.seq
        where not exists (select from entry r where r.group_id = en.group_id and r.reverses_entry_id = en.entry_id)
        group by en.batch_id, p.lot_id
     )
     select e.child_lot_id as "lotId", json_agg(json_build_object('lotCode', l.code, 'itemName', i.name, 'unit', l.unit,
              'quantity', coalesce(t.quantity, f.quantity, c.from_quantity, 0)) order by l.code) as inputs
       from e
       join lot l on l.group_id = $1::uuid and l.lot_id = e.parent_lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       left join taken t on t.batch_id = e.process_id and t.lot_id = e.parent_lot_id
       left join lateral (
         select sum(pf.used_quantity) as quantity from packing_fill pf
          where pf.group_id = $1::uuid and pf.pack_lot_id = e.child_lot_id and pf.from_lot_id = e.parent_lot_id
            and pf.packing_run_id = e.process_id) f on true
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

/** Whatever starting points name by id, in words. */
export async function findNamed(tx: Tx, ids: readonly string[]): Promise<Map<string, string>> {
  const rows = await tx.query<{ id: string; name: string }>(
    `with u as (select x.id from unnest($2::uuid[]) as x(id))
     select l.lot_id as id, 'lot ' || l.code || ' (' || i.name || ')' as name
       from u join lot l on l.group_id = $1::uuid and l.lot_id = u.id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
      union all
     select b.batch_id, 'batch ' || b.code from u join batch b on b.group_id = $1::uuid and b.batch_id = u.id
      union all
     select d.dispatch_id, 'dispatch ' || d.code from u join dispatch d on d.group_id = $1::uuid and d.dispatch_id = u.id
      union all
     select s.supplier_id, s.name from u join supplier s on s.group_id = $1::uuid and s.supplier_id = u.id
      union all
     select i.item_id, i.name from u join item i on i.group_id = $1::uuid and i.item_id = u.id
      union all
     select p.place_id, p.name from u join place p on p.group_id = $1::uuid and p.place_id = u.id
      union all
     select q.equipment_id, q.name from u join equipment q on q.group_id = $1::uuid and q.equipment_id = u.id
      union all
     select e.person_id, e.name from u join person e on e.group_id = $1::uuid and e.person_id = u.id`,
    [tx.groupId, ids],
  );
  return new Map(rows.map((row) => [row.id, row.name]));
}
