/** SQL of allergen corrections: the lot itself, and what was born with a label that declares less. */
import type { Tx } from '../../platform/db/db.ts';

/** Adds codes to one lot; the change is named by the fact that decided it. */
export async function addAllergens(
  tx: Tx,
  change: {
    changeId: string;
    lotId: string;
    allergens: readonly string[];
    mayContain: readonly string[];
    reason: string;
    actorId: string;
  },
  nowMs: number,
): Promise<void> {
  await tx.query(
    `with grown as (
       update lot_state s set allergens = s.allergens || $3::text[], may_contain = s.may_contain || $4::text[]
        where s.group_id = $1::uuid and s.lot_id = $2::uuid
       returning s.lot_id
     )
     insert into lot_change (group_id, lot_id, change_id, kind, detail, actor_id, recorded_at)
     select $1::uuid, g.lot_id, $5::uuid, 'allergens-added',
            jsonb_build_object('allergens', $3::text[], 'mayContain', $4::text[], 'reason', $6::text), $7::uuid,
            to_timestamp($8::float8 / 1000)
       from grown g`,
    [
      tx.groupId,
      change.lotId,
      change.allergens,
      change.mayContain,
      change.changeId,
      change.reason,
      change.actorId,
      nowMs,
    ],
  );
}

export interface UnderstatedRow {
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
  readonly labelLeavesOut: readonly string[];
  readonly siteId: string;
  readonly siteName: string;
  readonly onHand: number;
  readonly onTheWay: number;
  readonly served: number;
}

/**
 * The lot and all that was made from it, where any of it stands, is going or was served, if it was born declaring less than it
 * holds by now. What is on the road counts for the site that it is going to.
 */
export async function listUnderstated(tx: Tx, lotId: string): Promise<UnderstatedRow[]> {
  return tx.query<UnderstatedRow>(
    `with recursive reach (lot_id) as (
       select $2::uuid
       union
       select le.child_lot_id from reach r join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = r.lot_id
     ), short as materialized (
       select l.lot_id, l.code, i.name,
              array(select a.code from unnest(s.allergens) as a(code) where a.code <> all (l.allergens)) as left_out
         from reach r
         join lot l on l.group_id = $1::uuid and l.lot_id = r.lot_id
         join lot_state s on s.group_id = $1::uuid and s.lot_id = r.lot_id
         join item i on i.group_id = l.group_id and i.item_id = l.item_id
     ), standing as (
       select b.lot_id, coalesce(a.to_site_id, a.site_id) as site_id,
              coalesce(sum(b.quantity) filter (where a.kind = 'place'), 0)::int8 as on_hand,
              coalesce(sum(b.quantity) filter (where a.kind = 'transit'), 0)::int8 as on_the_way,
              coalesce(sum(b.quantity) filter (where a.kind = 'served'), 0)::int8 as served
         from short sh
         join balance b on b.group_id = $1::uuid and b.lot_id = sh.lot_id
         join account a on a.group_id = b.group_id and a.account_id = b.account_id
        where cardinality(sh.left_out) > 0 and b.quantity > 0 and a.kind in ('place', 'transit', 'served')
        group by 1, 2
     )
     select sh.lot_id as "lotId", sh.code as "lotCode", sh.name as "itemName", sh.left_out as "labelLeavesOut",
            st.site_id as "siteId", si.name as "siteName", st.on_hand as "onHand", st.on_the_way as "onTheWay", st.served
       from standing st
       join short sh on sh.lot_id = st.lot_id
       join site si on si.group_id = $1::uuid and si.site_id = st.site_id
      order by st.on_hand + st.on_the_way = 0, si.name, sh.code, sh.lot_id`,
    [tx.groupId, lotId],
  );
}

/** How many lots hold what the lot holds: itself and all that was made from it. */
export async function countReached(tx: Tx, lotId: string): Promise<number> {
  const rows = await tx.query<{ lots: number }>(
    `with recursive reach (lot_id) as (
       select $2::uuid
       union
       select le.child_lot_id from reach r join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = r.lot_id
     )
     select count(*) as lots from reach`,
    [tx.groupId, lotId],
  );
  return rows[0]?.lots ?? 1;
}
