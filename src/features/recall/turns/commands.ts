/** Closing and reopening. Refusals: `not-found`, `rule-broken`, `wrong-state`, `quantities-open`. */
import { Refused } from '../../../domain/errors.ts';
import type { Account } from '../../../domain/recall/account.ts';
import { deputyOf } from '../../../platform/auth/actor.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { outbox } from '../../../platform/jobs.ts';
import { openLinesOf } from '../account/answer.ts';
import { loadAccount } from '../account/load.ts';
import { findLotNames, findSiteNames, listTold, type ToldRow } from '../account/queries.ts';
import { getVisibleRecall } from '../answer.ts';
import { liftHolds } from '../../ledger/index.ts';
import { requireOpen } from '../open-cases.ts';
import { requireEverySite } from '../preview.ts';
import type { RecallRow } from '../queries.ts';
import { checksOf } from '../checks/store.ts';
import type * as contract from './contract.ts';
import { insertTurn, isHoldOpen, nextTurnNo } from './store.ts';

/** Shown of what is open; the account has the rest. */
const SHOWN = 20;

type Turning = Context<typeof contract.closeRecall> | Context<typeof contract.reopenRecall>;

async function refuseOpen({ tx }: Turning, account: Account, silent: readonly ToldRow[]): Promise<void> {
  const open = openLinesOf(account);
  if (open.length === 0 && silent.length === 0) return;
  const shown = open.slice(0, SHOWN);
  const lots = await findLotNames(
    tx,
    shown.map((line) => line.lotId),
  );
  const sites = await findSiteNames(
    tx,
    shown.map((line) => line.siteId),
  );
  const openLines = shown.map(({ lotId, siteId, unit, open: quantity }) => ({
    siteId,
    siteName: sites.get(siteId) ?? '',
    lotId,
    lotCode: lots.get(lotId)?.lotCode ?? '',
    itemName: lots.get(lotId)?.itemName ?? '',
    open: quantity,
    unit,
  }));
  const unansweredSites = silent.slice(0, SHOWN).map(({ siteId, siteName }) => ({ siteId, siteName }));
  const detail =
    `${open.length} ${open.length === 1 ? 'line is' : 'lines are'} open` +
    (silent.length > 0
      ? `; ${silent
          .map((row) => row.siteName)
          .slice(0, 5)
          .join(', ')} had some and said nothing.`
      : '.');
  const members = { openLineCount: open.length, openLines, unansweredSites };
  throw new Refused('quantities-open', detail, { members });
}

async function turn(context: Turning, found: RecallRow, kind: 'closed' | 'reopened', account: Account): Promise<Reply> {
  const { tx, body, factId, actor, nowMs } = context;
  const { recallId, code } = found;
  const told = await listTold(tx, recallId);
  const checks = await checksOf(tx, recallId, told.length);
  const state = kind === 'closed' ? 'closed' : 'open';
  const { figures } = account;
  const stored = {
    ...figures,
    sites: told.length,
    lotCount: account.byUnit.reduce((sum, one) => sum + one.lotCount, 0),
    checks,
  };
  const deputyId = deputyOf(actor, 'recalls.close', null);
  const turnNo = await nextTurnNo(tx, recallId);
  const draft = { recallId, turnNo, turnId: factId, kind, note: body.note, figures: stored };
  await insertTurn(tx, { ...draft, turnedBy: actor.actorId, deputyId }, nowMs);
  await outbox(tx, `recall-${kind}`, { recallId, turnId: factId }, nowMs);
  const turnedAt = new Date(nowMs).toISOString();
  const answer = {
    turnId: factId,
    recallId,
    code,
    state,
    turnNo,
    turnedAt,
    note: body.note,
    figures,
    checks,
  };
  return { status: 201, body: answer };
}

/** The gate is held exclusively: nothing arrives and nobody answers between the count and the closing. */
export async function close(context: Context<typeof contract.closeRecall>): Promise<Reply> {
  requireEverySite(context.scope);
  const found = await getVisibleRecall(context.tx, context.scope, context.params.recallId);
  requireOpen(found);
  const account = await loadAccount(context.tx, found);
  const told = await listTold(context.tx, found.recallId);
  await refuseOpen(
    context,
    account,
    told.filter((row) => row.awaitsAnswer && !row.everAnswered),
  );
  // From here on only success.
  // The hold of a drill bound nothing; lifted, it follows the food no further either.
  if (found.drill || context.body.liftHold === true) {
    const { tx, actor, nowMs, body } = context;
    const note = `${found.code} closed: ${body.note}`;
    await liftHolds(tx, [found.holdId], actor.actorId, note, nowMs, deputyOf(actor, 'recalls.close', null));
  }
  return turn(context, found, 'closed', account);
}

export async function reopen(context: Context<typeof contract.reopenRecall>): Promise<Reply> {
  requireEverySite(context.scope);
  const found = await getVisibleRecall(context.tx, context.scope, context.params.recallId);
  if (found.state === 'open') throw new Refused('wrong-state', `Case ${found.code} is open.`);
  // A case that looks open and freezes nothing would be worse than none.
  if (!found.drill && !(await isHoldOpen(context.tx, found.holdId)))
    throw new Refused(
      'wrong-state',
      `The hold of case ${found.code} was lifted. Open a new case: it freezes the food again.`,
    );
  const account = await loadAccount(context.tx, found);
  // From here on only success.
  return turn(context, found, 'reopened', account);
}
