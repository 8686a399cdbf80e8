/** SQL of refusals at the door. */
import type { Tx } from '../../platform/db/db.ts';

export interface NewRefusalRow {
  readonly refusalId: string;
  readonly dispatchId: string;
  readonly returnDispatchId: string;
  readonly reason: string;
  readonly occurredAtMs: number;
  readonly recordedBy: string;
}

export async function insertRefusal(tx: Tx, row: NewRefusalRow, nowMs: number): Promise<void> {
  await tx.query(
    `insert into refusal (group_id, refusal_id, dispatch_id, return_dispatch_id, reason, occurred_at, recorded_at, recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::text, to_timestamp($6::float8 / 1000),
            to_timestamp($7::float8 / 1000), $8::uuid)`,
    [
      tx.groupId,
      row.refusalId,
      row.dispatchId,
      row.returnDispatchId,
      row.reason,
      row.occurredAtMs,
      nowMs,
      row.recordedBy,
    ],
  );
}

export interface RefusalRow {
  readonly refusalId: string;
  readonly dispatchId: string;
  readonly returnDispatchId: string;
  readonly returnCode: string;
  readonly reason: string;
  readonly occurredAt: Date;
}

/** Refusals of these dispatches that stand: the leg back of one that was undone has not departed. */
export async function listRefusals(tx: Tx, dispatchIds: readonly string[]): Promise<RefusalRow[]> {
  return tx.query<RefusalRow>(
    `select r.refusal_id as "refusalId", r.dispatch_id as "dispatchId", r.return_dispatch_id as "returnDispatchId",
            d.code as "returnCode", r.reason, r.occurred_at as "occurredAt"
       from refusal r
       join dispatch d on d.group_id = r.group_id and d.dispatch_id = r.return_dispatch_id and d.state <> 'planned'
      where r.group_id = $1::uuid and r.dispatch_id = any($2::uuid[])
      order by r.dispatch_id, r.occurred_at, r.refusal_id`,
    [tx.groupId, dispatchIds],
  );
}
