/** Checks that a failed calibration of their probe puts in doubt. */
import type { Tx } from '../../../platform/db/db.ts';
import { stands } from './stands.ts';

/**
 * Of the check `k`: there is a failed calibration of its probe, with no good one by the same method or a laboratory between it and the
 * check, on whichever side.
 */
export const DOUBTED = `exists (
  select from probe_calibration f
   where f.group_id = k.group_id and f.equipment_id = k.instrument_id and f.result = 'failed' and ${stands('f')}
     and not exists (
       select from probe_calibration g
        where g.group_id = f.group_id and g.equipment_id = f.equipment_id and g.result = 'passed' and ${stands('g')}
          and g.method in (f.method, 'laboratory')
          and ((g.occurred_at >= k.occurred_at and g.occurred_at < f.occurred_at)
            or (g.occurred_at <= k.occurred_at and g.occurred_at > f.occurred_at))))`;

/** Ids of the checks of a batch that are in doubt. */
export async function listDoubtedChecks(tx: Tx, batchId: string): Promise<Set<string>> {
  const rows = await tx.query<{ checkId: string }>(
    `select k.check_id as "checkId" from process_check k
      where k.group_id = $1::uuid and k.batch_id = $2::uuid and k.instrument_id is not null and ${DOUBTED}`,
    [tx.groupId, batchId],
  );
  return new Set(rows.map((row) => row.checkId));
}
