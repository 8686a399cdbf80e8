/**
 * Closing a month, and reading closes. Refusals: `forbidden`, `month-closed`, `month-not-ended`, `month-not-oldest`, `rule-broken`,
 * `checks-open`, `not-found`, `wrong-state` (a file that is not made yet).
 */
import { notFound, Refused } from '../../../domain/errors.ts';
import { monthAfter, requireAccepted, requireClosable } from '../../../domain/month-close.ts';
import { localDate, monthBounds } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { wakeJob } from '../../../platform/jobs.ts';
import { getCutNow, takeMoneyNo } from '../../ledger/index.ts';
import { readPieces } from '../pieces.ts';
import { requireWholeGroup } from '../whole-group.ts';
import { closeAnswers } from './answer.ts';
import { checksOf } from './checks.ts';
import { findFirstFactMonth, listSiteZones } from './checks-queries.ts';
import type {
  createMonthClose,
  getMonthChecks,
  getMonthClose,
  getMonthCloseFile,
  listMonthCloses,
} from './contract.ts';
import type { MonthChecksAnswer } from './shapes.ts';
import { MAKE_MONTH_FILES } from './steps.ts';
import { findPiece, listFiles } from './store-files.ts';
import * as store from './store.ts';

export async function readChecks({ tx, scope, params, nowMs }: Context<typeof getMonthChecks>): Promise<Reply> {
  requireWholeGroup(scope);
  const { month } = params;
  const cut = await getCutNow(tx);
  const active = await store.listActiveCloses(tx, cut);
  const { firstEverClosed } = await store.findHistory(tx, month);
  const zones = await listSiteZones(tx);
  const { to } = monthBounds(month);
  const ended = zones.every(({ timeZone }) => localDate(nowMs, timeZone) >= to);
  const last = active.at(-1) ?? null;
  const isClosed = last !== null && month <= last.month;
  const body: MonthChecksAnswer = {
    month,
    state: isClosed ? 'closed' : ended ? 'open' : 'running',
    closeId: active.find((close) => close.month === month)?.closeId ?? null,
    next: last === null ? firstEverClosed : monthAfter(last.month),
    checks: await checksOf(tx, month, active.findLast((close) => close.month < month) ?? null, cut),
  };
  return { status: 200, body };
}

export async function closeMonth(context: Context<typeof createMonthClose>): Promise<Reply> {
  const { tx, scope, body, factId, nowMs, actor } = context;
  requireWholeGroup(scope);
  const { month } = body;
  const known = await getCutNow(tx);
  const active = await store.listActiveCloses(tx, known);
  const { firstEverClosed, versions, lastCloseId } = await store.findHistory(tx, month);
  const zones = await listSiteZones(tx);
  requireClosable(month, {
    closed: active.map((close) => close.month),
    firstEverClosed,
    firstFactMonth: await findFirstFactMonth(tx),
    today: zones.map(({ siteName, timeZone }) => ({ siteName, date: localDate(nowMs, timeZone) })),
  });
  const checks = await checksOf(tx, month, active.at(-1) ?? null, known);
  const accepted = requireAccepted(checks, body.accept ?? []);
  // From here on only success.
  // Alone at the gate: whoever recorded before has committed and is in the cut, whoever comes after is late.
  await takeMoneyNo(tx, { kind: 'month-close', subjectId: factId, factId, actorId: actor.actorId }, nowMs);
  await store.insertClose(tx, {
    closeId: factId,
    month,
    version: versions + 1,
    cut: await getCutNow(tx),
    closedBy: actor.actorId,
    closedAtMs: nowMs,
    note: body.note ?? null,
    checks,
    accepted,
    previousCloseId: lastCloseId,
  });
  await wakeJob(tx, MAKE_MONTH_FILES);
  const row = await store.findClose(tx, factId);
  if (!row) throw new Error('the close is not there');
  const [answer] = await closeAnswers(tx, [row]);
  return { status: 201, body: answer, siteId: null, headers: { Location: `/v1/month-closes/${factId}` } };
}

export async function readCloses({ tx, scope, query, path }: Context<typeof listMonthCloses>): Promise<Reply> {
  requireWholeGroup(scope);
  const page = pageOf(query, ['int']);
  const closes = await closeAnswers(tx, await store.listCloses(tx, page));
  return pageReply(path, query, page, closes, ({ cut }) => [String(cut.moneyNo)]);
}

export async function readClose({ tx, scope, params }: Context<typeof getMonthClose>): Promise<Reply> {
  requireWholeGroup(scope);
  const row = await store.findClose(tx, params.closeId);
  if (!row) throw notFound('close');
  const [answer] = await closeAnswers(tx, [row]);
  return { status: 200, body: answer };
}

export async function readCloseFile({ tx, scope, params }: Context<typeof getMonthCloseFile>): Promise<Reply> {
  requireWholeGroup(scope);
  const { closeId, kind } = params;
  const row = await store.findClose(tx, closeId);
  if (!row) throw notFound('close');
  const file = (await listFiles(tx, [closeId])).find((one) => one.kind === kind);
  if (!file) throw new Refused('wrong-state', `The ${kind} file is not made yet; read the close to see how far it is.`);
  const name = `waste-and-yield-${row.month}-close-${row.version}.${kind}`;
  return {
    status: 200,
    stream: {
      contentType: file.contentType,
      chunks: readPieces((pieceNo) => findPiece(tx, closeId, kind, pieceNo)),
    },
    headers: {
      ETag: `"${file.sha256.toString('hex')}"`,
      'Content-Length': String(file.bytes),
      'Content-Disposition': `attachment; filename="${name}"`,
    },
  };
}
