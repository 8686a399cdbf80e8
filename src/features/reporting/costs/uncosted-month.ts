/** SQL of lots without a full price in a month. Refusals: none. */
import type { UncostedReason } from '../../../domain/costing/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { costAt } from './store.ts';
import type { CostView } from './view.ts';

export interface UncostedMonthRow {
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemId: string;
  readonly itemName: string;
  readonly siteId: string;
  readonly quantity: number;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
  readonly reason: UncostedReason;
  readonly unpricedPpm: number;
  /** 0: nobody said a price; 1: follows from others */
  readonly rank: number;
  /** of all that follow where the page begins */
  readonly count: number;
}

interface UncostedAsked {
  readonly view: CostView;
  readonly from: string;
  readonly to: string;
  /** what was recorded after this entry moved in these days as well, whenever it happened: the days before are closed; null: none are */
  readonly afterSeq: number | null;
  /** null: every site and the road */
  readonly siteIds: readonly string[] | null;
  readonly limit: number;
  readonly after: readonly string[] | null;
}

/** Lots without a full price that moved within days, or stand at their end, as known at the cut; one more than asked for. */
export async function listUncostedOfMonth(tx: Tx, asked: UncostedAsked): Promise<UncostedMonthRow[]> {
  const { cut, sqlAsOf } = asked.view;
  const overrides = [...asked.view.overrides.values()];
  return tx.query<UncostedMonthRow>(
    `with reckoned as materialized (
       select x.lot_id, x.unpriced_ppm, x.reason from unnest($4::uuid[], $5::int[], $6::text[]) as x(lot_id, unpriced_ppm, reason)
     ), uncosted as materialized (
       select r.lot_id, r.unpriced_ppm, r.reason from reckoned r where r.reason is not null
       union all
       select c.lot_id, c.unpriced_ppm, c.uncosted_reason
         from (${costAt('$2', '$3')}) c
        where c.uncosted_reason is not null and not exists (select from reckoned r where r.lot_id = c.lot_id)
     ), place as materialized (
       select a.account_id from account a
        where a.group_id = $1::uuid and a.sign <> 0
          and ($7::uuid[] is null or (a.kind in ('place', 'place-shortfall') and a.site_id = any($7::uuid[])))
     ), moved as (
       select p.lot_id, p.occurred_on >= $9::date or p.seq > $14::int8 as within,
              least(p.from_account_id, p.to_account_id) as one, greatest(p.from_account_id, p.to_account_id) as other,
              case when p.from_account_id < p.to_account_id then p.quantity else -p.quantity end as quantity,
              case when pt.account_id is null then -p.quantity when pf.account_id is null then p.quantity else 0 end as change
         from uncosted u
         join posting p on p.group_id = $1::uuid and p.lot_id = u.lot_id and p.seq <= $8::int8 and p.occurred_on < $10::date
         left join place pt on pt.account_id = p.to_account_id
         left join place pf on pf.account_id = p.from_account_id
        where pt.account_id is not null or pf.account_id is not null
     ), net as (
       -- what was recorded and undone within the days moved nothing
       select m.lot_id, sum(m.quantity) filter (where m.within) as quantity, sum(m.change) as change
         from moved m group by m.lot_id, m.one, m.other
     ), there as (
       select n.lot_id from net n group by n.lot_id having bool_or(n.quantity <> 0) or sum(n.change) <> 0
     )
     select u.lot_id as "lotId", l.code as "lotCode", l.item_id as "itemId", i.name as "itemName", l.site_id as "siteId", l.quantity, l.unit,
            u.reason, u.unpriced_ppm as "unpricedPpm", r.rank, count(*) over () as count
       from there t
       join uncosted u on u.lot_id = t.lot_id
       join lot l on l.group_id = $1::uuid and l.lot_id = u.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       cross join lateral (select case when u.reason = 'uncosted-input' then 1 else 0 end as rank) r
      where $11::text is null or (r.rank, l.code) > ($11::int, $12::text)
      order by r.rank, l.code
      limit $13::int`,
    [
      tx.groupId,
      sqlAsOf.seq,
      sqlAsOf.moneyNo,
      overrides.map((cost) => cost.lotId),
      overrides.map((cost) => cost.unpricedPpm),
      overrides.map((cost) => cost.reason),
      asked.siteIds,
      cut.seq,
      asked.from,
      asked.to,
      asked.after?.[0] ?? null,
      asked.after?.[1] ?? null,
      asked.limit + 1,
      asked.afterSeq,
    ],
  );
}
