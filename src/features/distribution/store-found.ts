/** SQL of what was sent against what was found. */
import type { Tx } from '../../platform/db/db.ts';

export interface FoundRow {
  readonly dispatchId: string;
  readonly lotId: string;
  readonly lotCode: string;
  readonly unit: string;
  readonly sent: number;
  readonly accepted: number;
  readonly setAside: number;
  /** at the door: it stayed on the van */
  readonly refused: number;
  /** sent and not seen; below zero: more was found than was sent */
  readonly inTransit: number;
}

/**
 * By dispatch and lot, from the postings of the dispatch's entries, of the legs back that were refused from it, and the balance
 * of its account and its shortfall twin.
 */
export async function listFound(tx: Tx, dispatchIds: readonly string[]): Promise<FoundRow[]> {
  return tx.query<FoundRow>(
    `with asked as (
       select d.dispatch_id, d.dispatch_id as entries_of, false as refused
         from dispatch d where d.group_id = $1::uuid and d.dispatch_id = any($2::uuid[])
       union all
       select d.refused_from_id, d.dispatch_id, true
         from dispatch d where d.group_id = $1::uuid and d.refused_from_id = any($2::uuid[])
     ), legs as (
       select k.dispatch_id, p.lot_id,
              case when not k.refused then coalesce(o.kind, e.kind)
                   when coalesce(o.kind, e.kind) = 'dispatch' then 'refused' else 'elsewhere' end as kind,
              case when e.kind = 'reversal' then -p.quantity else p.quantity end as quantity,
              case when e.kind = 'reversal' then p.from_account_id else p.to_account_id end as to_account_id
         from asked k
         join entry e on e.group_id = $1::uuid and e.dispatch_id = k.entries_of
         join posting p on p.group_id = e.group_id and p.seq = e.seq
         left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
     ), sums as (
       select g.dispatch_id, g.lot_id,
              coalesce(sum(g.quantity) filter (where g.kind = 'dispatch'), 0)::int8 as sent,
              coalesce(sum(g.quantity) filter (where g.kind = 'receipt' and not coalesce(pl.quarantine, false)), 0)::int8 as accepted,
              coalesce(sum(g.quantity) filter (where g.kind = 'receipt' and pl.quarantine), 0)::int8 as set_aside,
              coalesce(sum(g.quantity) filter (where g.kind = 'refused'), 0)::int8 as refused
         from legs g
         left join account ta on ta.group_id = $1::uuid and ta.account_id = g.to_account_id
         left join place pl on pl.group_id = $1::uuid and pl.place_id = coalesce(ta.twin_of, ta.account_id)
        where g.kind <> 'elsewhere'
        group by g.dispatch_id, g.lot_id
     ), transit as (
       select a.account_id as dispatch_id, a.account_id
         from account a where a.group_id = $1::uuid and a.account_id = any($2::uuid[])
       union all
       select a.twin_of, a.account_id from account a where a.group_id = $1::uuid and a.twin_of = any($2::uuid[])
     )
     select s.dispatch_id as "dispatchId", s.lot_id as "lotId", l.code as "lotCode", l.unit, s.sent, s.accepted,
            s.set_aside as "setAside", s.refused,
            coalesce((select sum(b.quantity)
                        from transit t
                        join balance b on b.group_id = $1::uuid and b.lot_id = s.lot_id and b.account_id = t.account_id
                       where t.dispatch_id = s.dispatch_id), 0)::int8 as "inTransit"
       from sums s
       join lot l on l.group_id = $1::uuid and l.lot_id = s.lot_id
      order by s.dispatch_id, l.code`,
    [tx.groupId, dispatchIds],
  );
}
