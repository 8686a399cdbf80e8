/**
 * The hold of a recall case: one hold for the whole scope. What it reaches is the scope, and hold_reach says of each lot how it came
 * in: a root has no cause; any other names the lot it was made from, the process, and the fact that brought it in (null: it was there
 * when the case was opened). The gate has to be held exclusively.
 */
import type { Tx } from '../../platform/db/db.ts';

export interface CaseHold {
  readonly holdId: string;
  /** `drill` blocks nothing */
  readonly kind: 'recall' | 'drill';
  readonly note: string;
  readonly actorId: string;
  readonly deputyId: string | null;
}

export async function insertCaseHold(tx: Tx, hold: CaseHold, firstLotId: string, nowMs: number): Promise<void> {
  await tx.query(
    `insert into hold (group_id, hold_id, kind, lot_id, propagates, note, placed_at, placed_by, placed_deputy_id)
     values ($1::uuid, $2::uuid, $3::text, $4::uuid, true, $5::text, to_timestamp($6::float8 / 1000), $7::uuid, $8::uuid)`,
    [tx.groupId, hold.holdId, hold.kind, firstLotId, hold.note, nowMs, hold.actorId, hold.deputyId],
  );
}

/**
 * Lets a hold reach these lots as roots, and everything made from them. What it reaches already stays as it is.
 * @returns how many lots it reaches that it did not before
 */
export async function reachFrom(
  tx: Tx,
  holdId: string,
  rootLotIds: readonly string[],
  factId: string | null,
  nowMs: number,
): Promise<number> {
  const rows = await tx.query<{ added: number }>(
    `with recursive roots as materialized (
       select distinct u.lot_id from unnest($3::uuid[]) as u(lot_id)
     ), reach (lot_id) as (
       select r.lot_id from roots r
       union
       select le.child_lot_id from reach r join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = r.lot_id
     ), causes as (
       select distinct on (le.child_lot_id) le.child_lot_id, le.parent_lot_id, le.process_id
         from reach r
         join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = r.lot_id
        order by le.child_lot_id, le.parent_lot_id, le.process_id
     ), placed as (
       insert into hold_reach (group_id, hold_id, lot_id, cause_lot_id, process_id, fact_id, reached_at)
       select $1::uuid, $2::uuid, r.lot_id, case when o.lot_id is null then c.parent_lot_id end,
              case when o.lot_id is null then c.process_id end, $4::uuid, to_timestamp($5::float8 / 1000)
         from reach r
         left join roots o on o.lot_id = r.lot_id
         left join causes c on c.child_lot_id = r.lot_id
       on conflict (group_id, hold_id, lot_id) do nothing
       returning lot_id
     )
     select count(*)::int as added from placed`,
    [tx.groupId, holdId, rootLotIds, factId, nowMs],
  );
  return rows[0]?.added ?? 0;
}

/** Deliveries of a supplier's lot that are recorded from now on come under the hold at once. */
export async function watchSupplierLots(
  tx: Tx,
  holdId: string,
  watched: readonly { supplierId: string; supplierLotKey: string }[],
): Promise<void> {
  if (watched.length === 0) return;
  await tx.query(
    `insert into hold_watch (group_id, hold_id, supplier_id, supplier_lot_key)
     select $1::uuid, $2::uuid, r."supplierId", r."supplierLotKey"
       from jsonb_to_recordset($3::jsonb) as r("supplierId" uuid, "supplierLotKey" text)
     on conflict (group_id, hold_id, supplier_id, supplier_lot_key) do nothing`,
    [tx.groupId, holdId, JSON.stringify(watched)],
  );
}
