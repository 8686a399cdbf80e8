/** SQL that reads checks, with the names that a page shows. */
import type { AboutKind, HeldAgainst } from '../../../domain/process-checks/consequences.ts';
import type { KeptMeasure } from '../../../domain/process-checks/measured.ts';
import type { CheckKind, Judgement, Stage, StandingCheck } from '../../../domain/process-checks/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';

export interface CheckRow {
  readonly checkId: string;
  readonly siteId: string;
  readonly stage: Stage;
  readonly kind: CheckKind;
  readonly controlPoint: string | null;
  readonly aboutKind: AboutKind;
  readonly aboutId: string;
  readonly batchId: string | null;
  readonly batchCode: string | null;
  readonly lotId: string | null;
  readonly lotCode: string | null;
  readonly packingRunId: string | null;
  readonly machineId: string | null;
  readonly machineName: string | null;
  readonly instrumentId: string | null;
  readonly instrumentName: string | null;
  readonly occurredAt: Date;
  readonly recordedAt: Date;
  readonly recordedBy: string;
  readonly recordedByName: string | null;
  readonly doneBy: string;
  readonly doneByName: string | null;
  readonly measured: KeptMeasure;
  readonly limits: HeldAgainst;
  readonly result: 'passed' | 'failed';
  readonly judgement: Pick<Judgement, 'reasons' | 'numbers'>;
  readonly documentHref: string | null;
  readonly note: string | null;
  readonly supersedesCheckId: string | null;
  readonly correctionReason: string | null;
  readonly supersededByCheckId: string | null;
  readonly closed: boolean;
}

/** A failed check is closed by a corrective action that says so. */
export const CLOSED = `exists (select from corrective_action ca where ca.group_id = c.group_id and ca.check_id = c.check_id and ca.closes)`;
export const STANDS = `not exists (select from process_check n where n.group_id = c.group_id and n.supersedes_check_id = c.check_id)`;

const OWN_COLUMNS = `c.group_id, c.check_id, c.site_id, c.stage, c.kind, c.control_point, c.about_kind, c.about_id, c.batch_id, c.lot_id,
  c.packing_run_id, c.machine_id, c.instrument_id, c.occurred_at, c.recorded_at, c.recorded_by, c.done_by, c.measured, c.limits,
  c.result, c.judgement, c.document_href, c.note, c.supersedes_check_id, c.correction_reason`;

/**
 * SQL of checks with the names that a page shows. Which checks is decided first: joined as one, every check of the group is looked up in nine
 * tables before most of them are left out.
 * @param those SQL after `from process_check c`; `$1` is the group
 * @param order columns of `c`; of a list as its cursor has them
 */
export const checksOf = (those: string, order = 'c.occurred_at, c.check_id'): string => `with c as materialized (
       select ${OWN_COLUMNS} from process_check c ${those})
     select c.check_id as "checkId", c.site_id as "siteId", c.stage, c.kind, c.control_point as "controlPoint",
            c.about_kind as "aboutKind", c.about_id as "aboutId", c.batch_id as "batchId", b.code as "batchCode", c.lot_id as "lotId",
            l.code as "lotCode", c.packing_run_id as "packingRunId", c.machine_id as "machineId", m.name as "machineName",
            c.instrument_id as "instrumentId", i.name as "instrumentName", c.occurred_at as "occurredAt", c.recorded_at as "recordedAt",
            c.recorded_by as "recordedBy", coalesce(pr.name, dr.name) as "recordedByName", c.done_by as "doneBy",
            coalesce(pd.name, dd.name) as "doneByName", c.measured, c.limits, c.result, c.judgement, c.document_href as "documentHref",
            c.note, c.supersedes_check_id as "supersedesCheckId", c.correction_reason as "correctionReason",
            (select n.check_id from process_check n where n.group_id = c.group_id and n.supersedes_check_id = c.check_id)
              as "supersededByCheckId", ${CLOSED} as closed
       from c
       left join batch b on b.group_id = c.group_id and b.batch_id = c.batch_id
       left join lot l on l.group_id = c.group_id and l.lot_id = c.lot_id
       left join equipment m on m.group_id = c.group_id and m.equipment_id = c.machine_id
       left join equipment i on i.group_id = c.group_id and i.equipment_id = c.instrument_id
       left join person pr on pr.group_id = c.group_id and pr.person_id = c.recorded_by
       left join device dr on dr.group_id = c.group_id and dr.device_id = c.recorded_by
       left join person pd on pd.group_id = c.group_id and pd.person_id = c.done_by
       left join device dd on dd.group_id = c.group_id and dd.device_id = c.done_by
      order by ${order}`;

export async function findCheck(tx: Tx, checkId: string): Promise<CheckRow | null> {
  const rows = await tx.query<CheckRow>(checksOf('where c.group_id = $1::uuid and c.check_id = $2::uuid'), [
    tx.groupId,
    checkId,
  ]);
  return rows[0] ?? null;
}

export interface CheckFilter {
  readonly siteId: string | null;
  readonly batchId: string | null;
  readonly lotId: string | null;
  readonly packingRunId: string | null;
  readonly stage: string | null;
  readonly result: string | null;
  readonly fromDate: string | null;
  readonly toDate: string | null;
}

