/** Starting points that name an item: all of a period, or what holds an allergen that its label did not say. */
import type { Tx } from '../../../platform/db/db.ts';

type Said = Readonly<Record<string, unknown>>;

export async function lotsOfItemPeriod(tx: Tx, said: Said): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select l.lot_id as "lotId" from lot l
      where l.group_id = $1::uuid and l.item_id = $2::uuid and l.born_at >= $3::timestamptz and l.born_at < $4::timestamptz`,
    [tx.groupId, said.itemId, said.from, said.to],
  );
  return rows.map((row) => row.lotId);
}

/** Lots whose allergens in force have it and whose label, printed at birth, had not. */
export async function lotsOfAllergen(tx: Tx, said: Said): Promise<string[]> {
  if (typeof said.itemId === 'string') return lotsOfItemPeriod(tx, said);
  const rows = await tx.query<{ lotId: string }>(
    `select l.lot_id as "lotId"
       from lot l
       join lot_state s on s.group_id = l.group_id and s.lot_id = l.lot_id
      where l.group_id = $1::uuid and l.born_at >= $3::timestamptz and l.born_at < $4::timestamptz
        and $2::text = any(s.allergens) and $2::text <> all(l.allergens)`,
    [tx.groupId, said.allergen, said.from, said.to],
  );
  return rows.map((row) => row.lotId);
}
