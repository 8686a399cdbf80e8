/** SQL of the checks of a month. `to` is the first day after it; each row carries the number of all of them. */
import type { Tx } from '../../../platform/db/db.ts';

interface Counted {
  /** of all rows, also those beyond the limit */
  readonly count: number;
}

export interface SiteTodayRow {
  readonly siteName: string;
  readonly timeZone: string;
}

export async function listSiteZones(tx: Tx): Promise<SiteTodayRow[]> {
  return tx.query<SiteTodayRow>(
    `select s.name as "siteName", s.time_zone as "timeZone" from site s where s.group_id = $1::uuid order by s.code`,
    [tx.groupId],
  );
}

/** Such as 2026-10; null when nothing is recorded. */
export async function findFirstFactMonth(tx: Tx): Promise<string | null> {
  const rows = await tx.query<{ month: string | null }>(
    `select to_char(min(p.occurred_on), 'YYYY-MM') as month from posting p where p.group_id = $1::uuid`,
    [tx.groupId],
  );
  return rows[0]?.month ?? null;
}

export interface OpenBatchRow extends Counted {
  readonly batchId: string;
  readonly code: string;
  readonly itemName: string;
  readonly siteId: string;
  readonly siteName: string;
  readonly startedAt: Date;
}

/** Begun before the month's end by the site's date, and not completed; the oldest first. */
export async function listOpenBatches(tx: Tx, to: string, limit: number): Promise<OpenBatchRow[]> {
  return tx.query<OpenBatchRow>(
    `select b.batch_id as "batchId", b.code, i.name as "itemName", s.site_id as "siteId", s.name as "siteName",
            b.started_at as "startedAt", (count(*) over ())::int as count
       from batch b
       join site s on s.group_id = b.group_id and s.site_id = b.site_id
       join item i on i.group_id = b.group_id and i.item_id = b.item_id
      where b.group_id = $1::uuid and b.state = 'open' and (b.started_at at time zone s.time_zone)::date < $2::date
      order by b.started_at, b.batch_id
      limit $3::int`,
    [tx.groupId, to, limit],
  );
}

export interface OnTheRoadRow extends Counted {
  readonly dispatchId: string;
  readonly code: string;
  readonly fromSiteId: string;
  readonly fromSiteName: string;
  readonly toSiteName: string;
  readonly departedAt: Date;
  /** lots of which something is on the road */
  readonly lots: number;
}

/** Left before the month's end by the date where they left, not closed, and with something on the road still; the oldest first. */
export async function listOnTheRoad(tx: Tx, to: string, limit: number): Promise<OnTheRoadRow[]> {
  return tx.query<OnTheRoadRow>(
    `select d.dispatch_id as "dispatchId", d.code, f.site_id as "fromSiteId", f.name as "fromSiteName", t.name as "toSiteName",
            d.departed_at as "departedAt", road.lots, (count(*) over ())::int as count
       from dispatch d
       join site f on f.group_id = d.group_id and f.site_id = d.from_site_id
       join site t on t.group_id = d.group_id and t.site_id = d.to_site_id
       cross join lateral (select count(*)::int as lots from balance b
         where b.group_id = d.group_id and b.account_id = d.dispatch_id and b.quantity > 0) road
      where d.group_id = $1::uuid and d.state = 'departed' and road.lots > 0
        and (d.departed_at at time zone f.time_zone)::date < $2::date
      order by d.departed_at, d.dispatch_id
      limit $3::int`,
    [tx.groupId, to, limit],
  );
}

export interface NegativeRow extends Counted {
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
  readonly siteId: string;
  readonly siteName: string;
  /** null: on the road */
  readonly placeName: string | null;
  /** below zero */
  readonly quantity: number;
}

