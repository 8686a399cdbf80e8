/** SQL of dispatches. */
import type { Tx } from '../../platform/db/db.ts';
import type { SiteScope } from '../../platform/http/contract.ts';
import type { Page } from '../../platform/http/paging.ts';

export interface DispatchRow {
  readonly dispatchId: string;
  readonly code: string;
  readonly fromSiteId: string;
  readonly toSiteId: string;
  readonly purpose: 'delivery' | 'return' | 'destruction';
  readonly state: 'planned' | 'departed' | 'closed';
  readonly plannedFor: Date | null;
  readonly departedAt: Date | null;
  readonly vehicle: string | null;
  readonly driverName: string | null;
  /** entered by the receiver, departure and receipt in one */
  readonly borrowed: boolean;
  /** the dispatch that it was refused from at the door */
  readonly refusedFromId: string | null;
  readonly version: number;
}

const COLUMNS = `d.dispatch_id as "dispatchId", d.code, d.from_site_id as "fromSiteId", d.to_site_id as "toSiteId", d.purpose,
  d.state, d.planned_for as "plannedFor", d.departed_at as "departedAt", d.vehicle, d.driver_name as "driverName",
  d.borrowed, d.refused_from_id as "refusedFromId", d.version`;

export async function findDispatches(tx: Tx, dispatchIds: readonly string[]): Promise<Map<string, DispatchRow>> {
  const rows = await tx.query<DispatchRow>(
    `select ${COLUMNS} from dispatch d where d.group_id = $1::uuid and d.dispatch_id = any($2::uuid[])`,
    [tx.groupId, dispatchIds],
  );
  return new Map(rows.map((row) => [row.dispatchId, row]));
}

/** In key order: before any balance, after the gate. */
export async function lockDispatches(tx: Tx, dispatchIds: readonly string[]): Promise<Map<string, DispatchRow>> {
  const rows = await tx.query<DispatchRow>(
    `select ${COLUMNS} from dispatch d
      where d.group_id = $1::uuid and d.dispatch_id = any($2::uuid[])
      order by d.dispatch_id for no key update`,
    [tx.groupId, dispatchIds],
  );
  return new Map(rows.map((row) => [row.dispatchId, row]));
}

export interface NewDispatchRow {
  readonly dispatchId: string;
  readonly code: string;
  readonly fromSiteId: string;
  readonly toSiteId: string;
  readonly purpose: DispatchRow['purpose'];
  readonly state: DispatchRow['state'];
  readonly plannedForMs: number | null;
  readonly departedAtMs: number | null;
  readonly vehicle: string | null;
  readonly driverName: string | null;
  readonly borrowed: boolean;
  readonly refusedFromId: string | null;
}

export async function insertDispatch(tx: Tx, row: NewDispatchRow): Promise<void> {
  await tx.query(
    `insert into dispatch (group_id, dispatch_id, code, from_site_id, to_site_id, purpose, state, planned_for, departed_at,
            vehicle, driver_name, borrowed, refused_from_id)
     values ($1::uuid, $2::uuid, $3::text, $4::uuid, $5::uuid, $6::text, $7::text, to_timestamp($8::float8 / 1000),
            to_timestamp($9::float8 / 1000), $10::text, $11::text, $12::boolean, $13::uuid)`,
    [
      tx.groupId,
      row.dispatchId,
      row.code,
      row.fromSiteId,
      row.toSiteId,
      row.purpose,
      row.state,
      row.plannedForMs,
      row.departedAtMs,
      row.vehicle,
      row.driverName,
      row.borrowed,
      row.refusedFromId,
    ],
  );
}

export async function updateDispatch(
  tx: Tx,
  dispatchId: string,
  change: { plannedForMs: number | null; vehicle: string | null; driverName: string | null },
): Promise<void> {
  await tx.query(
    `update dispatch d set planned_for = to_timestamp($3::float8 / 1000), vehicle = $4::text, driver_name = $5::text,
            version = d.version + 1
      where d.group_id = $1::uuid and d.dispatch_id = $2::uuid`,
    [tx.groupId, dispatchId, change.plannedForMs, change.vehicle, change.driverName],
  );
}

