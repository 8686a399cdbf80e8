/** What goes into batches straight from outside, such as water from the tap: it stands in no book, so it is on no line of the items. */
import type { Tx } from '../../../platform/db/db.ts';
import { floors, type BatchQuestion } from './queries.ts';

interface TappedRow {
  readonly siteId: string;
  readonly lotId: string;
  /** net of reversals, before the months asked for */
  readonly before: number;
  /** and in them */
  readonly within: number;
}

/** Of those that somebody said a price of; the others cost nothing. */
export async function listTapped(tx: Tx, asked: BatchQuestion): Promise<TappedRow[]> {
  return tx.query<TappedRow>(
    `with k as materialized (select k.cut, k.next_month from unnest($6::int8[], $7::date[]) as k(cut, next_month)),
     l as materialized (
       select distinct p.lot_id
         from price p
         join lot l on l.group_id = p.group_id and l.lot_id = p.lot_id and l.origin = 'pseudo'
        where p.group_id = $1::uuid
     ), a as materialized (
       select a.account_id, a.kind, a.site_id from account a
        where a.group_id = $1::uuid and a.kind in ('supplier', 'consumed') and ($4::uuid[] is null or a.site_id = any($4::uuid[]))
     ), moved as (
       select c.site_id, p.lot_id, case when c.account_id = p.to_account_id then p.quantity else -p.quantity end as quantity,
              greatest(date_trunc('month', p.occurred_on)::date, (select max(k.next_month) from k where p.seq > k.cut)) as period
         from l
         join posting p on p.group_id = $1::uuid and p.lot_id = l.lot_id and p.seq <= $5::int8
         join a c on c.kind = 'consumed' and c.account_id in (p.from_account_id, p.to_account_id)
         join a s on s.kind = 'supplier' and s.account_id in (p.from_account_id, p.to_account_id)
     )
     select m.site_id as "siteId", m.lot_id as "lotId",
            coalesce(sum(m.quantity) filter (where m.period < $2::date), 0)::int8 as before,
            coalesce(sum(m.quantity) filter (where m.period >= $2::date), 0)::int8 as within
       from moved m
      where m.period <= $3::date
      group by m.site_id, m.lot_id`,
    [
      tx.groupId,
      `${asked.month}-01`,
      `${asked.throughMonth}-01`,
      asked.siteIds,
      asked.cutSeq,
      ...floors(asked.closes, (close) => close.cutSeq),
    ],
  );
}
