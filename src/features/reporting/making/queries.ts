/** Read SQL for how much to make: what an item's days at sites were, as recorded at a cut. */
import type { Tx } from '../../../platform/db/db.ts';

export interface Span {
  readonly itemId: string;
  /** null: every site of the group */
  readonly siteId: string | null;
  /** 'YYYY-MM-DD', both included, on each site's own calendar */
  readonly from: string;
  readonly to: string;
  /** entries up to and with this one */
  readonly seq: number;
  /** what has no entry (requirements, short picks) counts when it was recorded by then */
  readonly recordedByMs: number;
}

export interface SiteDayRow {
  readonly siteId: string;
  readonly siteName: string;
  readonly date: string;
  readonly served: number;
  readonly servedDerived: number;
  readonly opened: number;
  readonly returned: number;
  readonly wasted: number;
  /** the stock stood at zero or below directly after something was taken to service */
  readonly atZero: boolean;
  readonly belowZero: boolean;
  /** days that a count's use stands for; 0: no count */
  readonly countedDays: number;
}

/**
 * One row for each site and day on which the item moved there. The stock is the running sum of all postings by the time when they happened
 * (a reversal carries the time of what it undid, so that the two meet at one moment), shortfall included; of what was before
 * the span only the sum is read.
 */
export async function listSiteDays(tx: Tx, span: Span): Promise<SiteDayRow[]> {
  return tx.query<SiteDayRow>(
    `with inside as materialized (
       select a.account_id, a.site_id from account a
        where a.group_id = $1::uuid and a.kind in ('place', 'place-shortfall') and ($3::uuid is null or a.site_id = $3::uuid)
     ), outside as materialized (
       select a.account_id, a.kind from account a where a.group_id = $1::uuid and a.sign = 0 and a.kind in ('served', 'consumed', 'waste')
     ), p as materialized (
       select p.from_account_id, p.to_account_id, p.quantity, p.occurred_at, p.occurred_on, p.reason, coalesce(o.kind, e.kind) as entry_kind,
              coalesce(o.note, e.note) ->> 'conversion' as conversion, coalesce(o.count_id, e.count_id) as count_id
         from lot l
         join posting p on p.group_id = l.group_id and p.lot_id = l.lot_id and p.seq <= $6::int8
                       and p.occurred_on between $4::date and $5::date
         join entry e on e.group_id = p.group_id and e.seq = p.seq
         left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
        where l.group_id = $1::uuid and l.item_id = $2::uuid
     ), side as (
       select i.site_id, p.to_account_id as other_id, p.quantity as taken, p.occurred_at, p.occurred_on, p.reason, p.entry_kind, p.conversion, p.count_id
         from p join inside i on i.account_id = p.from_account_id
       union all
       select i.site_id, p.from_account_id, -p.quantity, p.occurred_at, p.occurred_on, p.reason, p.entry_kind, p.conversion, p.count_id
         from p join inside i on i.account_id = p.to_account_id
     ), moved as (
       select s.site_id, s.occurred_at, s.occurred_on, s.taken,
              case when x.kind = 'served' and s.entry_kind = 'stock-count' then 'derived'
                   when x.kind = 'served' and s.entry_kind = 'return' then 'returned'
                   when x.kind = 'served' and s.reason is null then 'served'
                   when x.kind = 'consumed' and s.conversion in ('open', 'decant', 'portion', 'regenerate', 'cook') then 'opened'
                   when x.kind = 'waste' and coalesce(w.standard_reason, s.reason) in ('over-production', 'past-use-by') then 'wasted' end as what,
              s.count_id
         from side s
         left join outside x on x.account_id = s.other_id
         left join waste_reason w on w.group_id = $1::uuid and w.site_id = s.site_id and w.code = s.reason
     ), moment as (
       select m.site_id, m.occurred_at, m.occurred_on, sum(m.taken) as taken,
              coalesce(sum(m.taken) filter (where m.what in ('served', 'derived', 'opened')), 0) as to_service
         from moved m group by m.site_id, m.occurred_at, m.occurred_on
     ), before as materialized (
       select p.from_account_id, p.to_account_id, p.quantity, p.occurred_on
         from lot l
         join posting p on p.group_id = l.group_id and p.lot_id = l.lot_id and p.seq <= $6::int8 and p.occurred_on < $4::date
        where l.group_id = $1::uuid and l.item_id = $2::uuid
     ), opening as materialized (
       select b.site_id, sum(b.quantity) as quantity, min(b.occurred_on) as first_on
         from (select i.site_id, -p.quantity as quantity, p.occurred_on from before p join inside i on i.account_id = p.from_account_id
               union all
               select i.site_id, p.quantity, p.occurred_on from before p join inside i on i.account_id = p.to_account_id) b
        group by b.site_id
     ), stock as (
       select t.site_id, t.occurred_on, t.to_service, coalesce(o.first_on, min(t.occurred_on) over (partition by t.site_id)) as first_on,
              coalesce(o.quantity, 0) - sum(t.taken) over (partition by t.site_id order by t.occurred_at, t.occurred_on) as left_over
         from moment t left join opening o on o.site_id = t.site_id
     ), counted as (
       select m.site_id, m.occurred_on, max(m.occurred_on - coalesce(
                (select b.occurred_on from stock_count c
                   join stock_count b on b.group_id = c.group_id and b.account_id = c.account_id and b.occurred_at < c.occurred_at
                   join entry be on be.group_id = b.group_id and be.entry_id = b.count_id and be.seq <= $6::int8
                  where c.group_id = $1::uuid and c.count_id = m.count_id
                    and not exists (select from entry r where r.group_id = b.group_id and r.reverses_entry_id = b.count_id
                                       and r.seq <= $6::int8)
                  order by b.occurred_at desc limit 1),
                (select s.first_on - 1 from stock s where s.site_id = m.site_id limit 1))) as days
         from moved m where m.what = 'derived'
        group by m.site_id, m.occurred_on
     ), amount as (
       select m.site_id, m.occurred_on, coalesce(sum(m.taken) filter (where m.what = 'served'), 0)::int8 as served,
              coalesce(sum(m.taken) filter (where m.what = 'derived'), 0)::int8 as derived,
              coalesce(sum(m.taken) filter (where m.what = 'opened'), 0)::int8 as opened,
              coalesce(-sum(m.taken) filter (where m.what = 'returned'), 0)::int8 as returned,
              coalesce(sum(m.taken) filter (where m.what = 'wasted'), 0)::int8 as wasted
         from moved m where m.what is not null
        group by m.site_id, m.occurred_on
     ), zero as (
       select s.site_id, s.occurred_on, bool_or(s.left_over <= 0) as at_zero, bool_or(s.left_over < 0) as below_zero
         from stock s where s.to_service > 0
        group by s.site_id, s.occurred_on
     )
     select a.site_id as "siteId", si.name as "siteName", a.occurred_on as date, a.served, a.derived as "servedDerived", a.opened,
            a.returned, a.wasted, coalesce(z.at_zero, false) as "atZero", coalesce(z.below_zero, false) as "belowZero",
            coalesce(c.days, 0)::int4 as "countedDays"
       from amount a
       join site si on si.group_id = $1::uuid and si.site_id = a.site_id
       left join zero z on z.site_id = a.site_id and z.occurred_on = a.occurred_on
       left join counted c on c.site_id = a.site_id and c.occurred_on = a.occurred_on
      order by a.occurred_on, si.code`,
    [tx.groupId, span.itemId, span.siteId, span.from, span.to, span.seq],
  );
}

