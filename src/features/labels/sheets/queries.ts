/** SQL of the sheets. */
import { partUseBy } from '../../ledger/index.ts';
import type { Tx } from '../../../platform/db/db.ts';

export interface OnHandRow {
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemId: string;
  readonly placeName: string;
  readonly quantity: number;
  readonly unit: string;
  readonly useByMs: number | null;
}

/** What the site has of these items outside quarantine and in date, earliest date first; at most a handful of each. */
export async function listOnHand(
  tx: Tx,
  siteId: string,
  itemIds: readonly string[],
  nowMs: number,
  ofEach: number,
): Promise<OnHandRow[]> {
  return tx.query<OnHandRow>(
    `select r."lotId", r."lotCode", r."itemId", r."placeName", r.quantity, r.unit, r."useByMs"
       from (
         select b.lot_id as "lotId", l.code as "lotCode", l.item_id as "itemId", pl.name as "placeName", b.quantity, l.unit,
                case when d.use_by_at = 'infinity' then null else (extract(epoch from d.use_by_at) * 1000)::int8 end as "useByMs",
                row_number() over (partition by l.item_id order by d.use_by_at, l.code, b.account_id) as nth
           from place pl
           join balance b on b.group_id = pl.group_id and b.account_id = pl.place_id and b.quantity > 0
           join lot l on l.group_id = b.group_id and l.lot_id = b.lot_id and l.item_id = any($3::uuid[])
           join lot_state s on s.group_id = b.group_id and s.lot_id = b.lot_id
           cross join lateral (select ${partUseBy()} as use_by_at) d
          where pl.group_id = $1::uuid and pl.site_id = $2::uuid and not pl.quarantine
            and d.use_by_at > to_timestamp($4::float8 / 1000)
       ) r
      where r.nth <= $5::int
      order by r."itemId", r.nth`,
    [tx.groupId, siteId, itemIds, nowMs, ofEach],
  );
}

export interface SheetBatchRow {
  readonly code: string;
  readonly siteId: string;
  readonly recipeId: string;
  readonly startedAt: Date;
}

export async function findSheetBatch(tx: Tx, batchId: string): Promise<SheetBatchRow | null> {
  const rows = await tx.query<SheetBatchRow>(
    `select b.code, b.site_id as "siteId", b.recipe_id as "recipeId", b.started_at as "startedAt"
       from batch b where b.group_id = $1::uuid and b.batch_id = $2::uuid`,
    [tx.groupId, batchId],
  );
  return rows[0] ?? null;
}

export interface SheetDispatchRow {
  readonly code: string;
  readonly fromSiteId: string;
  readonly toSiteId: string;
  readonly plannedFor: Date | null;
  readonly departedAt: Date | null;
  readonly vehicle: string | null;
  readonly driverName: string | null;
}

export async function findSheetDispatch(tx: Tx, dispatchId: string): Promise<SheetDispatchRow | null> {
  const rows = await tx.query<SheetDispatchRow>(
    `select d.code, d.from_site_id as "fromSiteId", d.to_site_id as "toSiteId", d.planned_for as "plannedFor",
            d.departed_at as "departedAt", d.vehicle, d.driver_name as "driverName"
       from dispatch d where d.group_id = $1::uuid and d.dispatch_id = $2::uuid`,
    [tx.groupId, dispatchId],
  );
  return rows[0] ?? null;
}

export interface SheetLineRow {
  readonly lotCode: string;
  readonly itemName: string;
  readonly quantity: number;
  readonly unit: string;
  readonly crateCode: string | null;
  readonly useByMs: number | null;
}

export async function listSheetLines(tx: Tx, dispatchId: string): Promise<SheetLineRow[]> {
  return tx.query<SheetLineRow>(
    `select l.code as "lotCode", i.name as "itemName", n.quantity, l.unit, n.crate_code as "crateCode",
            case when d.use_by_at = 'infinity' then null else (extract(epoch from d.use_by_at) * 1000)::int8 end as "useByMs"
       from dispatch_line n
       join lot l on l.group_id = n.group_id and l.lot_id = n.lot_id
       join lot_state s on s.group_id = n.group_id and s.lot_id = n.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       cross join lateral (select least(s.use_by_at, (
              select min(h.use_by_at) from hold h
               where h.group_id = n.group_id and h.lot_id = n.lot_id and h.account_id in (n.place_id, n.dispatch_id)
                 and h.kind = 'use-by' and h.lifted_at is null)) as use_by_at) d
      where n.group_id = $1::uuid and n.dispatch_id = $2::uuid
      order by n.line_no`,
    [tx.groupId, dispatchId],
  );
}

export async function listSitePlaces(tx: Tx, siteId: string): Promise<{ code: string; name: string; kind: string }[]> {
  return tx.query(
    `select pl.code, pl.name, pl.kind from place pl
      where pl.group_id = $1::uuid and pl.site_id = $2::uuid and pl.kind <> 'prep-area'
      order by pl.kind, pl.code limit 200`,
    [tx.groupId, siteId],
  );
}
