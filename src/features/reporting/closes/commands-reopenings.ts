/** Reopening a month by two people. Refusals: `forbidden`, `not-found`, `wrong-state`, `two-people-needed`. */
import { notFound, Refused } from '../../../domain/errors.ts';
import { requireReopenable } from '../../../domain/month-close.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { getCutNow, takeMoneyNo } from '../../ledger/index.ts';
import { requireWholeGroup } from '../whole-group.ts';
import { reopeningAnswer } from './answer.ts';
import type { createMonthReopening, createReopeningConfirmation } from './contract-reopenings.ts';
import * as store from './store.ts';

async function newestClose(tx: Tx): Promise<store.ActiveClose | null> {
  return (await store.listActiveCloses(tx, await getCutNow(tx))).at(-1) ?? null;
}

async function replyOf(tx: Tx, reopeningId: string): Promise<Reply> {
  const row = await store.findReopening(tx, reopeningId);
  if (!row) throw new Error('the reopening is not there');
  const headers = { Location: `/v1/month-closes/${row.closeId}` };
  return { status: 201, body: reopeningAnswer(row), siteId: null, headers };
}

export async function askForReopening(context: Context<typeof createMonthReopening>): Promise<Reply> {
  const { tx, scope, params, body, factId, actor, nowMs } = context;
  requireWholeGroup(scope);
  const close = await store.findClose(tx, params.closeId);
  if (!close) throw notFound('close');
  const { closeId, month } = close;
  requireReopenable({ closeId, month, newest: await newestClose(tx) });
  // From here on only success.
  const asked = { reopeningId: factId, closeId, reason: body.reason, askedBy: actor.actorId };
  await store.insertReopening(tx, asked, nowMs);
  return replyOf(tx, factId);
}

export async function confirmReopening(context: Context<typeof createReopeningConfirmation>): Promise<Reply> {
  const { tx, scope, params, factId, actor, nowMs } = context;
  requireWholeGroup(scope);
  const asked = await store.findReopening(tx, params.reopeningId);
  if (!asked) throw notFound('reopening');
  if (asked.confirmedBy !== null) throw new Refused('wrong-state', 'It is confirmed already.');
  const { closeId, month, askedBy, reopeningId } = asked;
  const people = { askedBy, confirmedBy: actor.actorId };
  requireReopenable({ closeId, month, newest: await newestClose(tx), people });
  // From here on only success.
  const fact = { kind: 'month-reopening', subjectId: closeId, factId, actorId: actor.actorId } as const;
  const moneyNo = await takeMoneyNo(tx, fact, nowMs);
  await store.confirmReopening(tx, reopeningId, { by: actor.actorId, moneyNo }, nowMs);
  return replyOf(tx, reopeningId);
}
