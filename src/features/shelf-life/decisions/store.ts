/** SQL on shelf_life_decision. */
import type { Tx } from '../../../platform/db/db.ts';

const ms = (column: string): string => `(extract(epoch from ${column}) * 1000)::int8`;

export interface DecisionRow {
  readonly decisionId: string;
  readonly lotId: string;
  readonly accountId: string;
  readonly kind: 'accept-computed' | 'lift-hold';
  readonly effectiveAtMs: number | null;
  readonly holdId: string | null;
  readonly limitCode: string | null;
  readonly limitEndsAtMs: number | null;
  readonly reason: string;
  readonly decidedAtMs: number;
  readonly decidedBy: string;
  readonly deputyId: string | null;
}

export async function insertDecision(tx: Tx, row: DecisionRow): Promise<void> {
  await tx.query(
    `insert into shelf_life_decision (group_id, decision_id, lot_id, account_id, kind, effective_at, hold_id, limit_code, limit_ends_at,
            reason, decided_at, decided_by, deputy_id)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::text, to_timestamp($6::float8 / 1000), $7::uuid, $8::text,
             to_timestamp($9::float8 / 1000), $10::text, to_timestamp($11::float8 / 1000), $12::uuid, $13::uuid)`,
    [
      tx.groupId,
      row.decisionId,
      row.lotId,
      row.accountId,
      row.kind,
      row.effectiveAtMs,
      row.holdId,
      row.limitCode,
      row.limitEndsAtMs,
      row.reason,
      row.decidedAtMs,
      row.decidedBy,
      row.deputyId,
    ],
  );
}

/** The latest first. */
export async function listDecisions(tx: Tx, lotId: string): Promise<DecisionRow[]> {
  return tx.query<DecisionRow>(
    `select d.decision_id as "decisionId", d.lot_id as "lotId", d.account_id as "accountId", d.kind,
            ${ms('d.effective_at')} as "effectiveAtMs", d.hold_id as "holdId", d.limit_code as "limitCode",
            ${ms('d.limit_ends_at')} as "limitEndsAtMs", d.reason, ${ms('d.decided_at')} as "decidedAtMs", d.decided_by as "decidedBy",
            d.deputy_id as "deputyId"
       from shelf_life_decision d
      where d.group_id = $1::uuid and d.lot_id = $2::uuid
      order by d.decided_at desc, d.decision_id limit 200`,
    [tx.groupId, lotId],
  );
}
