/**
 * Opening a case and giving it more starting points. The gate is held exclusively: nothing is written in the group meanwhile, so that all
 * of the scope is on hold or none. Refusals: `starts-match-nothing`, `start-ambiguous`, `scope-too-large`, `rule-broken`,
 * `recall-open-already`, `not-found`, `wrong-state`.
 */
import { Refused } from '../../domain/errors.ts';
import { requireLevel } from '../../domain/recall/checks.ts';
import { samePoints } from '../../domain/recall/starts.ts';
import { groupBy } from '../../domain/grouping.ts';
import { deputyOf } from '../../platform/auth/actor.ts';
import { stopwatch } from '../../platform/clock.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { derivedId } from '../../platform/ids.ts';
import { outbox } from '../../platform/jobs.ts';
import { insertCaseHold, reachFrom, watchSupplierLots, type WatchedCode } from '../ledger/index.ts';
import { getVisibleRecall, recallAnswer } from './answer.ts';
import type * as contract from './contract-cases.ts';
import { drawLot } from './drill.ts';
import { tellSites } from './notices/due.ts';
import { requireEverySite, requireBounded, rootsOf } from './preview.ts';
import { listStarts } from './queries.ts';
import { reviseCase } from './revise.ts';
import { matchStarts, type MatchedStart } from './starts/match.ts';
import {
  insertRecall,
  insertStartLots,
  insertStarts,
  insertStatement,
  listOpenStarts,
  nextCaseNo,
  readHead,
} from './store.ts';

const DAY_MS = 86_400_000;
const DAYS_OF_DRILL = 90;

interface Opening {
  readonly title: string;
  readonly drill: boolean;
  readonly starts: readonly MatchedStart[];
  readonly statement: object | undefined;
  readonly drawnWith: string | null;
}

export async function open(context: Context<typeof contract.openRecall>): Promise<Reply> {
  const { tx, scope, body } = context;
  const elapsedS = stopwatch();
  requireEverySite(scope);
  requireLevel(body.statement?.checkLevel, body.statement?.checkPercent, '#/statement');
  const starts = await matchStarts(tx, body.starts);
  const drill = body.drill ?? false;
  if (!drill && body.besides !== true) await requireNew(context, starts);
  await requireBounded(tx, rootsOf(starts));
  // From here on only success.
  return begin(context, { title: body.title, drill, starts, statement: body.statement, drawnWith: null }, elapsedS);
}

export async function startDrill(context: Context<typeof contract.startRecallDrill>): Promise<Reply> {
  const { tx, scope, body, factId, nowMs } = context;
  const elapsedS = stopwatch();
  requireEverySite(scope);
  const days = body.days ?? DAYS_OF_DRILL;
  const drawn = await drawLot(tx, factId, nowMs - days * DAY_MS, nowMs);
  if (!drawn) throw new Refused('starts-match-nothing', `No lot of the last ${days} days has anything to trace.`);
  const starts = await matchStarts(tx, [{ kind: 'lot', lotId: drawn.lotId }]);
  await requireBounded(tx, rootsOf(starts));
  // From here on only success.
  const title = body.title ?? `Drill on lot ${drawn.lotCode}`;
  return begin(context, { title, drill: true, starts, statement: undefined, drawnWith: drawn.drawnWith }, elapsedS);
}

/** @throws Refused `recall-open-already` when an open case began with the same points, or has the same by now */
async function requireNew({ tx }: Pick<Context, 'tx'>, starts: readonly MatchedStart[]): Promise<void> {
  const asked = starts.map((start) => start.said);
  for (const [recallId, rows] of groupBy(await listOpenStarts(tx), (row) => row.recallId)) {
    const all = rows.map((row) => row.said);
    const first = rows.flatMap((row) => (row.atOpening ? [row.said] : []));
    if (!samePoints(asked, all) && !samePoints(asked, first)) continue;
    const detail = `Case ${rows[0]?.code} is open with the same starting points.`;
    throw new Refused('recall-open-already', detail, { members: { recallId } });
  }
}

