/**
 * The hold of a recall case: one hold for the whole scope. What it reaches is the scope, and hold_reach says of each lot how it came
 * in: a root has no cause; any other names the lot it was made from, the process, and the fact that brought it in (null: it was there
 * when the case was opened). The gate has to be held exclusively.
 */
import type { Tx } from '../../platform/db/db.ts';
import { recordedAt } from './edges-store.ts';

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

/** Where a hold begins: lots with everything made from them, and lots by themselves. */
export interface CaseRoots {
  readonly walked: readonly string[];
  readonly still: readonly string[];
}

/**
 * Lets a hold reach these lots as roots, and everything made from the walked ones. What it reaches already stays as it is.
 * @returns how many lots it reaches that it did not before
 */
export async function reachFrom(
  tx: Tx,
  holdId: string,
  roots: CaseRoots,
  factId: string | null,
  nowMs: number,
): Promise<number> {
  const rows = await tx.query<{ added: number }>(
    `with recursive roots as materialized (
       select u.lot_id from unnest($3::uuid[]) as u(lot_id) union select u.lot_id from unnest($6::uuid[]) as u(lot_id)
     ), reach (lot_id, cause_lot_id, process_id) as (
       select u.lot_id, null::uuid, null::uuid from unnest($3::uuid[]) as u(lot_id)
       union
       select le.child_lot_id, le.parent_lot_id, le.process_id
         from (select distinct r.lot_id from reach r) w
         join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = w.lot_id
     ), causes as (
       select distinct on (r.lot_id) r.lot_id, r.cause_lot_id, r.process_id
         from reach r
        where r.cause_lot_id is not null
        order by r.lot_id, r.cause_lot_id, r.process_id
     ), placed as (
       insert into hold_reach (group_id, hold_id, lot_id, cause_lot_id, process_id, fact_id, reached_at)
       select $1::uuid, $2::uuid, o.lot_id, null, null, $4::uuid, to_timestamp($5::float8 / 1000) from roots o
       union all
       select $1::uuid, $2::uuid, c.lot_id, c.cause_lot_id, c.process_id, $4::uuid, to_timestamp($5::float8 / 1000)
         from causes c
        where not exists (select from roots o where o.lot_id = c.lot_id)
       on conflict (group_id, hold_id, lot_id) do nothing
       returning lot_id
     )
     select count(*)::int as added from placed`,
    [tx.groupId, holdId, roots.walked, factId, nowMs, roots.still],
  );
  return rows[0]?.added ?? 0;
}

export interface WatchedCode {
  readonly supplierId: string;
  /** as written on the invoice */
  readonly supplierLotCode: string;
}

/** Deliveries of a supplier's lot that are recorded from now on come under the hold at once. A code without a letter or digit cannot be watched. */
export async function watchSupplierLots(tx: Tx, holdId: string, watched: readonly WatchedCode[]): Promise<void> {
  if (watched.length === 0) return;
  await tx.query(
    `insert into hold_watch (group_id, hold_id, supplier_id, supplier_lot_key)
     select distinct $1::uuid, $2::uuid, r."supplierId", supplier_lot_key(r."supplierLotCode")
       from jsonb_to_recordset($3::jsonb) as r("supplierId" uuid, "supplierLotCode" text)
      where supplier_lot_key(r."supplierLotCode") is not null
     on conflict (group_id, hold_id, supplier_id, supplier_lot_key) do nothing`,
    [tx.groupId, holdId, JSON.stringify(watched)],
  );
}

/** Lots that were just delivered come under the open holds that watch their supplier's code. Nothing was made from them yet. */
export async function joinWatched(tx: Tx, lotIds: readonly string[], nowMs: number): Promise<void> {
  await tx.query(
    `insert into hold_reach (group_id, hold_id, lot_id, cause_lot_id, process_id, fact_id, reached_at)
     select l.group_id, w.hold_id, l.lot_id, null, null, $4::uuid, ${recordedAt('$3')}
       from lot l
       join hold_watch w on w.group_id = l.group_id and w.supplier_id = l.supplier_id
        and w.supplier_lot_key = l.supplier_lot_key
       join hold h on h.group_id = w.group_id and h.hold_id = w.hold_id and h.lifted_at is null
      where l.group_id = $1::uuid and l.lot_id = any($2::uuid[])
     on conflict (group_id, hold_id, lot_id) do nothing`,
    [tx.groupId, lotIds, nowMs, tx.factId ?? null],
  );
}