/** Parts that are below zero now and were at the month's end: more left than was ever booked in; the largest first. */
export async function listNegatives(tx: Tx, to: string, limit: number): Promise<NegativeRow[]> {
  return tx.query<NegativeRow>(
    `select b.lot_id as "lotId", l.code as "lotCode", i.name as "itemName", l.unit, s.site_id as "siteId", s.name as "siteName",
            pl.name as "placeName", then_.quantity, (count(*) over ())::int as count
       from account a
       join balance b on b.group_id = a.group_id and b.account_id = a.account_id and b.quantity < 0
       cross join lateral (
         select sum(case when p.to_account_id in (a.account_id, a.twin_of) then p.quantity else 0 end
                  - case when p.from_account_id in (a.account_id, a.twin_of) then p.quantity else 0 end)::int8 as quantity
           from posting p
          where p.group_id = b.group_id and p.lot_id = b.lot_id and p.occurred_on < $2::date
            and (p.to_account_id in (a.account_id, a.twin_of) or p.from_account_id in (a.account_id, a.twin_of))) then_
       join lot l on l.group_id = b.group_id and l.lot_id = b.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       join site s on s.group_id = a.group_id and s.site_id = a.site_id
       left join place pl on pl.group_id = a.group_id and pl.place_id = a.twin_of
      where a.group_id = $1::uuid and a.sign = -1 and then_.quantity < 0
      order by then_.quantity, l.code, a.account_id
      limit $3::int`,
    [tx.groupId, to, limit],
  );
}

export interface UnexplainedRow extends Counted {
  readonly itemId: string;
  readonly itemName: string;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
  readonly siteId: string;
  readonly siteName: string;
  readonly found: number;
  readonly missing: number;
}

/**
 * What counts found over and missing in the month, by site and item, largest first. `afterSeq`: entries after it count whatever earlier day
 * they are about; null: there is no closed month before.
 */
export async function listUnexplained(
  tx: Tx,
  period: { readonly from: string; readonly to: string; readonly afterSeq: number | null },
  limit: number,
): Promise<UnexplainedRow[]> {
  return tx.query<UnexplainedRow>(
    // Apart by side: a join to either account of a posting is worked out for every pair of them.
    `with a as materialized (
       select a.account_id, a.site_id from account a where a.group_id = $1::uuid and a.kind = 'variance'
     ), counted as (
       select a.site_id, p.lot_id, p.quantity as found, 0 as missing
         from posting p join a on a.account_id = p.from_account_id
        where p.group_id = $1::uuid and p.occurred_on < $3::date and (p.occurred_on >= $2::date or p.seq > $4::int8)
       union all
       select a.site_id, p.lot_id, 0, p.quantity
         from posting p join a on a.account_id = p.to_account_id
        where p.group_id = $1::uuid and p.occurred_on < $3::date and (p.occurred_on >= $2::date or p.seq > $4::int8)
     )
     select i.item_id as "itemId", i.name as "itemName", i.unit, s.site_id as "siteId", s.name as "siteName",
            g.found, g.missing, (count(*) over ())::int as count
       from (select c.site_id, l.item_id, sum(c.found)::int8 as found, sum(c.missing)::int8 as missing
               from counted c
               join lot l on l.group_id = $1::uuid and l.lot_id = c.lot_id
              group by c.site_id, l.item_id) g
       join site s on s.group_id = $1::uuid and s.site_id = g.site_id
       join item i on i.group_id = $1::uuid and i.item_id = g.item_id
      where g.found <> g.missing
      order by abs(g.found - g.missing) desc, s.code, i.code
      limit $5::int`,
    [tx.groupId, period.from, period.to, period.afterSeq, limit],
  );
}

export interface PresumedRow extends Counted {
  readonly siteId: string;
  readonly siteName: string;
  readonly parts: number;
  readonly since: Date;
}

/** Food that nobody saw put away before the month's end, by site. */
export async function listPresumed(tx: Tx, to: string, limit: number): Promise<PresumedRow[]> {
  return tx.query<PresumedRow>(
    `select s.site_id as "siteId", s.name as "siteName", count(*)::int as parts, min(f.occurred_at) as since,
            (sum(count(*)) over ())::int as count
       from finding f
       join site s on s.group_id = f.group_id and s.site_id = f.site_id
      where f.group_id = $1::uuid and f.kind = 'place-presumed' and f.status = 'open'
        and (f.occurred_at at time zone s.time_zone)::date < $2::date
      group by s.site_id, s.name, s.code
      order by count(*) desc, s.code
      limit $3::int`,
    [tx.groupId, to, limit],
  );
}
