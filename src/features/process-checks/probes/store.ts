/** SQL on probe_calibration. */
import type { CalibrationMethod, CalibrationSeen } from '../../../domain/process-checks/probes.ts';
import type { Source } from '../../../domain/process-checks/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';
import { stands } from './stands.ts';

export interface CalibrationRow {
  readonly calibrationId: string;
  readonly equipmentId: string;
  readonly siteId: string;
  readonly occurredAt: Date;
  readonly recordedAt: Date;
  readonly recordedBy: string;
  readonly method: CalibrationMethod;
  readonly referenceC: number;
  readonly measuredC: number;
  readonly toleranceC: number;
  readonly basis: {
    readonly reference: string;
    readonly referenceSource: Source | null;
    readonly tolerance: Source;
    readonly interval: Source;
    readonly cautions: readonly string[];
  };
  readonly result: 'passed' | 'failed';
  readonly nextDueOn: string;
  readonly correctiveAction: string | null;
  readonly documentHref: string | null;
  readonly note: string | null;
  /** the one in whose place it stands */
  readonly supersedes: string | null;
  readonly correctionReason: string | null;
  readonly supersededBy: string | null;
}

const COLUMNS = `c.calibration_id as "calibrationId", c.equipment_id as "equipmentId", c.site_id as "siteId",
  c.occurred_at as "occurredAt", c.recorded_at as "recordedAt", c.recorded_by as "recordedBy", c.method,
  c.reference_c::float8 as "referenceC", c.measured_c::float8 as "measuredC", c.tolerance_c::float8 as "toleranceC", c.basis, c.result,
  to_char(c.next_due_on, 'YYYY-MM-DD') as "nextDueOn", c.corrective_action as "correctiveAction", c.document_href as "documentHref", c.note,
  c.supersedes_calibration_id as supersedes, c.correction_reason as "correctionReason",
  (select n.calibration_id from probe_calibration n
    where n.group_id = c.group_id and n.supersedes_calibration_id = c.calibration_id) as "supersededBy"`;

export async function insertCalibration(tx: Tx, row: CalibrationRow): Promise<void> {
  await tx.query(
    `insert into probe_calibration (group_id, calibration_id, equipment_id, site_id, occurred_at, recorded_at, recorded_by, method,
            reference_c, measured_c, tolerance_c, basis, result, next_due_on, corrective_action, document_href, note,
            supersedes_calibration_id, correction_reason)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::timestamptz, $6::timestamptz, $7::uuid, $8::text, $9::numeric, $10::numeric,
             $11::numeric, $12::jsonb, $13::text, $14::date, $15::text, $16::text, $17::text, $18::uuid, $19::text)`,
    [
      tx.groupId,
      row.calibrationId,
      row.equipmentId,
      row.siteId,
      row.occurredAt,
      row.recordedAt,
      row.recordedBy,
      row.method,
      row.referenceC,
      row.measuredC,
      row.toleranceC,
      JSON.stringify(row.basis),
      row.result,
      row.nextDueOn,
      row.correctiveAction,
      row.documentHref,
      row.note,
      row.supersedes,
      row.correctionReason,
    ],
  );
}

export async function findCalibration(tx: Tx, calibrationId: string): Promise<CalibrationRow | null> {
  const rows = await tx.query<CalibrationRow>(
    `select ${COLUMNS} from probe_calibration c where c.group_id = $1::uuid and c.calibration_id = $2::uuid`,
    [tx.groupId, calibrationId],
  );
  return rows[0] ?? null;
}

export async function listCalibrationRows(tx: Tx, equipmentId: string, page: Page): Promise<CalibrationRow[]> {
  return tx.query<CalibrationRow>(
    `select ${COLUMNS} from probe_calibration c
      where c.group_id = $1::uuid and c.equipment_id = $2::uuid and ${stands('c')}
        and ($3::timestamptz is null or (c.occurred_at, c.calibration_id) > ($3::timestamptz, $4::uuid))
      order by c.occurred_at, c.calibration_id
      limit $5::int`,
    [tx.groupId, equipmentId, page.after?.[0] ?? null, page.after?.[1] ?? null, page.limit + 1],
  );
}

