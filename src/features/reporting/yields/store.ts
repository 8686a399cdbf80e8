/** SQL of how far yields were looked at, and of what is open about them. */
import type { Tx } from '../../../platform/db/db.ts';

/** The last entry and the last money fact that were looked at. */
export interface Look {
  readonly seq: number;
  readonly moneyNo: number;
}

/** Locks it: two sweeps at once would open the same findings. Nothing looked at yet is 0 and 0. */
export async function findLook(tx: Tx): Promise<Look> {
  await tx.query(
    `insert into yield_look (group_id, seq, money_no) values ($1::uuid, 0, 0) on conflict (group_id) do nothing`,
    [tx.groupId],
  );
  const rows = await tx.query<Look>(
    `select y.seq, y.money_no as "moneyNo" from yield_look y where y.group_id = $1::uuid for update`,
    [tx.groupId],
  );
  return rows[0] ?? { seq: 0, moneyNo: 0 };
}

export async function saveLook(tx: Tx, { seq, moneyNo }: Look): Promise<void> {
  await tx.query(`update yield_look set seq = $2::int8, money_no = $3::int8 where group_id = $1::uuid`, [
    tx.groupId,
    seq,
    moneyNo,
  ]);
}

interface TouchedBatchRow {
  readonly batchId: string;
  readonly recipeId: string;
  readonly siteId: string;
}

/** Complete batches that became so, or whose inputs or outputs changed, after one look and up to another; in order of completion. */
export async function listTouchedBatches(tx: Tx, from: Look, to: Look): Promise<TouchedBatchRow[]> {
  return tx.query<TouchedBatchRow>(
    `with touched as (
       select m.subject_id as batch_id
         from money_fact m
        where m.group_id = $1::uuid and m.money_no > $4::int8 and m.money_no <= $5::int8 and m.kind = 'batch-completion'
       union
       select e.batch_id
         from entry e
         left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
        where e.group_id = $1::uuid and e.seq > $2::int8 and e.seq <= $3::int8 and e.batch_id is not null
          and coalesce(o.kind, e.kind) in ('batch-input', 'batch-output')
     )
     select b.batch_id as "batchId", b.recipe_id as "recipeId", b.site_id as "siteId"
       from touched t
       join batch b on b.group_id = $1::uuid and b.batch_id = t.batch_id and b.state = 'completed'
      order by b.completed_at, b.batch_id`,
    [tx.groupId, from.seq, to.seq, from.moneyNo, to.moneyNo],
  );
}

/** What open findings say of these batches. */
export async function listOpenStandOuts(
  tx: Tx,
  batchIds: readonly string[],
): Promise<{ subject: string; text: string | null }[]> {
  return tx.query<{ subject: string; text: string | null }>(
    `select f.subject, f.detail ->> 'text' as text
       from finding f
      where f.group_id = $1::uuid and f.kind = 'yield-stands-out' and f.subject = any($2::text[]) and f.status = 'open'
      order by f.subject`,
    [tx.groupId, batchIds],
  );
}
