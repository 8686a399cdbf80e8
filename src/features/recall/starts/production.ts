/** Starting points of production: a batch, a packing run, a machine between clean-downs, a person. */
import type { Tx } from '../../../platform/db/db.ts';

type Said = Readonly<Record<string, unknown>>;

export async function findBatchId(tx: Tx, code: string): Promise<string | null> {
  const rows = await tx.query<{ batchId: string }>(
    `select b.batch_id as "batchId" from batch b where b.group_id = $1::uuid and b.code = $2::text`,
    [tx.groupId, code],
  );
  return rows[0]?.batchId ?? null;
}

/** Outputs; packs follow by walking. */
export async function lotsOfBatch(tx: Tx, said: Said): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select l.lot_id as "lotId" from lot l where l.group_id = $1::uuid and l.batch_id = $2::uuid`,
    [tx.groupId, said.batchId],
  );
  return rows.map((row) => row.lotId);
}

export async function lotsOfRun(tx: Tx, said: Said): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select l.lot_id as "lotId" from lot l where l.group_id = $1::uuid and l.packing_run_id = $2::uuid`,
    [tx.groupId, said.packingRunId],
  );
  return rows.map((row) => row.lotId);
}

/**
 * Packs of runs that were under way on the machine within the period; with sinceCleanDown, within the window between the last full
 * clean-down up to that moment and the next one after it. A rinse ends no window.
 */
export async function lotsOfMachine(tx: Tx, said: Said): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `with w as (
       select coalesce($3::timestamptz, (
                select max(c.occurred_at) from clean_down c
                 where c.group_id = $1::uuid and c.equipment_id = $2::uuid and c.kind = 'full'
                   and c.occurred_at <= $5::timestamptz), '-infinity') as starts,
              coalesce($4::timestamptz, (
                select min(c.occurred_at) from clean_down c
                 where c.group_id = $1::uuid and c.equipment_id = $2::uuid and c.kind = 'full'
                   and c.occurred_at > $5::timestamptz), 'infinity') as ends
     )
     select l.lot_id as "lotId"
       from packing_run r
       cross join w
       join lot l on l.group_id = r.group_id and l.packing_run_id = r.packing_run_id
      where r.group_id = $1::uuid and r.equipment_id = $2::uuid and r.started_at < w.ends
        and (r.finished_at > w.starts or r.started_at >= w.starts)`,
    [tx.groupId, said.equipmentId, said.from ?? null, said.to ?? null, said.sinceCleanDown ?? null],
  );
  return rows.map((row) => row.lotId);
}

/** What the person packed, and what they received or took out of a batch, as far as it was not undone. */
export async function lotsOfPerson(tx: Tx, said: Said): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select l.lot_id as "lotId"
       from packing_run r
       join lot l on l.group_id = r.group_id and l.packing_run_id = r.packing_run_id
      where r.group_id = $1::uuid and r.packer_id = $2::uuid and r.started_at < $4::timestamptz
        and (r.finished_at > $3::timestamptz or r.started_at >= $3::timestamptz)
     union
     select gl.lot_id
       from goods_receipt g
       join goods_receipt_line gl on gl.group_id = g.group_id and gl.goods_receipt_id = g.goods_receipt_id
      where g.group_id = $1::uuid and g.received_by = $2::uuid and gl.lot_id is not null
        and g.occurred_at >= $3::timestamptz and g.occurred_at < $4::timestamptz
     union
     select p.lot_id
       from posting p
       join entry e on e.group_id = p.group_id and e.seq = p.seq
      where p.group_id = $1::uuid and p.occurred_at >= $3::timestamptz and p.occurred_at < $4::timestamptz
        and p.occurred_on between ($3::timestamptz at time zone 'UTC')::date - 1 and ($4::timestamptz at time zone 'UTC')::date + 1
        and e.kind = 'batch-output' and e.actor_id = $2::uuid
        and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)`,
    [tx.groupId, said.personId, said.from, said.to],
  );
  return rows.map((row) => row.lotId);
}
