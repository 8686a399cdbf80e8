/** SQL of van runs, their drops and the times of these. */
import type { Tx } from '../../platform/db/db.ts';
import type { SiteScope } from '../../platform/http/contract.ts';
import type { Page } from '../../platform/http/paging.ts';

export interface VanRunRow {
  readonly vanRunId: string;
  readonly code: string;
  readonly siteId: string;
  readonly vehicle: string;
  readonly driverId: string | null;
  readonly driverName: string | null;
  readonly plannedFor: Date;
  readonly version: number;
}

const COLUMNS = `v.van_run_id as "vanRunId", v.code, v.site_id as "siteId", v.vehicle, v.driver_id as "driverId",
  v.driver_name as "driverName", v.planned_for as "plannedFor", v.version`;

export async function findVanRun(tx: Tx, vanRunId: string): Promise<VanRunRow | null> {
  const rows = await tx.query<VanRunRow>(
    `select ${COLUMNS} from van_run v where v.group_id = $1::uuid and v.van_run_id = $2::uuid`,
    [tx.groupId, vanRunId],
  );
  return rows[0] ?? null;
}

export async function lockVanRun(tx: Tx, vanRunId: string): Promise<VanRunRow | null> {
  const rows = await tx.query<VanRunRow>(
    `select ${COLUMNS} from van_run v where v.group_id = $1::uuid and v.van_run_id = $2::uuid for no key update`,
    [tx.groupId, vanRunId],
  );
  return rows[0] ?? null;
}