export async function setState(
  tx: Tx,
  dispatchId: string,
  state: DispatchRow['state'],
  departedAtMs: number | null,
): Promise<void> {
  await tx.query(
    `update dispatch d set state = $3::text, version = d.version + 1,
            departed_at = case when $3::text = 'planned' then null else coalesce(to_timestamp($4::float8 / 1000), d.departed_at) end
      where d.group_id = $1::uuid and d.dispatch_id = $2::uuid`,
    [tx.groupId, dispatchId, state, departedAtMs],
  );
}

export interface LineRow {
  readonly dispatchId: string;
  readonly lineNo: number;
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
  /** null: refused at the door, or borrowed from nobody knows which place */
  readonly placeId: string | null;
  readonly quantity: number;
  readonly unit: string;
  readonly serials: string[];
  readonly crateCode: string | null;
  readonly requirementId: string | null;
}

export async function listLines(tx: Tx, dispatchIds: readonly string[]): Promise<LineRow[]> {
  return tx.query<LineRow>(
    `select n.dispatch_id as "dispatchId", n.line_no as "lineNo", n.lot_id as "lotId", l.code as "lotCode", i.name as "itemName",
            n.place_id as "placeId", n.quantity, l.unit, n.serials, n.crate_code as "crateCode",
            n.requirement_id as "requirementId"
       from dispatch_line n
       join lot l on l.group_id = n.group_id and l.lot_id = n.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
      where n.group_id = $1::uuid and n.dispatch_id = any($2::uuid[])
      order by n.dispatch_id, n.line_no`,
    [tx.groupId, dispatchIds],
  );
}

export async function replaceLines(
  tx: Tx,
  dispatchId: string,
  lines: readonly {
    lotId: string;
    placeId: string | null;
    quantity: number;
    serials: readonly string[];
    crateCode: string | null;
    requirementId: string | null;
  }[],
): Promise<void> {
  await tx.query('delete from dispatch_line n where n.group_id = $1::uuid and n.dispatch_id = $2::uuid', [
    tx.groupId,
    dispatchId,
  ]);
  await tx.query(
    `insert into dispatch_line (group_id, dispatch_id, line_no, lot_id, place_id, quantity, serials, crate_code,
            requirement_id)
     select $1::uuid, $2::uuid, r."lineNo", r."lotId", r."placeId", r.quantity, r.serials, r."crateCode", r."requirementId"
       from jsonb_to_recordset($3::jsonb) as r("lineNo" int, "lotId" uuid, "placeId" uuid, quantity int8, serials text[],
            "crateCode" text, "requirementId" uuid)`,
    [tx.groupId, dispatchId, JSON.stringify(lines.map((line, at) => ({ ...line, lineNo: at + 1 })))],
  );
}

export async function listDispatchRows(
  tx: Tx,
  scope: SiteScope,
  filter: { fromSiteId: string | null; toSiteId: string | null; state: string | null },
  page: Page,
): Promise<DispatchRow[]> {
  return tx.query<DispatchRow>(
    `select ${COLUMNS} from dispatch d
      where d.group_id = $1::uuid
        and ($2::boolean or d.from_site_id = any($3::uuid[]) or d.to_site_id = any($3::uuid[]))
        and ($4::uuid is null or d.from_site_id = $4::uuid)
        and ($5::uuid is null or d.to_site_id = $5::uuid)
        and ($6::text is null or d.state = $6::text)
        and ($7::uuid is null or d.dispatch_id > $7::uuid)
      order by d.dispatch_id
      limit $8::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.fromSiteId,
      filter.toSiteId,
      filter.state,
      page.after?.[0] ?? null,
      page.limit + 1,
    ],
  );
}
