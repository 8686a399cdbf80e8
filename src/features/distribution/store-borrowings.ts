/** SQL of borrowings. */
import type { Tx } from '../../platform/db/db.ts';

/**
 * Of each lot the place of a site where most of it is: out of quarantine if any is, of two alike the one with the lower id. Keyed by lot;
 * a lot that is nowhere there is left out.
 */
export async function findFullestPlaces(
  tx: Tx,
  siteId: string,
  lotIds: readonly string[],
): Promise<Map<string, string>> {
  const rows = await tx.query<{ lotId: string; placeId: string }>(
    `select distinct on (b.lot_id) b.lot_id as "lotId", pl.place_id as "placeId"
       from place pl
       join balance b on b.group_id = pl.group_id and b.account_id = pl.place_id and b.lot_id = any($3::uuid[])
      where pl.group_id = $1::uuid and pl.site_id = $2::uuid and b.quantity > 0
      order by b.lot_id, pl.quarantine, b.quantity desc, pl.place_id`,
    [tx.groupId, siteId, lotIds],
  );
  return new Map(rows.map((row) => [row.lotId, row.placeId]));
}
