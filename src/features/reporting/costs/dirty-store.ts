/** SQL of what facts between a checkpoint and a cut touch: processes, lots, and what was made of them. */
import type { Tx } from '../../../platform/db/db.ts';
import { processKey, type Cut } from '../../ledger/index.ts';
import type { Checkpoint } from './store.ts';

const idsOf = (rows: readonly { readonly id: string }[]): string[] => rows.map((row) => row.id);

/** Processes that something went into or came out of, or that was undone, by entries since. */
export async function listTouchedProcesses(tx: Tx, from: Checkpoint, to: Cut): Promise<string[]> {
  return idsOf(
    await tx.query<{ id: string }>(
      `with crossing as materialized (
         select a.account_id, a.kind from account a
          where a.group_id = $1::uuid and a.sign = 0 and a.kind in ('consumed', 'produced')
       ), moved as materialized (
         select p.seq, p.lot_id, p.from_account_id, p.to_account_id
           from posting p where p.group_id = $1::uuid and p.seq > $2::int8 and p.seq <= $3::int8
       ), crossed as (
         select m.seq, m.lot_id, c.kind from moved m join crossing c on c.account_id = m.from_account_id
         union all
         select m.seq, m.lot_id, c.kind from moved m join crossing c on c.account_id = m.to_account_id
       )
       select ${processKey('e', 'o', 'v')} as id
         from (select distinct x.seq from crossed x where x.kind = 'consumed') x
         join entry e on e.group_id = $1::uuid and e.seq = x.seq
         left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
         left join conversion v on v.group_id = e.group_id and v.scan_id = e.scan_id
       union
       select case l.origin when 'produced' then l.batch_id when 'packed' then l.packing_run_id else v.conversion_id end
         from (select distinct x.lot_id from crossed x where x.kind = 'produced') x
         join lot l on l.group_id = $1::uuid and l.lot_id = x.lot_id and l.origin in ('produced', 'packed', 'converted')
         left join conversion v on l.origin = 'converted' and v.group_id = l.group_id and v.to_lot_id = l.lot_id`,
      [tx.groupId, from.seq, to.seq],
    ),
  );
}

/** Batches that rates since then may apply to, and those whose gains are known since. */
export async function listTouchedBatches(tx: Tx, from: Checkpoint, to: Cut): Promise<string[]> {
  return idsOf(
    await tx.query<{ id: string }>(
      `select b.batch_id as id
         from cost_rate r
         join batch b on b.group_id = r.group_id
                     and (r.site_id is null or b.site_id = r.site_id) and (r.recipe_id is null or b.recipe_id = r.recipe_id)
         join site s on s.group_id = b.group_id and s.site_id = b.site_id
                    and (b.started_at at time zone s.time_zone)::date >= r.from_date
        where r.group_id = $1::uuid and r.money_no > $2::int8 and r.money_no <= $3::int8
       union
       select b.batch_id
         from money_fact m
         join batch b on b.group_id = m.group_id and b.batch_id = m.subject_id
        where m.group_id = $1::uuid and m.money_no > $2::int8 and m.money_no <= $3::int8 and m.kind = 'batch-completion'
          and exists (select from batch_gain g where g.group_id = b.group_id and g.batch_id = b.batch_id)`,
      [tx.groupId, from.moneyNo, to.moneyNo],
    ),
  );
}

/** Lots from outside that moved since and have no cost yet, or whose price was said since. */
export async function listTouchedBought(tx: Tx, from: Checkpoint, to: Cut): Promise<string[]> {
  return idsOf(
    await tx.query<{ id: string }>(
      `select l.lot_id as id
         from (select distinct p.lot_id from posting p
                where p.group_id = $1::uuid and p.seq > $2::int8 and p.seq <= $4::int8) p
         join lot l on l.group_id = $1::uuid and l.lot_id = p.lot_id and l.origin in ('supplied', 'opening', 'pseudo')
         -- Water has no row, and moves with every batch.
         join item i on i.group_id = l.group_id and i.item_id = l.item_id and (i.lot_tracked or l.origin <> 'pseudo')
        where not exists (
                select from lot_cost lc
                 where lc.group_id = $1::uuid and lc.lot_id = l.lot_id
                   and (lc.at_seq, lc.at_money_no) <= ($2::int8, $3::int8))
       union
       select p.lot_id from price p where p.group_id = $1::uuid and p.money_no > $3::int8 and p.money_no <= $5::int8`,
      [tx.groupId, from.seq, from.moneyNo, to.seq, to.moneyNo],
    ),
  );
}

/** Processes that something of these lots went into by entries up to the cut, also if it was undone. */
export async function listTakers(tx: Tx, to: Cut, lotIds: readonly string[]): Promise<string[]> {
  return idsOf(
    await tx.query<{ id: string }>(
      `with consumed as materialized (
         select a.account_id from account a where a.group_id = $1::uuid and a.sign = 0 and a.kind = 'consumed'
       ), gone as (
         select distinct p.seq
           from unnest($3::uuid[]) as x(lot_id)
           join posting p on p.group_id = $1::uuid and p.lot_id = x.lot_id and p.seq <= $2::int8
           join consumed c on c.account_id = p.to_account_id
       )
       select distinct ${processKey('e', 'o', 'v')} as id
         from gone x
         join entry e on e.group_id = $1::uuid and e.seq = x.seq
         left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
         left join conversion v on v.group_id = e.group_id and v.scan_id = e.scan_id`,
      [tx.groupId, to.seq, lotIds],
    ),
  );
}
