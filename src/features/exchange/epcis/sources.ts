/** SQL of what EPCIS events are made from. */
import type { Tx } from '../../../platform/db/db.ts';
import type { DispatchFacts, EntryFacts } from '../../../domain/epcis/entries.ts';
import type { LotFacts, PlaceFacts, SiteFacts } from '../../../domain/epcis/names.ts';

export interface EntryRow extends EntryFacts {
  /** the entry whose events are declared wrong; of a count, all that it posted */
  readonly reversesSeqs: readonly number[];
}

/** Entries after `afterSeq` with their postings, in their order. */
export async function listEntriesAfter(tx: Tx, afterSeq: number, limit: number): Promise<EntryRow[]> {
  return tx.query<EntryRow>(
    `select e.seq, e.kind, e.fact_id as "factId", e.site_id as "siteId",
            (extract(epoch from e.occurred_at) * 1000)::int8 as "occurredAtMs",
            (extract(epoch from e.recorded_at) * 1000)::int8 as "recordedAtMs", e.batch_id as "batchId",
            e.dispatch_id as "dispatchId", sc.serial, p.lines,
            to_json(case when e.kind <> 'reversal' then array[]::int8[]
                         when e.count_id is null then
                           array(select o.seq from entry o
                                  where o.group_id = e.group_id and o.entry_id = e.reverses_entry_id)
                         else array(select o.seq from entry o
                                     where o.group_id = e.group_id and o.count_id = e.count_id and o.seq < e.seq
                                       and o.kind <> 'reversal' order by o.seq)
                    end) as "reversesSeqs"
       from (select x.* from entry x where x.group_id = $1::uuid and x.seq > $2::int8 order by x.seq limit $3::int) e
       left join scan sc on sc.group_id = e.group_id and sc.scan_id = e.scan_id
       cross join lateral (
         select coalesce(json_agg(json_build_object(
                  'lotId', q.lot_id, 'quantity', q.quantity,
                  'from', json_build_object('kind', replace(f.kind, '-shortfall', ''), 'id', coalesce(f.twin_of, f.account_id)),
                  'to', json_build_object('kind', replace(t.kind, '-shortfall', ''), 'id', coalesce(t.twin_of, t.account_id)))
                  order by q.line_no), '[]') as lines
           from posting q
           join account f on f.group_id = q.group_id and f.account_id = q.from_account_id
           join account t on t.group_id = q.group_id and t.account_id = q.to_account_id
          where q.group_id = e.group_id and q.seq = e.seq) p
      order by e.seq`,
    [tx.groupId, afterSeq, limit],
  );
}

export interface LotRow extends LotFacts {
  readonly supplierId: string | null;
  readonly siteId: string;
}

export async function listLots(tx: Tx, lotIds: readonly string[]): Promise<LotRow[]> {
  return tx.query<LotRow>(
    `select l.lot_id as "lotId", l.code, l.origin, i.gtin, l.unit, l.serialised, l.supplier_lot_code as "supplierLotCode",
            l.printed_use_by_date::text as "useByDate", l.best_before_date::text as "bestBeforeDate",
            l.supplier_id as "supplierId", l.site_id as "siteId"
       from lot l
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
      where l.group_id = $1::uuid and l.lot_id = any($2::uuid[])`,
    [tx.groupId, lotIds],
  );
}

/** Every site of the group. */
export async function listSites(tx: Tx): Promise<SiteFacts[]> {
  return tx.query<SiteFacts>(
    `select s.site_id as "siteId", s.gln, s.time_zone as "timeZone" from site s where s.group_id = $1::uuid`,
    [tx.groupId],
  );
}

export async function listPlaces(tx: Tx, placeIds: readonly string[]): Promise<PlaceFacts[]> {
  return tx.query<PlaceFacts>(
    `select p.place_id as "placeId", p.code, p.site_id as "siteId"
       from place p where p.group_id = $1::uuid and p.place_id = any($2::uuid[])`,
    [tx.groupId, placeIds],
  );
}

