/** What the lethality checks of a batch show, for whoever signs that heat controls what the cold alone would have to. */
import { heatProof, type HeatCheck, type HeatProof } from '../../../domain/process-checks/heat-proof.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { DOUBTED } from './doubted.ts';

/** Lethality checks of a batch that stand. */
async function listHeatChecks(tx: Tx, batchId: string): Promise<HeatCheck[]> {
  return tx.query<HeatCheck>(
    `select k.check_id as "checkId", k.lot_id as "lotId", k.result, k.limits #>> '{limit,target,code}' as "targetCode",
            coalesce((k.judgement #>> '{numbers,countedMinutesFromLeastShown}')::float8, 0) as minutes,
            ${DOUBTED} as "inDoubt"
       from process_check k
      where k.group_id = $1::uuid and k.batch_id = $2::uuid and k.kind = 'lethality'
        and not exists (select from process_check x where x.group_id = k.group_id and x.supersedes_check_id = k.check_id)`,
    [tx.groupId, batchId],
  );
}

/** Loads whose birth was not undone. */
async function listLoads(tx: Tx, batchId: string): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select distinct l.lot_id as "lotId"
       from entry e
       join posting p on p.group_id = e.group_id and p.seq = e.seq
       join lot l on l.group_id = p.group_id and l.lot_id = p.lot_id and l.batch_id = e.batch_id and l.origin = 'produced'
      where e.group_id = $1::uuid and e.batch_id = $2::uuid and e.kind = 'batch-output'
        and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)`,
    [tx.groupId, batchId],
  );
  return rows.map((row) => row.lotId);
}

/** The minutes at 90 °C that the check, with those of the other loads where it is of one, shows for the batch; or why it shows none. */
export async function proveHeat(tx: Tx, batchId: string, checkId: string): Promise<HeatProof> {
  return heatProof(checkId, await listHeatChecks(tx, batchId), await listLoads(tx, batchId));
}
