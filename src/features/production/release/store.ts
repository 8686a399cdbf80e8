/** SQL of what a release looks at beside the lots: who made the batch, which checks failed, what waits further down. */
import type { Tx } from '../../../platform/db/db.ts';

/**
 * Whoever opened the batch, recorded an input, an output or a packing run of it, packed, or took or recorded a check of it; reversed or
 * corrected or not.
 */
export async function listMakers(tx: Tx, batchId: string): Promise<Set<string>> {
  const rows = await tx.query<{ actorId: string }>(
    `select f.actor_id as "actorId" from fact f where f.group_id = $1::uuid and f.fact_id = $2::uuid
      union
     select e.actor_id from entry e where e.group_id = $1::uuid and e.batch_id = $2::uuid
      union
     select f.actor_id from bin_input bi join fact f on f.group_id = bi.group_id and f.fact_id = bi.bin_input_id
      where bi.group_id = $1::uuid and bi.batch_id = $2::uuid
      union
     select r.packer_id from packing_run r where r.group_id = $1::uuid and r.batch_id = $2::uuid
      union
     select unnest(array[c.recorded_by, c.done_by]) from process_check c where c.group_id = $1::uuid and c.batch_id = $2::uuid`,
    [tx.groupId, batchId],
  );
  return new Set(rows.map((row) => row.actorId));
}

export interface FailedCheckRow {
  readonly checkId: string;
  /** of the record that stands in its place, or of itself */
  readonly controlPoint: string | null;
  /** what stands in its place has failed as well, or nothing does */
  readonly failsStill: boolean;
}

/** Checks of the batch that failed, with what became of them: the hold that one placed stays while its corrections fail as well. */
export async function listFailedChecks(tx: Tx, batchId: string): Promise<FailedCheckRow[]> {
  return tx.query<FailedCheckRow>(
    `with recursive chain (check_id, now_id) as (
       select c.check_id, c.check_id from process_check c
        where c.group_id = $1::uuid and c.batch_id = $2::uuid and c.result = 'failed'
        union all
       select chain.check_id, n.check_id
         from chain join process_check n on n.group_id = $1::uuid and n.supersedes_check_id = chain.now_id)
     select chain.check_id as "checkId", c.control_point as "controlPoint", c.result = 'failed' as "failsStill"
       from chain
       join process_check c on c.group_id = $1::uuid and c.check_id = chain.now_id
      where not exists (select from process_check n where n.group_id = $1::uuid and n.supersedes_check_id = chain.now_id)
      order by chain.check_id`,
    [tx.groupId, batchId],
  );
}

/** Batches with lots that these holds have reached and that still wait for a release of their own. */
export async function listBatchesReached(tx: Tx, holdIds: readonly string[]): Promise<string[]> {
  const rows = await tx.query<{ batchId: string }>(
    `select distinct coalesce(l.batch_id, r.batch_id) as "batchId"
       from hold_reach hr
       join hold h on h.group_id = hr.group_id and h.lot_id = hr.lot_id and h.kind = 'awaiting-release' and h.lifted_at is null
       join lot l on l.group_id = hr.group_id and l.lot_id = hr.lot_id
       left join packing_run r on r.group_id = l.group_id and r.packing_run_id = l.packing_run_id
      where hr.group_id = $1::uuid and hr.hold_id = any($2::uuid[]) and coalesce(l.batch_id, r.batch_id) is not null
      order by 1`,
    [tx.groupId, holdIds],
  );
  return rows.map((row) => row.batchId);
}

export interface ReworkedRow {
  readonly lotId: string;
  readonly lotCode: string;
  /** why it was rejected */
  readonly reason: string | null;
}

/** What went into the batch while it was held for rework. */
export async function listReworked(tx: Tx, batchId: string): Promise<ReworkedRow[]> {
  return tx.query<ReworkedRow>(
    `select distinct on (l.code, l.lot_id) l.lot_id as "lotId", l.code as "lotCode", h.note as reason
       from entry e
       join posting p on p.group_id = e.group_id and p.seq = e.seq
       join lot l on l.group_id = p.group_id and l.lot_id = p.lot_id
       join hold_reach hr on hr.group_id = p.group_id and hr.lot_id = p.lot_id
       join hold h on h.group_id = hr.group_id and h.hold_id = hr.hold_id and h.kind = 'for-rework'
                  and h.placed_at <= e.recorded_at and (h.lifted_at is null or h.lifted_at > e.recorded_at)
      where e.group_id = $1::uuid and e.batch_id = $2::uuid and e.kind = 'batch-input'
        and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)
      order by l.code, l.lot_id, h.placed_at`,
    [tx.groupId, batchId],
  );
}

/** Codes of the lots that these loads of the batch were made from and that were ever rejected for rework, whether before or after they went in. */
export async function listReworkedInto(tx: Tx, batchId: string, loadIds: readonly string[]): Promise<string[]> {
  const rows = await tx.query<{ code: string }>(
    `select distinct l.code
       from lot_edge le
       join hold_reach hr on hr.group_id = le.group_id and hr.lot_id = le.parent_lot_id
       join hold h on h.group_id = hr.group_id and h.hold_id = hr.hold_id and h.kind = 'for-rework'
       join lot l on l.group_id = le.group_id and l.lot_id = le.parent_lot_id
      where le.group_id = $1::uuid and le.child_lot_id = any($3::uuid[]) and le.process_id = $2::uuid
      order by l.code`,
    [tx.groupId, batchId, loadIds],
  );
  return rows.map((row) => row.code);
}

/** The batch that a check is of, and its site; null for a check of no batch. */
export async function findCheckOwner(tx: Tx, checkId: string): Promise<{ batchId: string; siteId: string } | null> {
  const rows = await tx.query<{ batchId: string; siteId: string }>(
    `select c.batch_id as "batchId", c.site_id as "siteId" from process_check c
      where c.group_id = $1::uuid and c.check_id = $2::uuid and c.batch_id is not null`,
    [tx.groupId, checkId],
  );
  return rows[0] ?? null;
}

/** Which load the packs of the batch's runs were made from. */
export async function listPackSources(tx: Tx, batchId: string): Promise<{ packLotId: string; fromLotId: string }[]> {
  return tx.query<{ packLotId: string; fromLotId: string }>(
    `select distinct f.pack_lot_id as "packLotId", f.from_lot_id as "fromLotId"
       from packing_run r join packing_fill f on f.group_id = r.group_id and f.packing_run_id = r.packing_run_id
      where r.group_id = $1::uuid and r.batch_id = $2::uuid
      order by 1, 2`,
    [tx.groupId, batchId],
  );
}
