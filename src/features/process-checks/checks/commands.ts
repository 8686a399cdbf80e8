/**
 * Corrections and corrective actions. Refusals: `not-found`, `already-corrected`, `wrong-state`, `forbidden`, `time-in-future`, `rule-broken` and those of
 * taking a check.
 */
import { notFound, Refused } from '../../../domain/errors.ts';
import { fromInstant } from '../../../domain/time.ts';
import { scopeOf } from '../../../platform/auth/actor.ts';
import { outbox } from '../../../platform/jobs.ts';
import { findSites } from '../../catalogue/index.ts';
import { requirePast, settleOpen } from '../../ledger/index.ts';
import { hasPassedSince } from './queries-more.ts';
import { findCheck, type CheckRow } from './queries.ts';
import type { CheckBody, Checking, TakenCheck } from './shapes.ts';
import { insertAction } from './store.ts';
import { takeCheck } from './take.ts';

/** The check, if the actor may act at its site and nothing stands in its place yet. */
async function getStanding({ tx, scope }: Checking, checkId: string): Promise<CheckRow> {
  const row = await findCheck(tx, checkId);
  if (!row || !scope.includes(row.siteId)) throw notFound('check');
  if (row.supersededByCheckId !== null) {
    throw new Refused('already-corrected', `Check ${row.supersededByCheckId} stands in its place.`, {
      members: { supersededByCheckId: row.supersededByCheckId },
    });
  }
  return row;
}

/** A whole check in place of another one, at the same site. Under the exclusive gate, so that a check is corrected once. */
export async function correctCheck(
  context: Checking,
  checkId: string,
  correctedCheckId: string,
  body: CheckBody & { readonly reason: string },
): Promise<TakenCheck> {
  const row = await getStanding(context, correctedCheckId);
  const site = (await findSites(context.tx, [body.siteId])).get(body.siteId);
  if (!site || !context.scope.includes(site.siteId)) throw notFound('site');
  if (row.siteId !== site.siteId) {
    const detail = 'A correction belongs to the site of the check that it corrects.';
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/siteId' }] });
  }
  return takeCheck(context, checkId, body, { correction: { row, reason: body.reason } });
}

export interface ActionBody {
  readonly action: string;
  readonly closes?: boolean | undefined;
  readonly occurredAt?: string | undefined;
}

/** What was done about a failed check; what came of the check is not decided anew. */
export async function takeAction(
  context: Checking,
  checkId: string,
  actionId: string,
  body: ActionBody,
): Promise<TakenCheck> {
  const { tx, actor, nowMs } = context;
  const row = await getStanding(context, checkId);
  const occurredAtMs = body.occurredAt === undefined ? nowMs : fromInstant(body.occurredAt);
  requirePast(occurredAtMs, nowMs);
  if (row.result === 'passed') throw new Refused('wrong-state', 'The check passed: there is nothing to put right.');
  if (row.closed) throw new Refused('wrong-state', 'The matter is closed already.');
  const closes = body.closes ?? false;
  if (closes) await requireMayClose(context, row);
  const { siteId, batchId, lotId, packingRunId, result } = row;
  // From here on only success.
  const action = { actionId, checkId, action: body.action, closes, occurredAtMs, recordedBy: actor.actorId };
  await insertAction(tx, action, nowMs);
  if (closes) {
    await settleOpen(tx, { kind: 'check-failed', subject: checkId }, actor.actorId, body.action, nowMs);
    await outbox(tx, 'deviation-closed', { checkId, siteId, batchId }, nowMs);
  }
  return { checkId, siteId, batchId, lotId, packingRunId, result, held: [], findings: [], remarks: [] };
}

/** Food that was cooked on and measured again is in order; anything else is for the quality lead to judge. */
async function requireMayClose({ tx, actor }: Checking, row: CheckRow): Promise<void> {
  if (scopeOf(actor, 'release.write')?.includes(row.siteId)) return;
  if (row.limits.repeatable === true && (await hasPassedSince(tx, row))) return;
  throw new Refused(
    'forbidden',
    'A quality lead closes this: the check was not repeated and passed, or it is of a kind that cannot be repeated.',
  );
}