/** With what lies in crates, by crate. */
export async function listDispatches(tx: Tx, dispatchIds: readonly string[]): Promise<DispatchFacts[]> {
  return tx.query<DispatchFacts>(
    `select d.dispatch_id as "dispatchId", d.from_site_id as "fromSiteId", d.to_site_id as "toSiteId", c.crates
       from dispatch d
       cross join lateral (
         select coalesce(json_agg(json_build_object('code', x.crate_code, 'lotId', x.lot_id, 'quantity', x.quantity)
                                  order by x.line_no), '[]') as crates
           from dispatch_line x
          where x.group_id = d.group_id and x.dispatch_id = d.dispatch_id and x.crate_code is not null) c
      where d.group_id = $1::uuid and d.dispatch_id = any($2::uuid[])`,
    [tx.groupId, dispatchIds],
  );
}

export interface HoldRow {
  readonly holdId: string;
  readonly kind: string;
  readonly lotId: string;
  readonly change: 'placed' | 'lifted';
  readonly atMs: number;
  readonly siteId: string | null;
  /** the place or the dispatch that it covers */
  readonly placeId: string | null;
  readonly dispatchId: string | null;
  readonly homeSiteId: string;
  readonly siteIds: readonly string[];
}

/** Lots reached by holds of these kinds, and let go, of which nothing was told; the oldest first. */
export async function listUntoldHolds(tx: Tx, kinds: readonly string[], limit: number): Promise<HoldRow[]> {
  return tx.query<HoldRow>(
    `with untold as (
       select c.*
         from (
           select h.hold_id, h.kind, hr.lot_id, 'placed' as change, greatest(h.placed_at, hr.reached_at) as at, h.site_id, h.account_id
             from hold h join hold_reach hr on hr.group_id = h.group_id and hr.hold_id = h.hold_id
            where h.group_id = $1::uuid and h.kind = any($2::text[])
           union all
           select h.hold_id, h.kind, hr.lot_id, 'lifted', h.lifted_at, h.site_id, h.account_id
             from hold h join hold_reach hr on hr.group_id = h.group_id and hr.hold_id = h.hold_id
            where h.group_id = $1::uuid and h.kind = any($2::text[]) and h.lifted_at is not null
         ) c
        where not exists (
          select from epcis_event x
           where x.group_id = $1::uuid and x.source = 'hold|' || c.hold_id || '|' || c.lot_id || '|' || c.change)
        order by c.at, c.hold_id, c.lot_id, c.change desc
        limit $3::int
     )
     select u.hold_id as "holdId", u.kind, u.lot_id as "lotId", u.change, (extract(epoch from u.at) * 1000)::int8 as "atMs",
            coalesce(u.site_id, a.site_id) as "siteId", case when a.kind = 'place' then a.account_id end as "placeId",
            case when a.kind = 'transit' then a.account_id end as "dispatchId", l.site_id as "homeSiteId",
            array(select distinct s.site_id
                    from (select l.site_id where u.site_id is null and a.account_id is null
                          union all select coalesce(u.site_id, a.site_id)
                          union all select a.to_site_id
                          union all
                          select y.site_id from balance b
                            join account y on y.group_id = b.group_id and y.account_id = b.account_id and y.sign = 1
                           where b.group_id = $1::uuid and b.lot_id = u.lot_id and u.site_id is null and a.account_id is null
                          union all
                          select y.to_site_id from balance b
                            join account y on y.group_id = b.group_id and y.account_id = b.account_id and y.kind = 'transit'
                           where b.group_id = $1::uuid and b.lot_id = u.lot_id and u.site_id is null and a.account_id is null
                         ) s
                   where s.site_id is not null) as "siteIds"
       from untold u
       join lot l on l.group_id = $1::uuid and l.lot_id = u.lot_id
       left join account a on a.group_id = $1::uuid and a.account_id = u.account_id
      order by u.at, u.hold_id, u.lot_id, u.change desc`,
    [tx.groupId, kinds, limit],
  );
}
