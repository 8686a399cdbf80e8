/** SQL on closing and reopening. */
import type { Tx } from '../../../platform/db/db.ts';

export async function isHoldOpen(tx: Tx, holdId: string): Promise<boolean> {
  const rows = await tx.query<{ open: boolean }>(
    `select h.lifted_at is null as open from hold h where h.group_id = $1::uuid and h.hold_id = $2::uuid`,
    [tx.groupId, holdId],
  );
  return rows[0]?.open ?? false;
}

/** Two at once meet at the primary key: the second starts again and finds what the first has done. */
export async function nextTurnNo(tx: Tx, recallId: string): Promise<number> {
  const rows = await tx.query<{ next: number }>(
    `select coalesce(max(t.turn_no), 0) + 1 as next from recall_turn t
      where t.group_id = $1::uuid and t.recall_id = $2::uuid`,
    [tx.groupId, recallId],
  );
  return rows[0]?.next ?? 1;
}

export interface TurnDraft {
  readonly recallId: string;
  readonly turnNo: number;
  readonly turnId: string;
  readonly kind: 'closed' | 'reopened';
  readonly turnedBy: string;
  readonly deputyId: string | null;
  readonly note: string;
  readonly figures: object;
}

export async function insertTurn(tx: Tx, turn: TurnDraft, nowMs: number): Promise<void> {
  await tx.query(
    `insert into recall_turn (group_id, recall_id, turn_no, turn_id, kind, turned_at, turned_by, turned_deputy_id, note, figures)
     values ($1::uuid, $2::uuid, $3::int, $4::uuid, $5::text, to_timestamp($6::float8 / 1000), $7::uuid, $8::uuid, $9::text, $10::jsonb)`,
    [
      tx.groupId,
      turn.recallId,
      turn.turnNo,
      turn.turnId,
      turn.kind,
      nowMs,
      turn.turnedBy,
      turn.deputyId,
      turn.note,
      JSON.stringify(turn.figures),
    ],
  );
}
