/** SQL on what is said of a case. */
import type { Tx } from '../../../platform/db/db.ts';
import type { z } from 'zod';
import type { StatementInForce } from '../contract-cases.ts';

export type InForce = z.output<typeof StatementInForce>;

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

/** The newest of each field; what was never said is missing. */
export function inForceOf(rows: readonly Pick<StatementRow, 'said'>[]): InForce {
  const { note: _note, ...newest } = Object.assign({}, ...rows.map((row) => row.said)) as Record<string, unknown>;
  // another level has no share of its own
  const level = rows.findLast((row) => 'checkLevel' in row.said);
  if (level && !('checkPercent' in level.said)) delete newest['checkPercent'];
  return newest;
}

export async function readInForce(tx: Tx, recallId: string): Promise<InForce> {
  return inForceOf(await listStatements(tx, recallId));
}