export async function listVanRunRows(
  tx: Tx,
  scope: SiteScope,
  filter: { siteId: string | null; driverId: string | null },
  page: Page,
): Promise<VanRunRow[]> {
  return tx.query<VanRunRow>(
    `select ${COLUMNS} from van_run v
      where v.group_id = $1::uuid
        and ($2::boolean or v.site_id = any($3::uuid[]) or exists (
          select from van_drop n join dispatch d on d.group_id = n.group_id and d.dispatch_id = n.dispatch_id
           where n.group_id = v.group_id and n.van_run_id = v.van_run_id and d.to_site_id = any($3::uuid[])))
        and ($4::uuid is null or v.site_id = $4::uuid)
        and ($5::uuid is null or v.driver_id = $5::uuid)
        and ($6::timestamptz is null or (v.planned_for, v.van_run_id) < ($6::timestamptz, $7::uuid))
      order by v.planned_for desc, v.van_run_id desc
      limit $8::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.driverId,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      page.limit + 1,
    ],
  );
}

export interface VanRunDraft extends Omit<VanRunRow, 'plannedFor' | 'version'> {
  readonly plannedForMs: number;
}

export async function insertVanRun(tx: Tx, row: VanRunDraft): Promise<void> {
  await tx.query(
    `insert into van_run (group_id, van_run_id, code, site_id, vehicle, driver_id, driver_name, planned_for)
     values ($1::uuid, $2::uuid, $3::text, $4::uuid, $5::text, $6::uuid, $7::text, to_timestamp($8::float8 / 1000))`,
    [tx.groupId, row.vanRunId, row.code, row.siteId, row.vehicle, row.driverId, row.driverName, row.plannedForMs],
  );
}

export async function updateVanRun(tx: Tx, row: VanRunDraft): Promise<void> {
  await tx.query(
    `update van_run v set vehicle = $3::text, driver_id = $4::uuid, driver_name = $5::text,
            planned_for = to_timestamp($6::float8 / 1000), version = v.version + 1
      where v.group_id = $1::uuid and v.van_run_id = $2::uuid`,
    [tx.groupId, row.vanRunId, row.vehicle, row.driverId, row.driverName, row.plannedForMs],
  );
}

export async function deleteDrops(tx: Tx, vanRunId: string): Promise<void> {
  await tx.query('delete from van_drop n where n.group_id = $1::uuid and n.van_run_id = $2::uuid', [
    tx.groupId,
    vanRunId,
  ]);
}

export async function insertDrops(tx: Tx, vanRunId: string, dispatchIds: readonly string[]): Promise<void> {
  await tx.query(
    `insert into van_drop (group_id, van_run_id, position, dispatch_id)
     select $1::uuid, $2::uuid, r.position, r.dispatch_id
       from unnest($3::uuid[]) with ordinality as r(dispatch_id, position)`,
    [tx.groupId, vanRunId, dispatchIds],
  );
}

export interface DropRow {
  readonly vanRunId: string;
  readonly position: number;
  readonly dispatchId: string;
  readonly dispatchCode: string;
  readonly purpose: 'delivery' | 'return' | 'destruction';
  readonly state: 'planned' | 'departed' | 'closed';
  readonly siteId: string;
  readonly siteName: string;
  readonly siteJurisdiction: string;
  readonly plannedFor: Date | null;
  readonly departedAt: Date | null;
}

/** In drop order. */
export async function listDrops(tx: Tx, vanRunId: string): Promise<DropRow[]> {
  return tx.query<DropRow>(
    `select n.van_run_id as "vanRunId", n.position, n.dispatch_id as "dispatchId", d.code as "dispatchCode", d.purpose, d.state,
            d.to_site_id as "siteId", s.name as "siteName", s.jurisdiction as "siteJurisdiction",
            d.planned_for as "plannedFor", d.departed_at as "departedAt"
       from van_drop n
       join dispatch d on d.group_id = n.group_id and d.dispatch_id = n.dispatch_id
       join site s on s.group_id = d.group_id and s.site_id = d.to_site_id
      where n.group_id = $1::uuid and n.van_run_id = $2::uuid
      order by n.position`,
    [tx.groupId, vanRunId],
  );
}

/** Which of these dispatches are on a van run already. */
export async function findRunsOfDispatches(
  tx: Tx,
  dispatchIds: readonly string[],
): Promise<{ dispatchId: string; vanRunId: string }[]> {
  return tx.query(
    `select n.dispatch_id as "dispatchId", n.van_run_id as "vanRunId"
       from van_drop n where n.group_id = $1::uuid and n.dispatch_id = any($2::uuid[])`,
    [tx.groupId, dispatchIds],
  );
}

export interface DropTimeRow {
  readonly dropTimeId: string;
  readonly dispatchId: string;
  readonly arrivedAt: Date | null;
  readonly doorAt: Date | null;
  readonly putAwayAt: Date | null;
  readonly recordedAt: Date;
  readonly recordedBy: string;
}

/** All that was said of the times of a run's drops, in the order in which it was recorded. */
export async function listDropTimes(tx: Tx, vanRunId: string): Promise<DropTimeRow[]> {
  return tx.query<DropTimeRow>(
    `select t.drop_time_id as "dropTimeId", t.dispatch_id as "dispatchId", t.arrived_at as "arrivedAt", t.door_at as "doorAt",
            t.put_away_at as "putAwayAt", t.recorded_at as "recordedAt", t.recorded_by as "recordedBy"
       from drop_time t
      where t.group_id = $1::uuid and t.van_run_id = $2::uuid
      order by t.dispatch_id, t.position`,
    [tx.groupId, vanRunId],
  );
}

/** The run is locked, so that the positions of two facts cannot be one. */
export async function insertDropTime(
  tx: Tx,
  row: {
    dropTimeId: string;
    vanRunId: string;
    dispatchId: string;
    arrivedAtMs: number | null;
    doorAtMs: number | null;
    putAwayAtMs: number | null;
    recordedBy: string;
  },
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into drop_time (group_id, drop_time_id, van_run_id, dispatch_id, position, arrived_at, door_at, put_away_at,
            recorded_at, recorded_by)
     select $1::uuid, $2::uuid, $3::uuid, $4::uuid,
            1 + (select count(*) from drop_time t
                  where t.group_id = $1::uuid and t.van_run_id = $3::uuid and t.dispatch_id = $4::uuid),
            to_timestamp($5::float8 / 1000), to_timestamp($6::float8 / 1000), to_timestamp($7::float8 / 1000),
            to_timestamp($8::float8 / 1000), $9::uuid`,
    [
      tx.groupId,
      row.dropTimeId,
      row.vanRunId,
      row.dispatchId,
      row.arrivedAtMs,
      row.doorAtMs,
      row.putAwayAtMs,
      nowMs,
      row.recordedBy,
    ],
  );
}
