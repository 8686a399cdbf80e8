/** Cases that are open. Refusal: `wrong-state`. */
import { Refused } from '../../domain/errors.ts';
import type { Tx } from '../../platform/db/db.ts';
import type { RecallRow } from './queries.ts';

export interface OpenCase {
  readonly recallId: string;
  readonly holdId: string;
  readonly openedSeq: number;
  readonly openedBy: string;
}

/** Drills among them; oldest first. */
export async function listOpenCases(tx: Tx): Promise<OpenCase[]> {
  return tx.query<OpenCase>(
    `select r.recall_id as "recallId", r.hold_id as "holdId", r.opened_seq as "openedSeq", r.opened_by as "openedBy"
       from recall r
      where r.group_id = $1::uuid
        and (select t.kind from recall_turn t where t.group_id = r.group_id and t.recall_id = r.recall_id
              order by t.turn_no desc limit 1) is distinct from 'closed'
      order by r.opened_at, r.recall_id`,
    [tx.groupId],
  );
}

export function requireOpen(recall: Pick<RecallRow, 'state' | 'code'>): void {
  if (recall.state === 'closed')
    throw new Refused('wrong-state', `Case ${recall.code} is closed. Open it again first, if there is more to say.`);
}
