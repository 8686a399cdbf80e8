/** SQL on closing and reopening. */
import type { Tx } from '../../../platform/db/db.ts';

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
