/** SQL of what a machine was used for. */
import { LOOK_BACK_RUNS } from '../../../domain/carry-over.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { PassRow } from '../store-machines.ts';

export interface UseRow extends PassRow {
  readonly batchId: string;
  readonly batchCode: string;
  readonly programme: string;
  readonly packerName: string;
  readonly lots: readonly { readonly lotId: string; readonly code: string; readonly itemName: string }[];
}

/** Foods on a machine in a period, by run and changeover, and those of as many runs before it as matter to what comes after. */
export async function listUses(tx: Tx, equipmentId: string, fromMs: number, toMs: number): Promise<UseRow[]> {
  return tx.query<UseRow>(
    `with standing as (
       select r.packing_run_id, r.batch_id, r.programme, r.packer_name, r.finished_at from packing_run r
        where r.group_id = $1::uuid and r.equipment_id = $2::uuid and r.finished_at < to_timestamp($4::float8 / 1000)
          and not exists (select from entry x where x.group_id = r.group_id and x.reverses_entry_id = r.packing_run_id)
     ), run as (
       (select b.* from standing b where b.finished_at < to_timestamp($3::float8 / 1000)
         order by b.finished_at desc, b.packing_run_id desc limit $5::int)
       union all
       select a.* from standing a where a.finished_at >= to_timestamp($3::float8 / 1000)
     )
     select f.packing_run_id as "packingRunId", min(f.line_no) as "lineNo", run.finished_at as "finishedAt",
            f.changed_over_at as "changedOverAt", run.batch_id as "batchId", b.code as "batchCode", run.programme,
            run.packer_name as "packerName",
            jsonb_agg(distinct jsonb_build_object('lotId', l.lot_id, 'code', l.code, 'itemName', i.name)) as lots,
            coalesce(array_agg(distinct a.code) filter (where a.code is not null), '{}') as allergens,
            bool_or(coalesce(s.handling, l.handling) = 'raw') as raw
       from run
       join batch b on b.group_id = $1::uuid and b.batch_id = run.batch_id
       join packing_fill f on f.group_id = $1::uuid and f.packing_run_id = run.packing_run_id
       join lot l on l.group_id = f.group_id and l.lot_id = f.pack_lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       join lot_state s on s.group_id = l.group_id and s.lot_id = l.lot_id
       left join lateral unnest(s.allergens) as a(code) on true
      group by f.packing_run_id, run.finished_at, f.changed_over_at, f.from_lot_id, l.item_id, run.batch_id, b.code,
            run.programme, run.packer_name`,
    [tx.groupId, equipmentId, fromMs, toMs, LOOK_BACK_RUNS],
  );
}

export interface CleanedRow {
  readonly cleanDownId: string;
  readonly kind: 'full' | 'rinse';
  readonly note: string | null;
  readonly occurredAt: Date;
  readonly recordedBy: string;
}

export async function listCleaned(tx: Tx, equipmentId: string, fromMs: number, toMs: number): Promise<CleanedRow[]> {
  return tx.query<CleanedRow>(
    `select c.clean_down_id as "cleanDownId", c.kind, c.note, c.occurred_at as "occurredAt", c.recorded_by as "recordedBy"
       from clean_down c
      where c.group_id = $1::uuid and c.equipment_id = $2::uuid and c.occurred_at >= to_timestamp($3::float8 / 1000)
        and c.occurred_at < to_timestamp($4::float8 / 1000)`,
    [tx.groupId, equipmentId, fromMs, toMs],
  );
}

export interface MachineCheckRow {
  readonly checkId: string;
  readonly stage: string;
  readonly kind: string;
  readonly result: 'passed' | 'failed';
  readonly occurredAt: Date;
  readonly doneBy: string;
}

/** Checks of the machine itself that stand. */
export async function listMachineChecks(
  tx: Tx,
  equipmentId: string,
  fromMs: number,
  toMs: number,
): Promise<MachineCheckRow[]> {
  return tx.query<MachineCheckRow>(
    `select c.check_id as "checkId", c.stage, c.kind, c.result, c.occurred_at as "occurredAt", c.done_by as "doneBy"
       from process_check c
      where c.group_id = $1::uuid and c.machine_id = $2::uuid and c.occurred_at >= to_timestamp($3::float8 / 1000)
        and c.occurred_at < to_timestamp($4::float8 / 1000)
        and not exists (select from process_check n where n.group_id = c.group_id and n.supersedes_check_id = c.check_id)`,
    [tx.groupId, equipmentId, fromMs, toMs],
  );
}
