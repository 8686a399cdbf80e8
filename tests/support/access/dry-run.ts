/**
 * A database that takes back what was done and counts how much was asked: every request runs to its end, to its last deferred
 * constraint, and then leaves nothing. So that thousands of requests, allowed ones too, can be made against one copy.
 */
import type { Db } from '../../../src/platform/db/db.ts';

export interface DryRun {
  readonly around: (db: Db) => Db;
  /** statements of the last transaction, those of its opening included; 0 when there was none since it was last asked */
  takeStatements(): number;
  /** while it is off, transactions commit as ever */
  set(on: boolean): void;
}

class TakenBack extends Error {
  readonly answer: unknown;
  constructor(answer: unknown) {
    super('taken back');
    this.answer = answer;
  }
}

export function dryRun(): DryRun {
  let on = false;
  let statements = 0;
  return {
    set: (wanted) => void (on = wanted),
    takeStatements() {
      const seen = statements;
      statements = 0;
      return seen;
    },
    around: (db) => ({
      ...db,
      async inGroup(groupId, mode, fn) {
        try {
          return await db.inGroup(groupId, mode, async (tx) => {
            let answer;
            try {
              answer = await fn(tx);
            } finally {
              statements = tx.statements();
            }
            if (!on) return answer;
            await tx.query('set constraints all immediate');
            throw new TakenBack(answer);
          });
        } catch (error) {
          if (error instanceof TakenBack) return error.answer as Awaited<ReturnType<typeof fn>>;
          throw error;
        }
      },
    }),
  };
}
