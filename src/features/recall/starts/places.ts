/** Starting points that name where food was: a place in a period, a dispatch. */
import type { Tx } from '../../../platform/db/db.ts';

type Said = Readonly<Record<string, unknown>>;

/**
 * Lots that stood in the place at any moment of the period, by event time and net of reversals: there was some of it at the beginning, or
 * some came in before the end. What is booked below zero had been there: the shortfall counts with its place.
 */
export async function lotsOfPlacePeriod(tx: Tx, said: Said): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `with here as materialized (
       select a.account_id from account a where a.group_id = $1::uuid and (a.account_id = $2::uuid or a.twin_of = $2::uuid)
     ), known as materialized (
       select distinct b.lot_id from here h join balance b on b.group_id = $1::uuid and b.account_id = h.account_id
     ), moved as (
       select k.lot_id, p.occurred_at, e.seq,
              case when p.to_account_id in (select h.account_id from here h) then p.quantity else -p.quantity end as quantity
         from known k
         join posting p on p.group_id = $1::uuid and p.lot_id = k.lot_id and p.occurred_at < $4::timestamptz
          and (p.to_account_id in (select h.account_id from here h)) <> (p.from_account_id in (select h.account_id from here h))
         join entry e on e.group_id = p.group_id and e.seq = p.seq and e.reverses_entry_id is null
        where not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)
     )
     select m.lot_id as "lotId"
       from moved m
      group by m.lot_id
     having sum(m.quantity) filter (where m.occurred_at < $3::timestamptz) > 0
         or bool_or(m.occurred_at >= $3::timestamptz)`,
    [tx.groupId, said.placeId, said.from, said.to],
  );
  return rows.map((row) => row.lotId);
}

export async function findDispatchId(tx: Tx, code: string): Promise<string | null> {
  const rows = await tx.query<{ dispatchId: string }>(
    `select d.dispatch_id as "dispatchId" from dispatch d where d.group_id = $1::uuid and d.code = $2::text`,
    [tx.groupId, code],
  );
  return rows[0]?.dispatchId ?? null;
}

/** What it carries or carried: its lines, and whatever else was booked onto it or off it. */
export async function lotsOfDispatch(tx: Tx, said: Said): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select dl.lot_id as "lotId" from dispatch_line dl where dl.group_id = $1::uuid and dl.dispatch_id = $2::uuid
     union
     select p.lot_id
       from entry e
       join posting p on p.group_id = e.group_id and p.seq = e.seq
      where e.group_id = $1::uuid and e.dispatch_id = $2::uuid`,
    [tx.groupId, said.dispatchId],
  );
  return rows.map((row) => row.lotId);
}
