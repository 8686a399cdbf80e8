/**
 * Carrying out another operation inside one call: its own command, at the permission that it asks for by itself, with a fact of its
 * own, stored as if it had been sent alone. So there is no second way to record anything, and what was sent alone before is a
 * replay. A command refuses before it writes; whether one refusal refuses the whole call is the caller's to say.
 *
 * Refusals: `fact-id-missing`, `forbidden`, `id-used-with-other-content`, `not-found`, and those of the operation.
 */
import { Refused } from '../../domain/errors.ts';
import { scopeOf } from '../auth/actor.ts';
import { checkReply } from './answers.ts';
import type { BoundOperation, Context, Operation, Reply } from './contract.ts';
import { contentHashOf, contentOf, findFacts, insertFacts, isReplay, signatureOf } from './facts.ts';

export interface Inner {
  readonly params?: Readonly<Record<string, string>> | undefined;
  /** `id` names the fact */
  readonly body: Readonly<Record<string, unknown>> & { readonly id?: string };
}

export interface CarriedOut {
  /** recorded before; the answer is the first one */
  readonly replayed: boolean;
  readonly answer: unknown;
}

export async function carryOut<O extends Operation>(
  context: Context<O>,
  { operation, handle }: BoundOperation,
  { params, body }: Inner,
): Promise<CarriedOut> {
  const { tx, actor, nowMs } = context;
  const factId = body.id;
  if (factId === undefined) throw new Refused('fact-id-missing', 'The line has no id in its body.');
  const scope = scopeOf(actor, operation.permission);
  if (!scope) throw new Refused('forbidden', `None of your roles has the permission ${operation.permission}.`);
  const content = contentOf(body, params ?? {}, operation.secretFields ?? []);
  const contentHash = contentHashOf(content);
  const stored = (await findFacts(tx, [factId])).get(factId);
  if (stored) {
    isReplay(stored, operation.id, content, contentHash);
    if (stored.siteId !== null && !scope.includes(stored.siteId))
      throw new Refused('not-found', 'No fact with that id is known here.');
    return { replayed: true, answer: stored.answer };
  }
  const own = { ...context, factId, contentHash, tx: { ...tx, factId }, scope, params, query: undefined, body };
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
  return { replayed: false, answer: reply.body ?? null };
}
