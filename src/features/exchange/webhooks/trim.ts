/** SQL: what has ended goes after a while, with its attempts. */
import type { Tx } from '../../../platform/db/db.ts';

export async function trimDeliveries(tx: Tx, beforeMs: number): Promise<void> {
  await tx.query(
    `delete from webhook_delivery d where d.group_id = $1::uuid and d.ended_at < to_timestamp($2::float8 / 1000)`,
    [tx.groupId, beforeMs],
  );
}