/**
 * The last calibration by each method up to a moment; of two at one time the failed one. A calibration counts to the end of its last day at
 * the site. `$2` is the equipment, `$3` the moment in milliseconds.
 */
const LAST_BY_METHOD = (equipment: string, atMs: string): string => `
  select distinct on (c.method) c.calibration_id as "calibrationId", c.method, c.result,
         (extract(epoch from c.occurred_at) * 1000)::float8 as "occurredAtMs",
         (to_timestamp(${atMs} / 1000) at time zone s.time_zone)::date > c.next_due_on as lapsed
    from probe_calibration c
    join site s on s.group_id = c.group_id and s.site_id = c.site_id
   where c.group_id = $1::uuid and c.equipment_id = ${equipment} and c.occurred_at <= to_timestamp(${atMs} / 1000)
     and ${stands('c')}
   order by c.method, c.occurred_at desc, c.result, c.calibration_id desc`;

export async function listLastCalibrations(tx: Tx, equipmentId: string, atMs: number): Promise<CalibrationSeen[]> {
  return tx.query<CalibrationSeen>(LAST_BY_METHOD('$2::uuid', '$3::float8'), [tx.groupId, equipmentId, atMs]);
}

export interface ProbeRow {
  readonly equipmentId: string;
  readonly siteId: string;
  readonly code: string;
  readonly name: string;
  readonly kind: string;
  readonly seen: readonly CalibrationSeen[];
  readonly last: {
    readonly calibrationId: string;
    readonly occurredAtMs: number;
    readonly method: CalibrationMethod;
    readonly errorC: number;
    readonly result: 'passed' | 'failed';
    readonly nextDueOn: string;
  } | null;
}

/** Probes in use, and other equipment in use that was calibrated, by code and id. Due: as standingOf would say, for the day before. */
export async function listProbeRows(
  tx: Tx,
  scope: SiteScope,
  filter: { readonly siteId: string | null; readonly dueBefore: string | null; readonly atMs: number },
  page: Page,
): Promise<ProbeRow[]> {
  return tx.query<ProbeRow>(
    `select e.equipment_id as "equipmentId", e.site_id as "siteId", e.code, e.name, e.kind, coalesce(m.seen, '[]') as seen, t.last
       from equipment e
       left join lateral (
         select jsonb_agg(to_jsonb(b)) as seen,
                bool_or(b.result = 'failed' and not exists (
                  select from probe_calibration g
                   where g.group_id = $1::uuid and g.equipment_id = e.equipment_id and g.method = 'laboratory' and g.result = 'passed'
                     and ${stands('g')} and g.occurred_at <= to_timestamp($6::float8 / 1000)
                     and (extract(epoch from g.occurred_at) * 1000)::float8 > b."occurredAtMs")) as failed
           from (${LAST_BY_METHOD('e.equipment_id', '$6::float8')}) b
       ) m on true
       left join lateral (
         select jsonb_build_object('calibrationId', c.calibration_id, 'occurredAtMs', (extract(epoch from c.occurred_at) * 1000)::float8,
                  'method', c.method, 'errorC', c.measured_c - c.reference_c, 'result', c.result,
                  'nextDueOn', to_char(c.next_due_on, 'YYYY-MM-DD')) as last, c.next_due_on
           from probe_calibration c
          where c.group_id = $1::uuid and c.equipment_id = e.equipment_id and c.occurred_at <= to_timestamp($6::float8 / 1000)
            and ${stands('c')}
          order by c.occurred_at desc, c.result, c.calibration_id desc limit 1
       ) t on true
      where e.group_id = $1::uuid and e.active and (e.kind = 'probe' or t.last is not null)
        and ($2::boolean or e.site_id = any($3::uuid[]))
        and ($4::uuid is null or e.site_id = $4::uuid)
        and ($5::date is null or coalesce(m.failed, false) or coalesce(t.next_due_on, '-infinity') < $5::date)
        and ($7::text is null or (e.code, e.equipment_id) > ($7::text, $8::uuid))
      order by e.code, e.equipment_id limit $9::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.dueBefore,
      filter.atMs,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      page.limit + 1,
    ],
  );
}
