/** Starting points that name a lot: by id, by what a label says, by a complaint, or as likely taken for another. */
import type { Tx } from '../../../platform/db/db.ts';

/** The lot of a code as scanned: lot code, or lot code/serial. Null when there is none. */
export async function findLotIdByCode(tx: Tx, code: string): Promise<string | null> {
  const rows = await tx.query<{ lotId: string }>(
    `select l.lot_id as "lotId" from lot l where l.group_id = $1::uuid and l.code = split_part($2::text, '/', 1)`,
    [tx.groupId, code],
  );
  return rows[0]?.lotId ?? null;
}

export async function lotsOfId(tx: Tx, lotId: unknown): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select l.lot_id as "lotId" from lot l where l.group_id = $1::uuid and l.lot_id = $2::uuid`,
    [tx.groupId, lotId],
  );
  return rows.map((row) => row.lotId);
}
