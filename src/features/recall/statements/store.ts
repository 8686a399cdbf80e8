/** SQL on what is said of a case. */
import type { Tx } from '../../../platform/db/db.ts';
import type { InForce } from './contract.ts';

const FIELDS = [
  'class',
  'depth',
  'action',
  'reason',
  'text',
  'checkLevel',
  'checkPercent',
  'leadName',
  'contact',
] as const satisfies readonly (keyof InForce)[];

export interface StatementRow {
  readonly statementId: string;
  readonly said: Readonly<Record<string, unknown>>;
  readonly saidAt: Date;
  readonly saidBy: string;
}

/** Oldest first. */
export async function listStatements(tx: Tx, recallId: string): Promise<StatementRow[]> {
  return tx.query<StatementRow>(
    `select s.statement_id as "statementId", s.said, s.said_at as "saidAt", s.said_by as "saidBy"
       from recall_statement s
      where s.group_id = $1::uuid and s.recall_id = $2::uuid
      order by s.statement_no`,
    [tx.groupId, recallId],
  );
}

/** The newest of each field. */
export function inForceOf(rows: readonly Pick<StatementRow, 'said'>[]): InForce {
  const newest = Object.assign({}, ...rows.map((row) => row.said)) as Record<string, unknown>;
  // another level has no share of its own
  const level = rows.findLast((row) => 'checkLevel' in row.said);
  if (level && !('checkPercent' in level.said)) delete newest.checkPercent;
  return Object.fromEntries(FIELDS.map((name) => [name, newest[name] ?? null])) as InForce;
}

export async function insertStatement(
  tx: Tx,
  statement: { statementId: string; recallId: string; said: object; saidBy: string },
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into recall_statement (group_id, statement_id, recall_id, said, said_at, said_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::jsonb, to_timestamp($5::float8 / 1000), $6::uuid)`,
    [tx.groupId, statement.statementId, statement.recallId, JSON.stringify(statement.said), nowMs, statement.saidBy],
  );
}
