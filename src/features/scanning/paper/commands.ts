/**
 * Entering a paper night: every line through the command of its own operation, one after the other in one transaction. A
 * command refuses before it writes, so a refused line leaves nothing behind. Refusals: `atomic-refused`, `rule-broken` (two
 * lines with one id), `code-taken` (a code of the call is another's: nothing is recorded); per line those of its operation.
 */
import { Refused } from '../../../domain/errors.ts';
import { scopeOf } from '../../../platform/auth/actor.ts';
import { checkReply } from '../../../platform/http/answers.ts';
import type { BoundOperation, Context, Reply } from '../../../platform/http/contract.ts';
import {
  contentHashOf,
  contentOf,
  findFacts,
  insertFacts,
  isReplay,
  signatureOf,
} from '../../../platform/http/facts.ts';
import { problemOf } from '../../../platform/http/problem.ts';
import { paperOperations, type createPaperEntries, type PaperLine } from './contract.ts';

type Night = Context<typeof createPaperEntries>;

interface Result {
  readonly status: 'recorded' | 'refused';
  readonly replayed: boolean;
  readonly answer: unknown;
  readonly refused: Refused | null;
}

async function carryOut(context: Night, line: PaperLine, { operation, handle }: BoundOperation): Promise<Result> {
  const { tx, actor, nowMs } = context;
  const factId = line.body.id;
  if (factId === undefined) throw new Refused('fact-id-missing', 'The line has no id in its body.');
  const scope = scopeOf(actor, operation.permission);
  if (!scope) throw new Refused('forbidden', `None of your roles has the permission ${operation.permission}.`);
  const content = contentOf(line.body, line.params ?? {}, operation.secretFields ?? []);
  const contentHash = contentHashOf(content);
  const stored = (await findFacts(tx, [factId])).get(factId);
  if (stored) {
    isReplay(stored, operation.id, content, contentHash);
    if (stored.siteId !== null && !scope.includes(stored.siteId))
      throw new Refused('not-found', 'No fact with that id is known here.');
    return { status: 'recorded', replayed: true, answer: stored.answer, refused: null };
  }
  const named = { factId, contentHash, tx: { ...tx, factId } };
  const own = { ...context, ...named, scope, params: line.params, query: undefined, body: line.body };
  const reply: Reply = await handle(own);
  checkReply(operation, reply);
  const siteId = reply.siteId ?? null;
  const fact = {
    factId,
    operation: operation.id,
    content,
    contentHash,
    siteId,
    status: reply.status,
    answer: reply.body ?? null,
    location: reply.headers?.Location ?? null,
    ...signatureOf(actor, operation.permission, siteId),
  };
  await insertFacts(tx, [fact], nowMs);
  return { status: 'recorded', replayed: false, answer: reply.body ?? null, refused: null };
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
      results.push(await carryOut(context, line, bound));
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
