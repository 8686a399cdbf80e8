/** SQL of exposure beyond the flow itself: what the processes are called. */
import type { Tx } from '../../../platform/db/db.ts';

export interface ProcessRow {
  readonly processId: string;
  readonly kind: 'batch' | 'packing-run' | 'conversion';
  readonly code: string | null;
  readonly siteName: string;
  /** bins that one of the lots given may have come from */
  readonly bins: readonly string[];
}

/** @param asked processes, each with lots that went in */
export async function listProcesses(
  tx: Tx,
  asked: readonly { processId: string; lotIds: readonly string[] }[],
): Promise<Map<string, ProcessRow>> {
  const rows = await tx.query<ProcessRow>(
    `with asked as materialized (
       select r."processId" as process_id, r."lotIds" as lot_ids
         from jsonb_to_recordset($2::jsonb) as r("processId" uuid, "lotIds" uuid[])
     )
     select x.process_id as "processId",
            case when b.batch_id is not null then 'batch' when r.packing_run_id is not null then 'packing-run'
                 else 'conversion' end as kind,
            coalesce(b.code, rb.code, c.kind) as code, s.name as "siteName",
            array(select distinct pl.name
                    from bin_input bi
                    join bin_input_lot m on m.group_id = bi.group_id and m.bin_input_id = bi.bin_input_id
                    join place pl on pl.group_id = bi.group_id and pl.place_id = bi.place_id
                   where bi.group_id = $1::uuid and bi.batch_id = x.process_id and m.lot_id = any(x.lot_ids)
                   order by 1) as bins
       from asked x
       left join batch b on b.group_id = $1::uuid and b.batch_id = x.process_id
       left join packing_run r on r.group_id = $1::uuid and r.packing_run_id = x.process_id
       left join batch rb on rb.group_id = r.group_id and rb.batch_id = r.batch_id
       left join conversion c on c.group_id = $1::uuid and c.conversion_id = x.process_id
       join site s on s.group_id = $1::uuid and s.site_id = coalesce(b.site_id, r.site_id, c.site_id)`,
    [tx.groupId, JSON.stringify(asked)],
  );
  return new Map(rows.map((row) => [row.processId, row]));
}
