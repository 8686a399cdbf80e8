/** Saying something of a case. Refusals: `not-found`, `rule-broken`, `wrong-state`. */
import { Refused } from '../../../domain/errors.ts';
import { requireLevel } from '../../../domain/recall/checks.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { outbox } from '../../../platform/jobs.ts';
import { getVisibleRecall } from '../answer.ts';
import { requireOpen } from '../open-cases.ts';
import { requireEverySite } from '../preview.ts';
import { insertStatement } from '../store.ts';
import { sendDueNotices } from '../notices/due.ts';
import type { makeRecallStatement } from './contract.ts';
import { inForceOf, listStatements } from './store.ts';

export async function makeStatement(context: Context<typeof makeRecallStatement>): Promise<Reply> {
  const { tx, scope, params, body, factId, actor, nowMs } = context;
  requireEverySite(scope);
  const found = await getVisibleRecall(tx, scope, params.recallId);
  requireOpen(found);
  const { id: _id, tellSites, ...said } = body;
  const { note: _note, ...fields } = said;
  if (Object.keys(fields).length === 0) throw new Refused('rule-broken', 'It says nothing: give at least one field.');
  requireLevel(fields.checkLevel, fields.checkPercent);
  const before = await listStatements(tx, found.recallId);
  // From here on only success.
  await insertStatement(tx, found.recallId, { statementId: factId, said, actorId: actor.actorId, atMs: nowMs });
  await outbox(tx, 'recall-statement', { recallId: found.recallId, statementId: factId }, nowMs);
  if (tellSites === true) await sendDueNotices(tx, found.recallId, actor.actorId, nowMs, { again: true });
  const inForce = inForceOf([...before, { said }]);
  const saidAt = new Date(nowMs).toISOString();
  return { status: 201, body: { statementId: factId, recallId: found.recallId, saidAt, said, inForce } };
}
