/** SQL of a batch's packing runs for its record. */
import type { Tx } from '../../../platform/db/db.ts';

export interface Settings {
  readonly vacuumMbar: number;
  readonly pulses: number;
  readonly sealS: number;
  readonly sealTemperatureC?: number | null;
  readonly earlyStop: boolean;
  readonly tiltedInsert: boolean;
  readonly gentleAirReturn: boolean;
  readonly doubleSeam: boolean;
}

export interface RunRow {
  readonly packingRunId: string;
  readonly machine: string;
  readonly programme: string;
  readonly packer: string;
  readonly startedAt: Date;
  readonly finishedAt: Date;
  readonly packsRejected: number;
  readonly recordedAfterwards: boolean;
  readonly reversed: boolean;
  /** as it was set when they were packed; null: only its name was said */
  readonly settings: Settings | null;
  readonly rejects: { readonly reason: string; readonly packs: number }[];
  /** what showed afterwards */
  readonly faults: {
    readonly kind: string;
    readonly packs: number;
    readonly siteName: string;
    readonly occurredAt: string;
  }[];
  readonly cleanedAt: Date | null;
  readonly cleanedBy: string | null;
  readonly fills: readonly {
    readonly fromLotCode: string;
    readonly packLotCode: string;
    readonly packs: number;
    readonly changedOverMs: number;
  }[];
}

/** In time order; runs that were undone stay, marked. */
export async function listRuns(tx: Tx, batchId: string): Promise<RunRow[]> {
  return tx.query<RunRow>(
    `select r.packing_run_id as "packingRunId", concat_ws(' ', q.code, q.name) as machine, r.programme,
            r.packer_name as packer, r.started_at as "startedAt", r.finished_at as "finishedAt",
            r.packs_rejected as "packsRejected",
            coalesce(f.operation = 'createRecordedPackingRun', false) as "recordedAfterwards",
            exists (select from entry x where x.group_id = r.group_id and x.reverses_entry_id = r.packing_run_id) as reversed,
            v.content as settings, coalesce(j.rejects, '[]'::jsonb) as rejects, coalesce(x.faults, '[]'::jsonb) as faults,
            c.occurred_at as "cleanedAt", c.recorded_by as "cleanedBy", coalesce(pf.fills, '[]'::jsonb) as fills
       from packing_run r
       join equipment q on q.group_id = r.group_id and q.equipment_id = r.equipment_id
       left join fact f on f.group_id = r.group_id and f.fact_id = r.packing_run_id
       left join packing_programme_version v on v.group_id = r.group_id and v.programme_id = r.programme_id
                                            and v.version = r.programme_version
       left join lateral (
         select jsonb_agg(jsonb_build_object('reason', pj.reason, 'packs', pj.packs) order by pj.packs desc, pj.reason) as rejects
           from packing_reject pj where pj.group_id = r.group_id and pj.packing_run_id = r.packing_run_id) j on true
       left join lateral (
         select jsonb_agg(jsonb_build_object('kind', pf.kind, 'packs', pf.packs, 'siteName', s.name,
                  'occurredAt', to_char(pf.occurred_at at time zone 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"'))
                  order by pf.occurred_at, pf.fault_id) as faults
           from pack_fault pf join site s on s.group_id = pf.group_id and s.site_id = pf.site_id
          where pf.group_id = r.group_id and pf.packing_run_id = r.packing_run_id
            and not exists (select from pack_fault_withdrawal w where w.group_id = pf.group_id and w.fault_id = pf.fault_id)) x on true
       left join lateral (
         select cd.occurred_at, cd.recorded_by from clean_down cd
          where cd.group_id = r.group_id and cd.equipment_id = r.equipment_id and cd.kind = 'full'
            and cd.occurred_at <= r.started_at
          order by cd.occurred_at desc limit 1) c on true
       left join lateral (
         select jsonb_agg(jsonb_build_object('fromLotCode', lf.code, 'packLotCode', lp.code, 'packs', p.packs,
                  'changedOverMs', floor(extract(epoch from p.changed_over_at) * 1000)) order by p.line_no) as fills
           from packing_fill p
           join lot lf on lf.group_id = p.group_id and lf.lot_id = p.from_lot_id
           join lot lp on lp.group_id = p.group_id and lp.lot_id = p.pack_lot_id
          where p.group_id = r.group_id and p.packing_run_id = r.packing_run_id) pf on true
      where r.group_id = $1::uuid and r.batch_id = $2::uuid
      order by r.started_at, r.packing_run_id`,
    [tx.groupId, batchId],
  );
}
