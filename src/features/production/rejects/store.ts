/** SQL of reject rates. */
import type { Tx } from '../../../platform/db/db.ts';

export interface PeriodRow {
  readonly equipmentId: string;
  readonly equipmentName: string;
  readonly programmeId: string | null;
  readonly programme: string;
  readonly begins: string;
  readonly runs: number;
  readonly packsMade: number;
  readonly packsRejected: number;
  readonly byReason: Readonly<Record<string, number>>;
  readonly tested: number;
  readonly failed: number;
  readonly faults: Readonly<Record<string, number>>;
}

export interface RatesAsked {
  readonly siteId: string;
  readonly timeZone: string;
  readonly equipmentId: string | null;
  readonly fromDate: string;
  readonly toDate: string;
  readonly by: 'week' | 'month';
}

/**
 * Sums by machine, programme and period of the runs that stand. A programme without an id is its name. A numbered pack with the same fault
 * twice is one pack.
 */
export async function listPeriods(tx: Tx, asked: RatesAsked): Promise<PeriodRow[]> {
  return tx.query<PeriodRow>(
    `with run as materialized (
       select r.packing_run_id, r.equipment_id, r.programme_id, coalesce(r.programme_id::text, r.programme) as key, r.programme,
              r.packs_rejected, r.finished_at, date_trunc($6::text, (r.finished_at at time zone $3::text))::date as begins
         from packing_run r
        where r.group_id = $1::uuid and r.site_id = $2::uuid and ($7::uuid is null or r.equipment_id = $7::uuid)
          and r.finished_at >= ($4::date::timestamp at time zone $3::text)
          and r.finished_at < (($5::date + 1)::timestamp at time zone $3::text)
          and not exists (select from entry x where x.group_id = r.group_id and x.reverses_entry_id = r.packing_run_id)
     ), made as (
       select n.packing_run_id, sum(f.packs) as packs
         from run n join packing_fill f on f.group_id = $1::uuid and f.packing_run_id = n.packing_run_id
        group by n.packing_run_id
     ), whole as (
       select n.equipment_id, n.key, n.begins, max(n.programme_id::text)::uuid as programme_id,
              (array_agg(n.programme order by n.finished_at desc))[1] as programme, max(n.finished_at) as latest,
              count(*) as runs, coalesce(sum(m.packs), 0) as made, sum(n.packs_rejected) as rejected
         from run n left join made m on m.packing_run_id = n.packing_run_id
        group by n.equipment_id, n.key, n.begins
     ), why as (
       select z.equipment_id, z.key, z.begins, jsonb_object_agg(z.reason, z.packs) as reasons
         from (select n.equipment_id, n.key, n.begins, j.reason, sum(j.packs) as packs
                 from run n join packing_reject j on j.group_id = $1::uuid and j.packing_run_id = n.packing_run_id
                group by n.equipment_id, n.key, n.begins, j.reason) z
        group by z.equipment_id, z.key, z.begins
     ), seals as (
       select n.equipment_id, n.key, n.begins, sum((c.measured ->> 'tested')::int8) as tested,
              sum((c.measured ->> 'failed')::int8) as failed
         from run n
         join process_check c on c.group_id = $1::uuid and c.packing_run_id = n.packing_run_id and c.kind = 'seal-test'
        where not exists (select from process_check s where s.group_id = c.group_id and s.supersedes_check_id = c.check_id)
        group by n.equipment_id, n.key, n.begins
     ), fault as (
       select z.equipment_id, z.key, z.begins, jsonb_object_agg(z.kind, z.packs) as kinds
         from (select n.equipment_id, n.key, n.begins, t.kind,
                      coalesce(sum(t.packs) filter (where t.serial is null), 0)
                        + count(distinct (t.lot_id, t.serial)) filter (where t.serial is not null) as packs
                 from run n join pack_fault t on t.group_id = $1::uuid and t.packing_run_id = n.packing_run_id
                where not exists (select from pack_fault_withdrawal x where x.group_id = t.group_id and x.fault_id = t.fault_id)
                group by n.equipment_id, n.key, n.begins, t.kind) z
        group by z.equipment_id, z.key, z.begins
     )
     select w.equipment_id as "equipmentId", q.name as "equipmentName", w.programme_id as "programmeId",
            first_value(w.programme) over (partition by w.equipment_id, w.key order by w.latest desc) as programme,
            w.begins, w.runs::int8 as runs, w.made::int8 as "packsMade", w.rejected::int8 as "packsRejected",
            coalesce(y.reasons, '{}') as "byReason", coalesce(s.tested, 0)::int8 as tested, coalesce(s.failed, 0)::int8 as failed,
            coalesce(t.kinds, '{}') as faults
       from whole w
       join equipment q on q.group_id = $1::uuid and q.equipment_id = w.equipment_id
       left join why y on (y.equipment_id, y.key, y.begins) = (w.equipment_id, w.key, w.begins)
       left join seals s on (s.equipment_id, s.key, s.begins) = (w.equipment_id, w.key, w.begins)
       left join fault t on (t.equipment_id, t.key, t.begins) = (w.equipment_id, w.key, w.begins)
      order by q.name, w.equipment_id, w.key, w.begins`,
    [tx.groupId, asked.siteId, asked.timeZone, asked.fromDate, asked.toDate, asked.by, asked.equipmentId],
  );
}