async function begin(context: Context, opening: Opening, elapsedS: () => number): Promise<Reply> {
  const { tx, actor, nowMs, factId: recallId } = context;
  const { drill, title, starts } = opening;
  // By the clock, not by the head: what occurs from now on is against the hold, even if another machine's clock is ahead.
  const { lastSeq } = await readHead(tx, nowMs);
  const atMs = nowMs;
  const deputyId = deputyOf(actor, 'recalls.write', null);
  const holdId = derivedId('recall-hold', recallId);
  const code = `${drill ? 'DR' : 'RC'}-${String(await nextCaseNo(tx, drill)).padStart(4, '0')}`;
  const hold = {
    holdId,
    kind: drill ? 'drill' : 'recall',
    note: `${code}: ${title}`,
    actorId: actor.actorId,
    deputyId,
  } as const;
  await insertCaseHold(tx, hold, starts[0]?.lotIds[0] ?? '', atMs);
  const reached = await freeze(context, holdId, starts, null, atMs);
  const scopeMs = Math.round(elapsedS() * 1000);
  await insertRecall(tx, {
    recallId,
    code,
    drill,
    title,
    holdId,
    openedAtMs: atMs,
    openedSeq: lastSeq,
    openedBy: actor.actorId,
    deputyId,
    scopeMs,
    drawnWith: opening.drawnWith,
  });
  await keepStarts(context, recallId, starts, atMs);
  if (opening.statement !== undefined) {
    const statementId = derivedId('recall-statement', recallId);
    await insertStatement(tx, recallId, { statementId, said: opening.statement, actorId: actor.actorId, atMs });
  }
  await outbox(tx, 'recall-opened', { recallId, code, drill, holdId, lotCount: reached }, nowMs);
  await tellSites(tx, { recallId, lotCount: reached }, actor.actorId, nowMs);
  return caseReply(context, recallId);
}

/** Puts everything that the starting points reach under the hold, and watches for deliveries of the same supplier lots. */
async function freeze(
  { tx }: Pick<Context, 'tx'>,
  holdId: string,
  starts: readonly MatchedStart[],
  factId: string | null,
  atMs: number,
): Promise<number> {
  const { walked, still } = rootsOf(starts);
  const reached = await reachFrom(tx, holdId, { walked, still }, factId, atMs);
  await watchSupplierLots(tx, holdId, starts.flatMap(watchedBy));
  return reached;
}

function watchedBy({ said }: MatchedStart): WatchedCode[] {
  const { kind, supplierId, supplierLotCode } = said;
  if (kind !== 'supplier-lot' || typeof supplierId !== 'string' || typeof supplierLotCode !== 'string') return [];
  return [{ supplierId, supplierLotCode }];
}

async function keepStarts(
  { tx, actor, factId }: Pick<Context, 'tx' | 'actor' | 'factId'>,
  recallId: string,
  starts: readonly MatchedStart[],
  atMs: number,
): Promise<void> {
  const rows = starts.map(({ position, said, lotIds }) => ({
    startId: derivedId(`recall-start-${position}`, factId),
    position,
    said,
    lotIds,
  }));
  await insertStarts(tx, recallId, rows, { factId, actorId: actor.actorId, atMs });
  for (const { startId, lotIds } of rows) await insertStartLots(tx, startId, lotIds, atMs);
}

export async function addStarts(context: Context<typeof contract.addRecallStarts>): Promise<Reply> {
  const { tx, scope, body, params, nowMs, factId } = context;
  const recall = await getVisibleRecall(tx, scope, params.recallId);
  requireEverySite(scope);
  if (recall.state !== 'open') throw new Refused('wrong-state', 'The case is closed; reopen it first.');
  const before = await listStarts(tx, recall.recallId);
  const starts = await matchStarts(tx, body.starts, before.length + 1);
  const kept = [...before.map((row) => row.said), ...starts.map((start) => start.said)];
  if (kept.length > MOST_STARTS) {
    throw new Refused('rule-broken', `A case has at most ${MOST_STARTS} starting points.`);
  }
  await requireBounded(tx, rootsOf(starts));
  // From here on only success.
  const { atMs } = await readHead(tx, nowMs);
  await reviseCase(tx, recall, atMs);
  const reached = await freeze(context, recall.holdId, starts, factId, atMs);
  await keepStarts(context, recall.recallId, starts, atMs);
  await outbox(tx, 'recall-revised', { recallId: recall.recallId, factId, lotCount: reached }, nowMs);
  await tellSites(tx, recall, context.actor.actorId, nowMs);
  return caseReply(context, recall.recallId);
}

/** More than anybody adds by hand; each is matched again every minute. */
const MOST_STARTS = 200;

async function caseReply(context: Context, recallId: string): Promise<Reply> {
  const recall = await getVisibleRecall(context.tx, context.scope, recallId);
  const body = await recallAnswer(context.tx, recall);
  return { status: 201, body, siteId: null, headers: { Location: `/v1/recalls/${recallId}` } };
}