export interface AskedRow {
  readonly siteId: string;
  readonly siteName: string;
  readonly date: string;
  readonly portions: number;
  readonly shortPick: boolean;
}

/** What sites required of the item on each day, and whether a pick for it came up short. */
export async function listAsked(tx: Tx, span: Omit<Span, 'seq'>): Promise<AskedRow[]> {
  return tx.query<AskedRow>(
    `select r.site_id as "siteId", si.name as "siteName", r.service_date as date, sum(n.portions)::int8 as portions,
            coalesce(bool_or(exists (
              select from (select distinct on (k.dispatch_id) k.short_portions from short_pick k
                            where k.group_id = r.group_id and k.requirement_id = r.requirement_id
                              and k.recorded_at <= to_timestamp($6::float8 / 1000)
                            order by k.dispatch_id, k.recorded_at desc, k.short_pick_id desc) k
               where k.short_portions > 0)), false) as "shortPick"
       from requirement r
       join site si on si.group_id = r.group_id and si.site_id = r.site_id
       join lateral (
         select m.portions from requirement_number m
          where m.group_id = r.group_id and m.requirement_id = r.requirement_id
            and m.recorded_at <= to_timestamp($6::float8 / 1000)
          order by m.revision desc limit 1) n on true
      where r.group_id = $1::uuid and r.item_id = $2::uuid and ($3::uuid is null or r.site_id = $3::uuid)
        and r.service_date between $4::date and $5::date
      group by r.site_id, si.name, si.code, r.service_date
      order by r.service_date, si.code`,
    [tx.groupId, span.itemId, span.siteId, span.from, span.to, span.recordedByMs],
  );
}

export interface UsedLotRow {
  readonly lotId: string;
  readonly quantity: number;
}

/** How much of each lot was served or opened in the span, reversals netted; above zero. */
export async function listUsedLots(tx: Tx, span: Span): Promise<UsedLotRow[]> {
  return tx.query<UsedLotRow>(
    `with inside as materialized (
       select a.account_id from account a
        where a.group_id = $1::uuid and a.kind in ('place', 'place-shortfall') and ($3::uuid is null or a.site_id = $3::uuid)
     ), outside as materialized (
       select a.account_id, a.kind from account a where a.group_id = $1::uuid and a.sign = 0 and a.kind in ('served', 'consumed')
     ), p as materialized (
       select p.lot_id, p.from_account_id, p.to_account_id, p.quantity, p.reason, coalesce(o.kind, e.kind) as entry_kind
         from lot l
         join posting p on p.group_id = l.group_id and p.lot_id = l.lot_id and p.seq <= $6::int8
                       and p.occurred_on between $4::date and $5::date
         join entry e on e.group_id = p.group_id and e.seq = p.seq
         left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
        where l.group_id = $1::uuid and l.item_id = $2::uuid
     ), taken as (
       select p.lot_id, p.reason, p.entry_kind, x.kind, p.quantity
         from p join inside i on i.account_id = p.from_account_id join outside x on x.account_id = p.to_account_id
       union all
       select p.lot_id, p.reason, p.entry_kind, x.kind, -p.quantity
         from p join inside i on i.account_id = p.to_account_id join outside x on x.account_id = p.from_account_id
     )
     select t.lot_id as "lotId", sum(t.quantity)::int8 as quantity
       from taken t
      where (t.kind = 'served' and t.reason is null) or (t.kind = 'consumed' and t.entry_kind = 'conversion')
      group by t.lot_id
     having sum(t.quantity) > 0
      order by t.lot_id`,
    [tx.groupId, span.itemId, span.siteId, span.from, span.to, span.seq],
  );
}
