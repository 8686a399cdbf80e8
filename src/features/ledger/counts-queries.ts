/** Read SQL of counts: what may be at a place, use derived from counts, lots likely taken for each other. */
import type { SiteScope } from '../../platform/http/contract.ts';
import type { Page } from '../../platform/http/paging.ts';
import type { Tx } from '../../platform/db/db.ts';

/**
 * Lots of which there was something (or too little) in the accounts at a time: what is there now, and what was posted to or
 * from them since. Days are sites' own, so a day more is read.
 */
export async function listLotsAt(tx: Tx, accountIds: readonly string[], atMs: number): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select b.lot_id as "lotId" from balance b
      where b.group_id = $1::uuid and b.account_id = any($2::uuid[]) and b.quantity <> 0
     union
     select p.lot_id from posting p
      where p.group_id = $1::uuid and (p.from_account_id = any($2::uuid[]) or p.to_account_id = any($2::uuid[]))
        and p.occurred_on >= (to_timestamp($3::float8 / 1000) at time zone 'UTC')::date - 1
        and p.occurred_at >= to_timestamp($3::float8 / 1000)
     order by 1`,
    [tx.groupId, accountIds, atMs],
  );
  return rows.map((row) => row.lotId);
}

const STANDS = (h: string) =>
  `not exists (select from entry r where r.group_id = ${h}.group_id and r.reverses_entry_id = ${h}.count_id)`;

export interface DerivedUseRow {
  readonly countId: string;
  readonly siteId: string;
  readonly placeId: string;
  readonly placeName: string;
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemId: string;
  readonly itemName: string;
  readonly quantity: number;
  readonly unit: string;
  readonly fromAt: Date;
  readonly toAt: Date;
}

/**
 * What counts of places used by count say was served, as corrected by now. The window opens at the last count before that
 * said something of the lot there, or at the lot's first arrival there when that is later or there was no such count.
 * @param page null: all of them, for the answer to one count
 */
export async function listDerivedUseRows(
  tx: Tx,
  scope: SiteScope,
  filter: { siteId: string | null; from: string | null; to: string | null; countId: string | null },
  page: Page | null,
): Promise<DerivedUseRow[]> {
  return tx.query<DerivedUseRow>(
    `with u as materialized (
       select h.count_id, h.account_id, h.site_id, h.occurred_at, p.lot_id,
              sum(case when ta.kind = 'served' then p.quantity else -p.quantity end)::int8 as quantity
         from stock_count h
         join entry e on e.group_id = h.group_id and e.count_id = h.count_id and e.kind = 'stock-count'
         join posting p on p.group_id = e.group_id and p.seq = e.seq
         join account fa on fa.group_id = p.group_id and fa.account_id = p.from_account_id
         join account ta on ta.group_id = p.group_id and ta.account_id = p.to_account_id
        where h.group_id = $1::uuid and h.used_by_count and ($2::boolean or h.site_id = any($3::uuid[]))
          and ($4::uuid is null or h.site_id = $4::uuid)
          and ($5::date is null or h.occurred_on >= $5::date)
          and ($6::date is null or h.occurred_on < $6::date)
          and ($7::uuid is null or h.count_id = $7::uuid)
          and 'served' in (fa.kind, ta.kind) and ${STANDS('h')}
          and ($8::timestamptz is null or (h.occurred_at, h.count_id, p.lot_id) > ($8::timestamptz, $9::uuid, $10::uuid))
        group by h.count_id, h.account_id, h.site_id, h.occurred_at, p.lot_id
       having sum(case when ta.kind = 'served' then p.quantity else -p.quantity end) > 0
        order by h.occurred_at, h.count_id, p.lot_id
        limit $11::int
     )
     select u.count_id as "countId", u.site_id as "siteId", u.account_id as "placeId", pl.name as "placeName",
            u.lot_id as "lotId", l.code as "lotCode", l.item_id as "itemId", i.name as "itemName", u.quantity, l.unit,
            coalesce(greatest(last.at, came.at), u.occurred_at) as "fromAt", u.occurred_at as "toAt"
       from u
       join lot l on l.group_id = $1::uuid and l.lot_id = u.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       join place pl on pl.group_id = l.group_id and pl.place_id = u.account_id
       left join lateral (
         select o.occurred_at as at
           from stock_count o
          where o.group_id = $1::uuid and o.account_id = u.account_id
            and (o.occurred_at, o.count_id) < (u.occurred_at, u.count_id)
            and (o.complete or exists (select from count_line c
                  where c.group_id = o.group_id and c.count_id = o.count_id and c.lot_id = u.lot_id))
            and ${STANDS('o')}
          order by o.occurred_at desc, o.count_id desc
          limit 1
       ) last on true
       left join lateral (
         select min(p.occurred_at) as at
           from posting p
           join account a on a.group_id = p.group_id and a.account_id = p.to_account_id
           join entry e on e.group_id = p.group_id and e.seq = p.seq
          where p.group_id = $1::uuid and p.lot_id = u.lot_id and p.occurred_at <= u.occurred_at
            and coalesce(a.twin_of, a.account_id) = u.account_id and e.kind not in ('reversal', 'stock-count')
            and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)
       ) came on true
      order by u.occurred_at, u.count_id, u.lot_id`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.from,
      filter.to,
      filter.countId,
      page?.after?.[0] ?? null,
      page?.after?.[1] ?? null,
      page?.after?.[2] ?? null,
      page ? page.limit + 1 : null,
    ],
  );
}

interface SwapSide {
  readonly lotId: string;
  readonly lotCode: string;
  readonly quantity: number;
  readonly counts: readonly { countId: string; occurredAt: string; difference: number }[];
}

export interface LikelySwapRow {
  readonly siteId: string;
  readonly placeId: string;
  readonly placeName: string;
  readonly itemId: string;
  readonly itemName: string;
  readonly unit: string;
  readonly short: SwapSide & { readonly shortfall: { quantity: number; factId: string; occurredAt: string } | null };
  readonly surplus: SwapSide;
  readonly seenAt: Date;
}

const ISO = (at: string) => `to_char(${at} at time zone 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"')`;

/**
 * Two lots of one item at one place, one of which is short there and the other found over. Short: its shortfall stands now,
 * or counts since found it gone. What a place used by count finds gone is use, and not short. A count of none that lifts a
 * book from below zero has found nothing: it settles a shortfall, and the lot stays short by as much.
 */
export async function listLikelySwapRows(
  tx: Tx,
  scope: SiteScope,
  siteId: string | null,
  sinceMs: number,
  page: Page,
): Promise<LikelySwapRow[]> {
  return tx.query<LikelySwapRow>(
    `with posted as materialized (
       select h.count_id, h.account_id, h.site_id, h.occurred_at, p.lot_id,
              sum(case when fa.kind = 'variance' then p.quantity else -p.quantity end)::int8 as over
         from stock_count h
         join entry e on e.group_id = h.group_id and e.count_id = h.count_id and e.kind = 'stock-count'
         join posting p on p.group_id = e.group_id and p.seq = e.seq
         join account fa on fa.group_id = p.group_id and fa.account_id = p.from_account_id
         join account ta on ta.group_id = p.group_id and ta.account_id = p.to_account_id
        where h.group_id = $1::uuid and ($2::boolean or h.site_id = any($3::uuid[]))
          and ($4::uuid is null or h.site_id = $4::uuid) and h.occurred_at >= to_timestamp($5::float8 / 1000)
          and 'variance' in (fa.kind, ta.kind) and ${STANDS('h')}
        group by h.count_id, h.account_id, h.site_id, h.occurred_at, p.lot_id
       having sum(case when fa.kind = 'variance' then p.quantity else -p.quantity end) <> 0
     ), told as (
       select p.*, case when p.over > 0 and coalesce(c.counted, 0) = 0 then -p.over else p.over end as difference
         from posted p
         left join count_line c on c.group_id = $1::uuid and c.count_id = p.count_id and c.lot_id = p.lot_id
                               and c.account_id = p.account_id
     ), counted as materialized (
       select t.account_id, t.site_id, t.lot_id, sum(t.difference)::int8 as difference, max(t.occurred_at) as at,
              json_agg(json_build_object('countId', t.count_id, 'occurredAt', ${ISO('t.occurred_at')},
                'difference', t.difference) order by t.occurred_at desc, t.count_id) as counts
         from told t
        group by t.account_id, t.site_id, t.lot_id
       having sum(t.difference) <> 0
     ), missing as materialized (
       select a.twin_of as account_id, a.site_id, b.lot_id, -b.quantity as quantity, f.at, f.fact_id
         from balance b
         join account a on a.group_id = b.group_id and a.account_id = b.account_id and a.kind = 'place-shortfall'
         cross join lateral (
           select p.occurred_at as at, e.fact_id
             from posting p join entry e on e.group_id = p.group_id and e.seq = p.seq
            where p.group_id = b.group_id and p.lot_id = b.lot_id and p.from_account_id = b.account_id
            order by p.occurred_at desc, p.seq desc
            limit 1
         ) f
        where b.group_id = $1::uuid and b.sign = -1 and b.quantity < 0 and ($2::boolean or a.site_id = any($3::uuid[]))
          and ($4::uuid is null or a.site_id = $4::uuid)
     ), short as (
       select account_id, coalesce(m.site_id, c.site_id) as site_id, lot_id,
              coalesce(m.quantity, 0) + greatest(-coalesce(c.difference, 0), 0) as quantity,
              greatest(m.at, c.at) as at, coalesce(c.counts, '[]') as counts,
              case when m.quantity > 0 then json_build_object('quantity', m.quantity, 'factId', m.fact_id,
                'occurredAt', ${ISO('m.at')}) end as shortfall
         from missing m full join (select * from counted where difference < 0) c using (account_id, lot_id)
     )
     select s.site_id as "siteId", s.account_id as "placeId", pl.name as "placeName", i.item_id as "itemId",
            i.name as "itemName", l.unit,
            json_build_object('lotId', s.lot_id, 'lotCode', l.code, 'quantity', s.quantity, 'counts', s.counts,
              'shortfall', s.shortfall) as short,
            json_build_object('lotId', o.lot_id, 'lotCode', k.code, 'quantity', o.difference, 'counts', o.counts) as surplus,
            greatest(s.at, o.at) as "seenAt"
       from short s
       join counted o on o.account_id = s.account_id and o.lot_id <> s.lot_id and o.difference > 0
       join lot l on l.group_id = $1::uuid and l.lot_id = s.lot_id
       join lot k on k.group_id = $1::uuid and k.lot_id = o.lot_id and k.item_id = l.item_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       join place pl on pl.group_id = l.group_id and pl.place_id = s.account_id
      where ($6::timestamptz is null
             or (greatest(s.at, o.at), s.account_id, s.lot_id, o.lot_id) < ($6::timestamptz, $7::uuid, $8::uuid, $9::uuid))
      order by greatest(s.at, o.at) desc, s.account_id desc, s.lot_id desc, o.lot_id desc
      limit $10::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      siteId,
      sinceMs,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      page.after?.[2] ?? null,
      page.after?.[3] ?? null,
      page.limit + 1,
    ],
  );
}
