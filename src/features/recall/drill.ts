/** Drawing the lot of a drill. The draw follows from the fact's id, so that anybody can draw again and find the same lot. */
import type { Tx } from '../../platform/db/db.ts';

export interface DrawnLot {
  readonly lotId: string;
  readonly lotCode: string;
  readonly drawnWith: string;
}

interface DrawnRow {
  readonly lotId: string;
  readonly lotCode: string;
  readonly candidates: number;
}

/**
 * Of the lots that were supplied or produced since then and have children or stock: the one whose SHA-256 over seed and id is the least.
 */
async function findDrawn(tx: Tx, seed: string, fromMs: number, toMs: number): Promise<DrawnRow | null> {
  const rows = await tx.query<DrawnRow>(
    `select l.lot_id as "lotId", l.code as "lotCode", count(*) over ()::int as candidates
       from lot l
      where l.group_id = $1::uuid and l.origin in ('supplied', 'produced')
        and l.born_at >= to_timestamp($3::float8 / 1000) and l.born_at <= to_timestamp($4::float8 / 1000)
        and (exists (select from lot_edge le where le.group_id = $1::uuid and le.parent_lot_id = l.lot_id)
          or exists (select from balance b where b.group_id = $1::uuid and b.lot_id = l.lot_id and b.sign = 1 and b.quantity > 0))
      order by sha256(convert_to($2::text || l.lot_id::text, 'UTF8'))
      limit 1`,
    [tx.groupId, seed, fromMs, toMs],
  );
  return rows[0] ?? null;
}

export async function drawLot(tx: Tx, seed: string, fromMs: number, toMs: number): Promise<DrawnLot | null> {
  const row = await findDrawn(tx, seed, fromMs, toMs);
  if (!row) return null;
  const period = `${new Date(fromMs).toISOString()} to ${new Date(toMs).toISOString()}`;
  const drawnWith = `least SHA-256 of ${seed} and the lot's id, among ${row.candidates} lots born ${period}`;
  return { lotId: row.lotId, lotCode: row.lotCode, drawnWith };
}
