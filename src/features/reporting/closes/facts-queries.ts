/** SQL on what was recorded about a closed month after its cut. */
import type { Tx } from '../../../platform/db/db.ts';
import type { Cut } from '../../ledger/index.ts';

export interface LateFactRow {
  readonly kind: 'entry' | 'price' | 'batch-completion';
  /** of an entry, its own kind, such as use */
  readonly what: string;
  readonly factId: string;
  /** the entry, the lot or the batch */
  readonly subjectId: string;
  /** the entry that it takes back */
  readonly reversesEntryId: string | null;
  readonly occurredOn: string | null;
  readonly recordedAt: Date;
  /** of all */
  readonly count: number;
}

/** Entries about days before `to` that came between the cuts, in the order in which they came. */
export async function listLateEntries(
  tx: Tx,
  to: string,
  between: { readonly from: Cut; readonly through: Cut },
  limit: number,
): Promise<LateFactRow[]> {
  return tx.query<LateFactRow>(
    `select 'entry' as kind, e.kind as what, e.fact_id as "factId", e.entry_id as "subjectId",
            e.reverses_entry_id as "reversesEntryId", e.occurred_on as "occurredOn", e.recorded_at as "recordedAt",
            (count(*) over ())::int as count
       from entry e
      where e.group_id = $1::uuid and e.seq > $3::int8 and e.seq <= $4::int8 and e.occurred_on < $2::date
      order by e.seq limit $5::int`,
    [tx.groupId, to, between.from.seq, between.through.seq, limit],
  );
}

/** Prices and completions between the cuts of which something had moved before `to`: the lot itself, or what was made from it. */
export async function listLateMoneyFacts(
  tx: Tx,
  to: string,
  between: { readonly from: Cut; readonly through: Cut },
  limit: number,
): Promise<LateFactRow[]> {
  return tx.query<LateFactRow>(
    `with recursive fact as (
       select m.money_no, m.kind, m.fact_id, m.subject_id, m.recorded_at
         from money_fact m
        where m.group_id = $1::uuid and m.money_no > $3::int8 and m.money_no <= $4::int8 and m.kind in ('price', 'batch-completion')
     ), reached (money_no, lot_id) as (
       select f.money_no, f.subject_id from fact f where f.kind = 'price'
       union
       select f.money_no, l.lot_id from fact f join lot l on l.group_id = $1::uuid and l.batch_id = f.subject_id
        where f.kind = 'batch-completion'
       union
       select r.money_no, e.child_lot_id from reached r join lot_edge e on e.group_id = $1::uuid and e.parent_lot_id = r.lot_id
     )
     select f.kind, f.kind as what, f.fact_id as "factId", f.subject_id as "subjectId", null::uuid as "reversesEntryId",
            null::text as "occurredOn", f.recorded_at as "recordedAt", (count(*) over ())::int as count
       from fact f
      where exists (select from reached r join posting p on p.group_id = $1::uuid and p.lot_id = r.lot_id
                     where r.money_no = f.money_no and p.occurred_on < $2::date and p.seq <= $5::int8)
      order by f.money_no limit $6::int`,
    [tx.groupId, to, between.from.moneyNo, between.through.moneyNo, between.through.seq, limit],
  );
}
