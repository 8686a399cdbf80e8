/** SQL of labels: who packed, and when. */
import type { Tx } from '../../platform/db/db.ts';

export interface PackingRow {
  readonly packerName: string;
  readonly finishedAt: Date;
}

export async function findPacking(tx: Tx, packingRunId: string): Promise<PackingRow | null> {
  const rows = await tx.query<PackingRow>(
    `select r.packer_name as "packerName", r.finished_at as "finishedAt"
       from packing_run r where r.group_id = $1::uuid and r.packing_run_id = $2::uuid`,
    [tx.groupId, packingRunId],
  );
  return rows[0] ?? null;
}

/** The lots that a run made, in the order of their codes. */
export async function listRunLots(tx: Tx, packingRunId: string): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select l.lot_id as "lotId" from lot l
      where l.group_id = $1::uuid and l.packing_run_id = $2::uuid
      order by l.code`,
    [tx.groupId, packingRunId],
  );
  return rows.map((row) => row.lotId);
}
