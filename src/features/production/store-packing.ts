/** SQL of packing runs. */
import type { Tx } from '../../platform/db/db.ts';

export interface RunDraft {
  readonly packingRunId: string;
  readonly batchId: string;
  readonly siteId: string;
  readonly equipmentId: string;
  readonly programme: string;
  /** the version that it was packed with, where a programme of the group was named */
  readonly named: { readonly programmeId: string; readonly version: number } | null;
  readonly packerId: string;
  readonly packerName: string;
  readonly startedAtMs: number;
  readonly finishedAtMs: number;
  readonly packsRejected: number;
}

export async function insertRun(tx: Tx, run: RunDraft): Promise<void> {
  await tx.query(
    `insert into packing_run (group_id, packing_run_id, batch_id, site_id, equipment_id, programme, packer_id, packer_name,
            started_at, finished_at, packs_rejected, programme_id, programme_version)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::uuid, $6::text, $7::uuid, $8::text, to_timestamp($9::float8 / 1000),
            to_timestamp($10::float8 / 1000), $11::int, $12::uuid, $13::int)`,
    [
      tx.groupId,
      run.packingRunId,
      run.batchId,
      run.siteId,
      run.equipmentId,
      run.programme,
      run.packerId,
      run.packerName,
      run.startedAtMs,
      run.finishedAtMs,
      run.packsRejected,
      run.named?.programmeId ?? null,
      run.named?.version ?? null,
    ],
  );
}

export interface FillRow {
  readonly lineNo: number;
  readonly fromLotId: string;
  /** packs weighed singly share what was used: a share may be below one unit and is then 0 */
  readonly usedQuantity: number;
  readonly packLotId: string;
  readonly packs: number;
  readonly changedOverAtMs: number;
}

export async function insertFills(tx: Tx, packingRunId: string, fills: readonly FillRow[]): Promise<void> {
  await tx.query(
    `insert into packing_fill (group_id, packing_run_id, line_no, from_lot_id, used_quantity, pack_lot_id, packs, changed_over_at)
     select $1::uuid, $2::uuid, r."lineNo", r."fromLotId", r."usedQuantity", r."packLotId", r.packs,
            to_timestamp(r."changedOverAtMs" / 1000.0)
       from jsonb_to_recordset($3::jsonb) as r("lineNo" int, "fromLotId" uuid, "usedQuantity" int8, "packLotId" uuid,
            packs int8, "changedOverAtMs" numeric)`,
    [tx.groupId, packingRunId, JSON.stringify(fills)],
  );
}
