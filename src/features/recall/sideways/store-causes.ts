/** SQL of what processes are, and of a case's scope. */
import type { Tx } from '../../../platform/db/db.ts';

export interface CauseProcessRow {
  readonly processId: string;
  readonly kind: 'batch' | 'packing-run' | 'conversion';
  /** of the batch; of a conversion what was done */
  readonly code: string;
  readonly siteName: string;
  readonly equipmentId: string | null;
  readonly equipmentName: string | null;
  readonly packerId: string | null;
  readonly packerName: string | null;
  readonly startedAtMs: number | null;
  readonly finishedAtMs: number | null;
}

export async function listCauseProcesses(tx: Tx, processIds: readonly string[]): Promise<Map<string, CauseProcessRow>> {
  const rows = await tx.query<CauseProcessRow>(
    `select x.process_id as "processId",
            case when b.batch_id is not null then 'batch' when r.packing_run_id is not null then 'packing-run'
                 else 'conversion' end as kind,
            coalesce(b.code, rb.code, c.kind) as code, s.name as "siteName", r.equipment_id as "equipmentId",
            q.name as "equipmentName", r.packer_id as "packerId", r.packer_name as "packerName",
            (extract(epoch from r.started_at) * 1000)::int8 as "startedAtMs",
            (extract(epoch from r.finished_at) * 1000)::int8 as "finishedAtMs"
       from unnest($2::uuid[]) as x(process_id)
       left join batch b on b.group_id = $1::uuid and b.batch_id = x.process_id
       left join packing_run r on r.group_id = $1::uuid and r.packing_run_id = x.process_id
       left join batch rb on rb.group_id = r.group_id and rb.batch_id = r.batch_id
       left join equipment q on q.group_id = r.group_id and q.equipment_id = r.equipment_id
       left join conversion c on c.group_id = $1::uuid and c.conversion_id = x.process_id
       join site s on s.group_id = $1::uuid and s.site_id = coalesce(b.site_id, r.site_id, c.site_id)`,
    [tx.groupId, processIds],
  );
  return new Map(rows.map((row) => [row.processId, row]));
}

/** What the hold of a case reaches: its scope. */
export async function listCaseLots(tx: Tx, holdId: string): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select hr.lot_id as "lotId" from hold_reach hr
      where hr.group_id = $1::uuid and hr.hold_id = $2::uuid
      order by hr.lot_id`,
    [tx.groupId, holdId],
  );
  return rows.map((row) => row.lotId);
}
