/** SQL of what went into batches, and of what should not have. */
import type { Tx } from '../../platform/db/db.ts';

/** The entry `e` stands. */
export const NOT_REVERSED = `not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)`;

export interface InputRow {
  readonly entryId: string;
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
  readonly quantity: number;
  readonly unit: string;
  readonly lotQuantity: number;
  readonly lotMassMg: number;
  /** the date that the part it was taken from has of its own */
  readonly ownUseByAtMs: number | null;
  readonly takenAtMs: number;
}

/** What went into the batch and was not taken back. */
export async function listInputs(tx: Tx, batchId: string): Promise<InputRow[]> {
  return tx.query<InputRow>(
    `select e.entry_id as "entryId", p.lot_id as "lotId", l.code as "lotCode", i.name as "itemName", sum(p.quantity)::int8 as quantity,
            l.unit, l.quantity as "lotQuantity", l.mass_mg as "lotMassMg",
            (extract(epoch from min(h.use_by_at)) * 1000)::int8 as "ownUseByAtMs",
            (extract(epoch from min(e.occurred_at)) * 1000)::int8 as "takenAtMs"
       from entry e
       join posting p on p.group_id = e.group_id and p.seq = e.seq
       join lot l on l.group_id = p.group_id and l.lot_id = p.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       join account a on a.group_id = p.group_id and a.account_id = p.from_account_id
       left join hold h on h.group_id = p.group_id and h.lot_id = p.lot_id and h.account_id = coalesce(a.twin_of, a.account_id)
                       and h.kind = 'use-by' and h.lifted_at is null
      where e.group_id = $1::uuid and e.batch_id = $2::uuid and e.kind = 'batch-input' and ${NOT_REVERSED}
      group by e.seq, e.entry_id, p.lot_id, l.code, i.name, l.unit, l.quantity, l.mass_mg
      order by e.seq`,
    [tx.groupId, batchId],
  );
}

export interface FreezingRow {
  readonly batchId: string;
  readonly siteId: string;
  readonly parentLotId: string;
  readonly childLotId: string;
  readonly childCode: string;
  readonly childBornAt: Date;
}

/** What batches that freeze, without a kill step, made from these lots. */
export async function listFrozenFrom(tx: Tx, parentLotIds: readonly string[]): Promise<FreezingRow[]> {
  return tx.query<FreezingRow>(
    `select b.batch_id as "batchId", b.site_id as "siteId", le.parent_lot_id as "parentLotId", le.child_lot_id as "childLotId",
            l.code as "childCode", l.born_at as "childBornAt"
       from lot_edge le
       join batch b on b.group_id = le.group_id and b.batch_id = le.process_id and not b.kill_step
       join recipe r on r.group_id = b.group_id and r.recipe_id = b.recipe_id
       join lot l on l.group_id = le.group_id and l.lot_id = le.child_lot_id
      where le.group_id = $1::uuid and le.parent_lot_id = any($2::uuid[]) and 'freeze' = any(coalesce(b.steps, r.steps))
      order by le.parent_lot_id, le.child_lot_id`,
    [tx.groupId, parentLotIds],
  );
}
