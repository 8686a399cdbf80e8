/** Whose turn it is to make a file: any number of processes may run the same job beside each other. */
import type { Tx } from '../../platform/db/db.ts';

/** True for whoever asks first; until the end of that transaction nobody else makes files of that owner. */
export async function takeTurn(tx: Tx, ownerId: string): Promise<boolean> {
  const rows = await tx.query<{ mine: boolean }>(
    `select pg_try_advisory_xact_lock(hashtextextended('report-files:' || $1::text || $2::text, 0)) as mine`,
    [tx.groupId, ownerId],
  );
  return rows[0]?.mine === true;
}
