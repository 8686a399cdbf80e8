/**
 * Entering a paper night: every line through the command of its own operation, one after the other in one transaction. A
 * command refuses before it writes, so a refused line leaves nothing behind. Refusals: `atomic-refused`, `rule-broken` (two
 * lines with one id), `code-taken` (a code of the call is another's: nothing is recorded); per line those of its operation.
 */
import { Refused } from '../../../domain/errors.ts';
import { carryOut } from '../../../platform/http/carry-out.ts';
import type { BoundOperation, Context, Reply } from '../../../platform/http/contract.ts';
import { problemOf } from '../../../platform/http/problem.ts';
import { paperOperations, type createPaperEntries, type PaperLine } from './contract.ts';

type Night = Context<typeof createPaperEntries>;

interface Result {
  readonly status: 'recorded' | 'refused';
  readonly replayed: boolean;
  readonly answer: unknown;
  readonly refused: Refused | null;
}

export async function enterPaper(context: Night): Promise<Reply> {
  const { body, requestId } = context;
  const lines = body.lines as unknown as readonly PaperLine[];
  const ids = lines.flatMap((line) => line.body.id ?? []);
  if (new Set(ids).size < ids.length) throw new Refused('rule-broken', 'Two lines of this call have the same id.');
  const results: Result[] = [];
  for (const line of lines) {
    const bound = paperOperations.get(line.operation) as BoundOperation;
    try {
      const done = await carryOut(context, bound, line);
      results.push({ status: 'recorded', ...done, refused: null });
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      results.push({ status: 'refused', replayed: false, answer: null, refused: error });
    }
  }
  const shown = results.map(({ refused, ...result }, index) => ({
    index,
    id: lines[index]?.body.id ?? null,
    operation: lines[index]?.operation ?? '',
    ...result,
    problem: refused === null ? null : problemOf(refused, requestId),
  }));
  const refused = shown.filter((result) => result.status === 'refused');
  if (context.body.atomic === true && refused.length > 0) {
    const detail = `${refused.length} of ${lines.length} lines were refused.`;
    throw new Refused('atomic-refused', detail, { members: { results: refused.slice(0, 20) } });
  }
  return { status: 207, body: { recorded: shown.length - refused.length, refused: refused.length, results: shown } };
}
