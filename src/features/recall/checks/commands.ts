/** Recording an effectiveness check. Refusals: `not-found`, `wrong-state`, `rule-broken`. */
import { notFound } from '../../../domain/errors.ts';
import { fromInstant } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { findSites } from '../../catalogue/index.ts';
import { listTold } from '../account/queries.ts';
import { getVisibleRecall } from '../answer.ts';
import { requireOpen } from '../open-cases.ts';
import { requireEverySite } from '../preview.ts';
import type { recordRecallCheck } from './contract.ts';
import { checksOf, insertCheck } from './store.ts';

export async function recordCheck(context: Context<typeof recordRecallCheck>): Promise<Reply> {
  const { tx, scope, params, body, factId, actor, nowMs } = context;
  requireEverySite(scope);
  const found = await getVisibleRecall(tx, scope, params.recallId);
  requireOpen(found);
  const { siteId, method, effective } = body;
  if (!(await findSites(tx, [siteId])).has(siteId)) throw notFound('site');
  const checkedAtMs = body.checkedAt === undefined ? nowMs : fromInstant(body.checkedAt);
  const said = { checkId: factId, recallId: found.recallId, siteId, method, effective };
  // From here on only success.
  await insertCheck(tx, { ...said, checkedAtMs, recordedBy: actor.actorId, note: body.note ?? null }, nowMs);
  const told = await listTold(tx, found.recallId);
  const checks = await checksOf(tx, found.recallId, told.length);
  return { status: 201, body: { ...said, checkedAt: new Date(checkedAtMs).toISOString(), checks } };
}
