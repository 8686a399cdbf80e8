/** SQL of dispatches and receipts. */
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
  readonly version: number;
}

const COLUMNS = `d.dispatch_id as "dispatchId", d.code, d.from_site_id as "fromSiteId", d.to_site_id as "toSiteId", d.purpose,
  d.state, d.planned_for as "plannedFor", d.departed_at as "departedAt", d.vehicle, d.driver_name as "driverName", d.version`;

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

export async function insertDispatch(
  tx: Tx,
  row: Omit<DispatchRow, 'state' | 'plannedFor' | 'departedAt' | 'version'> & { plannedForMs: number | null },
): Promise<void> {
  await tx.query(
    `insert into dispatch (group_id, dispatch_id, code, from_site_id, to_site_id, purpose, state, planned_for, vehicle, driver_name)
     values ($1::uuid, $2::uuid, $3::text, $4::uuid, $5::uuid, $6::text, 'planned', to_timestamp($7::float8 / 1000), $8::text,
            $9::text)`,
    [
      tx.groupId,
      row.dispatchId,
      row.code,
      row.fromSiteId,
      row.toSiteId,
      row.purpose,
      row.plannedForMs,
      row.vehicle,
      row.driverName,
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
  readonly lineNo: number;
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
  readonly placeId: string;
  readonly quantity: number;
  readonly unit: string;
  readonly serials: string[];
  readonly crateCode: string | null;
  readonly requirementId: string | null;
}

export async function listLines(tx: Tx, dispatchId: string): Promise<LineRow[]> {
  return tx.query<LineRow>(
    `select n.line_no as "lineNo", n.lot_id as "lotId", l.code as "lotCode", i.name as "itemName", n.place_id as "placeId",
            n.quantity, l.unit, n.serials, n.crate_code as "crateCode", n.requirement_id as "requirementId"
       from dispatch_line n
       join lot l on l.group_id = n.group_id and l.lot_id = n.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
      where n.group_id = $1::uuid and n.dispatch_id = $2::uuid
      order by n.line_no`,
    [tx.groupId, dispatchId],
  );
}

export async function replaceLines(
  tx: Tx,
  dispatchId: string,
  lines: readonly {
    lotId: string;
    placeId: string;
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

export interface FoundRow {
  readonly lotId: string;
  readonly lotCode: string;
  readonly unit: string;
  readonly sent: number;
  readonly accepted: number;
  readonly setAside: number;
  readonly inTransit: number;
}

/** Sent against found by lot, from the postings of the dispatch's account and its shortfall twin. */
export async function listFound(tx: Tx, dispatchId: string): Promise<FoundRow[]> {
  return tx.query<FoundRow>(
    `with transit as (
       select a.account_id from account a
        where a.group_id = $1::uuid and (a.account_id = $2::uuid or a.twin_of = $2::uuid)
     ), legs as (
       select p.lot_id, coalesce(o.kind, e.kind) as kind,
              case when e.kind = 'reversal' then -p.quantity else p.quantity end as quantity,
              case when e.kind = 'reversal' then p.from_account_id else p.to_account_id end as to_account_id
         from entry e
         join posting p on p.group_id = e.group_id and p.seq = e.seq
         left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
        where e.group_id = $1::uuid and e.dispatch_id = $2::uuid
     ), sums as (
       select g.lot_id,
              coalesce(sum(g.quantity) filter (where g.kind = 'dispatch'), 0)::int8 as sent,
              coalesce(sum(g.quantity) filter (where g.kind = 'receipt' and not coalesce(pl.quarantine, false)), 0)::int8 as accepted,
              coalesce(sum(g.quantity) filter (where g.kind = 'receipt' and pl.quarantine), 0)::int8 as set_aside
         from legs g
         left join account ta on ta.group_id = $1::uuid and ta.account_id = g.to_account_id
         left join place pl on pl.group_id = $1::uuid and pl.place_id = coalesce(ta.twin_of, ta.account_id)
        group by g.lot_id
     )
     select s.lot_id as "lotId", l.code as "lotCode", l.unit, s.sent, s.accepted, s.set_aside as "setAside",
            coalesce((select sum(b.quantity) from balance b
                       where b.group_id = $1::uuid and b.lot_id = s.lot_id
                         and b.account_id in (select t.account_id from transit t)), 0)::int8 as "inTransit"
       from sums s
       join lot l on l.group_id = $1::uuid and l.lot_id = s.lot_id
      order by l.code`,
    [tx.groupId, dispatchId],
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

export async function insertReceipt(
  tx: Tx,
  row: {
    receiptId: string;
    dispatchId: string;
    occurredAtMs: number;
    receivedBy: string;
    closes: boolean;
    note: string | null;
  },
  lines: readonly {
    lotId: string;
    placeId: string;
    quantity: number;
    condition: string;
    temperatureC: number | null;
  }[],
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into receipt (group_id, receipt_id, dispatch_id, occurred_at, recorded_at, received_by, closes, note)
     values ($1::uuid, $2::uuid, $3::uuid, to_timestamp($4::float8 / 1000), to_timestamp($5::float8 / 1000), $6::uuid,
            $7::boolean, $8::text)`,
    [tx.groupId, row.receiptId, row.dispatchId, row.occurredAtMs, nowMs, row.receivedBy, row.closes, row.note],
  );
  await tx.query(
    `insert into receipt_line (group_id, receipt_id, line_no, lot_id, place_id, quantity, condition, temperature_c)
     select $1::uuid, $2::uuid, r."lineNo", r."lotId", r."placeId", r.quantity, r.condition, r."temperatureC"
       from jsonb_to_recordset($3::jsonb) as r("lineNo" int, "lotId" uuid, "placeId" uuid, quantity int8, condition text,
            "temperatureC" numeric)`,
    [tx.groupId, row.receiptId, JSON.stringify(lines.map((line, at) => ({ ...line, lineNo: at + 1 })))],
  );
}

export interface CarriedRow {
  readonly dispatchId: string;
  readonly lotId: string;
  readonly serials: string[];
  readonly crateCode: string | null;
  readonly quantity: number;
}

/** What dispatches to a site carry of these lots, or in these crates; newest dispatch first. */
export async function findCarried(
  tx: Tx,
  toSiteId: string,
  lotIds: readonly string[],
  crateCodes: readonly string[],
): Promise<CarriedRow[]> {
  return tx.query<CarriedRow>(
    `select n.dispatch_id as "dispatchId", n.lot_id as "lotId", n.serials, n.crate_code as "crateCode", n.quantity
       from dispatch_line n
       join dispatch d on d.group_id = n.group_id and d.dispatch_id = n.dispatch_id and d.to_site_id = $2::uuid
      where n.group_id = $1::uuid and (n.lot_id = any($3::uuid[]) or n.crate_code = any($4::text[]))
      order by d.departed_at desc nulls last, d.dispatch_id, n.line_no`,
    [tx.groupId, toSiteId, lotIds, crateCodes],
  );
}
