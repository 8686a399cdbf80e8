/** SQL of crates put into crates, of which nothing was told. */
import type { Tx } from '../../../platform/db/db.ts';

export interface PlacementRow {
  readonly placementId: string;
  readonly crateCode: string;
  readonly intoCode: string | null;
  readonly outOfCode: string | null;
  readonly siteId: string;
  readonly occurredAtMs: number;
  readonly recordedAtMs: number;
}

/** What was looked at is remembered, because a placement of crates without SSCC makes no event. */
const UNTOLD = `crate_placement p
 where p.group_id = $1::uuid
   and not exists (select from epcis_placement t
                    where t.group_id = p.group_id and t.crate_placement_id = p.crate_placement_id)`;

/** Each with the crate that it was in until then, by when things happened. */
export async function listPlacements(tx: Tx, limit: number): Promise<PlacementRow[]> {
  return tx.query<PlacementRow>(
    `select u.crate_placement_id as "placementId", c.code as "crateCode", i.code as "intoCode", o.code as "outOfCode",
            u.site_id as "siteId", (extract(epoch from u.occurred_at) * 1000)::int8 as "occurredAtMs",
            (extract(epoch from u.recorded_at) * 1000)::int8 as "recordedAtMs"
       from (select p.* from ${UNTOLD} order by p.recorded_at, p.occurred_at, p.crate_placement_id limit $2::int) u
       join crate c on c.group_id = u.group_id and c.crate_id = u.crate_id
       left join crate i on i.group_id = u.group_id and i.crate_id = u.into_crate_id
       left join lateral (
         select b.into_crate_id from crate_placement b
          where b.group_id = u.group_id and b.crate_id = u.crate_id
            and (b.occurred_at, b.crate_placement_id) < (u.occurred_at, u.crate_placement_id)
          order by b.occurred_at desc, b.crate_placement_id desc limit 1) before on true
       left join crate o on o.group_id = u.group_id and o.crate_id = before.into_crate_id
      order by u.recorded_at, u.occurred_at, u.crate_placement_id`,
    [tx.groupId, limit],
  );
}

export async function hasPlacements(tx: Tx): Promise<boolean> {
  const rows = await tx.query<{ some: boolean }>(`select exists (select from ${UNTOLD}) as some`, [tx.groupId]);
  return rows[0]?.some ?? false;
}

export async function markPlacements(tx: Tx, placementIds: readonly string[]): Promise<void> {
  await tx.query(
    `insert into epcis_placement (group_id, crate_placement_id) select $1::uuid, u.id from unnest($2::uuid[]) as u(id)`,
    [tx.groupId, placementIds],
  );
}