/** The bounds a day wider than the dates let the index be used, whatever the time zone. @param from and to: `$n` of the dates */
export const inPeriod = (from: string, to: string): string => `(${from}::date is null
            or (c.occurred_at >= ${from}::date - 1 and c.occurred_on >= ${from}::date))
        and (${to}::date is null or (c.occurred_at < ${to}::date + 2 and c.occurred_on <= ${to}::date))`;

/** By time, superseded ones too; one more than the page holds. */
export async function listCheckRows(tx: Tx, scope: SiteScope, filter: CheckFilter, page: Page): Promise<CheckRow[]> {
  return tx.query<CheckRow>(
    checksOf(`where c.group_id = $1::uuid and ($2::boolean or c.site_id = any($3::uuid[]))
        and ($4::uuid is null or c.site_id = $4::uuid)
        and ($5::uuid is null or c.batch_id = $5::uuid)
        and ($6::uuid is null or c.lot_id = $6::uuid)
        and ($7::uuid is null or c.packing_run_id = $7::uuid)
        and ($8::text is null or c.stage = $8::text)
        and ($9::text is null or c.result = $9::text)
        and ${inPeriod('$10', '$11')}
        and ($12::timestamptz is null or (c.occurred_at, c.check_id) > ($12::timestamptz, $13::uuid))
      order by c.occurred_at, c.check_id
      limit $14::int`),
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.batchId,
      filter.lotId,
      filter.packingRunId,
      filter.stage,
      filter.result,
      filter.fromDate,
      filter.toDate,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      page.limit + 1,
    ],
  );
}

/** Of two at one time the one that was told first. */
const BY_RECORD = 'c.occurred_at, c.recorded_at, c.check_id';

export interface CheckOwners {
  readonly batchIds?: readonly string[];
  readonly runIds?: readonly string[];
  readonly lotIds?: readonly string[];
}

/** Every check of these batches, runs or lots, superseded ones too, by time. */
export async function listCheckRowsOf(tx: Tx, owners: CheckOwners): Promise<CheckRow[]> {
  return tx.query<CheckRow>(
    checksOf(
      `where c.group_id = $1::uuid and c.check_id in (
            select o.check_id from process_check o where o.group_id = $1::uuid and o.batch_id = any($2::uuid[])
             union
            select o.check_id from process_check o where o.group_id = $1::uuid and o.packing_run_id = any($3::uuid[])
             union
            select o.check_id from process_check o where o.group_id = $1::uuid and o.lot_id = any($4::uuid[]))`,
      BY_RECORD,
    ),
    [tx.groupId, owners.batchIds ?? [], owners.runIds ?? [], owners.lotIds ?? []],
  );
}

/**
 * The checks of batches that nothing supersedes, by time: what readiness for release is reckoned from. `deviation` is `none` for those that
 * passed.
 */
/** Something in the chain of what it corrects had failed. */
const HAD_FAILED = `exists (
  with recursive back (check_id) as (
    select c.supersedes_check_id
    union
    select b.supersedes_check_id from back join process_check b on b.group_id = c.group_id and b.check_id = back.check_id
     where b.supersedes_check_id is not null
  )
  select from back join process_check b on b.group_id = c.group_id and b.check_id = back.check_id where b.result = 'failed')`;

export async function listStandingChecks(
  tx: Tx,
  { batchIds }: { readonly batchIds: readonly string[] },
): Promise<StandingCheck[]> {
  return tx.query<StandingCheck>(
    `select c.check_id as "checkId", c.control_point as "controlPoint", c.kind, c.stage, c.result,
            (extract(epoch from c.occurred_at) * 1000)::int8 as "occurredAtMs", c.batch_id as "batchId", c.lot_id as "lotId",
            c.packing_run_id as "packingRunId",
            case when c.result = 'passed' then 'none' when ${CLOSED} then 'closed' else 'open' end as deviation,
            c.result = 'passed' and c.supersedes_check_id is not null and ${HAD_FAILED} as "madeGood"
       from process_check c
      where c.group_id = $1::uuid and c.batch_id = any($2::uuid[]) and ${STANDS}
      order by c.occurred_at, c.recorded_at, c.check_id`,
    [tx.groupId, batchIds],
  );
}

export interface ActionRow {
  readonly actionId: string;
  readonly checkId: string;
  readonly action: string;
  readonly closes: boolean;
  readonly occurredAt: Date;
  readonly recordedAt: Date;
  readonly recordedBy: string;
  readonly recordedByName: string | null;
}

export async function listActions(tx: Tx, checkIds: readonly string[]): Promise<ActionRow[]> {
  return tx.query<ActionRow>(
    `select ca.action_id as "actionId", ca.check_id as "checkId", ca.action, ca.closes, ca.occurred_at as "occurredAt",
            ca.recorded_at as "recordedAt", ca.recorded_by as "recordedBy", coalesce(p.name, d.name) as "recordedByName"
       from corrective_action ca
       left join person p on p.group_id = ca.group_id and p.person_id = ca.recorded_by
       left join device d on d.group_id = ca.group_id and d.device_id = ca.recorded_by
      where ca.group_id = $1::uuid and ca.check_id = any($2::uuid[])
      order by ca.check_id, ca.action_no`,
    [tx.groupId, checkIds],
  );
}
