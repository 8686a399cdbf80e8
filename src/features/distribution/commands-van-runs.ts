/**
 * Van runs. Refusals: `not-found`, `code-taken`, `rule-broken`, `version-mismatch`. A run is a plan and what was seen on the way; food
 * moves by its dispatches.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { makeLotCode } from '../../domain/lot-codes.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { etagOf, requireVersion } from '../../platform/http/etags.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import { findSites } from '../catalogue/index.ts';
import { findPeopleNames } from '../identity/index.ts';
import { openFindings, type FindingDraft } from '../ledger/index.ts';
import { timesThatStand, vanRunAnswer, vanRunHead, visibleDrops } from './answer-van-runs.ts';
import { brief } from './commands.ts';
import type * as contract from './contract-vans.ts';
import {
  deleteDrops,
  findRunsOfDispatches,
  findVanRun,
  insertDrops,
  insertDropTime,
  insertVanRun,
  listDrops,
  listDropTimes,
  listVanRunRows,
  lockVanRun,
  updateVanRun,
} from './store-van-runs.ts';
import { lockDispatches, type DispatchRow } from './store.ts';

/** Clocks drift: ten minutes ahead is not worth a finding (common practice). */
const AHEAD_TOLERANCE_MS = 10 * 60_000;

/** Each starts from the run's site, is named once, and is on no other van. Locks them, so that two runs cannot both have one. */
async function loadDrops(context: Pick<Context, 'tx'>, dispatchIds: readonly string[]) {
  const dispatches = await lockDispatches(context.tx, dispatchIds);
  const taken = await findRunsOfDispatches(context.tx, dispatchIds);
  return { dispatches, taken };
}

function checkDrops(
  siteId: string,
  vanRunId: string,
  dispatchIds: readonly string[],
  scope: Context['scope'],
  { dispatches, taken }: Awaited<ReturnType<typeof loadDrops>>,
): void {
  const broken = (detail: string, at: number) =>
    new Refused('rule-broken', detail, { errors: [{ detail, pointer: `#/dispatchIds/${at}` }] });
  for (const [at, dispatchId] of dispatchIds.entries()) {
    const dispatch: DispatchRow | undefined = dispatches.get(dispatchId);
    if (!dispatch || !scope.includes(dispatch.fromSiteId)) throw notFound('dispatch');
    if (dispatch.fromSiteId !== siteId) throw broken(`Dispatch ${dispatch.code} starts from another site.`, at);
    if (dispatchIds.indexOf(dispatchId) !== at) throw broken(`Dispatch ${dispatch.code} is named twice.`, at);
    if (taken.some((drop) => drop.dispatchId === dispatchId && drop.vanRunId !== vanRunId))
      throw broken(`Dispatch ${dispatch.code} is on another van run.`, at);
  }
}

async function driverName(
  { tx }: Pick<Context, 'tx'>,
  driverId: string | null,
): Promise<{ known: boolean; name: string | null }> {
  const name = (await findPeopleNames(tx, driverId ? [driverId] : [])).get(driverId ?? '') ?? null;
  return { known: driverId === null || name !== null, name };
}

export async function planVanRun(context: Context<typeof contract.createVanRun>): Promise<Reply> {
  const { body, tx, scope, factId } = context;
  const site = (await findSites(tx, [body.siteId])).get(body.siteId);
  const loaded = await loadDrops(context, body.dispatchIds);
  const driver = await driverName(context, body.driverId ?? null);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  checkDrops(site.siteId, factId, body.dispatchIds, scope, loaded);
  if (!driver.known) throw notFound('person');
  const plannedForMs = fromInstant(body.plannedFor);
  // From here on only success.
  await insertVanRun(tx, {
    vanRunId: factId,
    code: body.code ?? makeLotCode(`V${site.code}`, localDate(plannedForMs, site.timeZone), factId),
    siteId: site.siteId,
    vehicle: body.vehicle,
    driverId: body.driverId ?? null,
    driverName: body.driverName ?? driver.name,
    plannedForMs,
  });
  await insertDrops(tx, factId, body.dispatchIds);
  const answer = await answerOf(context, factId);
  return {
    status: 201,
    body: answer,
    siteId: site.siteId,
    headers: { Location: `/v1/van-runs/${factId}`, ETag: etagOf(answer.version) },
  };
}

async function answerOf({ tx }: Pick<Context, 'tx'>, vanRunId: string) {
  const run = await findVanRun(tx, vanRunId);
  if (!run) throw new Error(`van run ${vanRunId} cannot be read back`);
  return vanRunAnswer(tx, run, await listDrops(tx, vanRunId));
}

export async function changeVanRun(context: Context<typeof contract.changeVanRun>): Promise<Reply> {
  const { body, tx, scope, params } = context;
  const run = await lockVanRun(tx, params.vanRunId);
  if (!run || !scope.includes(run.siteId)) throw notFound('van run');
  const loaded = await loadDrops(context, body.dispatchIds ?? []);
  const driver = await driverName(context, body.driverId ?? null);
  requireVersion(context.ifMatch, run.version);
  checkDrops(run.siteId, run.vanRunId, body.dispatchIds ?? [], scope, loaded);
  if (!driver.known) throw notFound('person');
  const { plannedFor, version: _version, ...kept } = run;
  const given = <T>(value: T | undefined, before: T): T => (value === undefined ? before : value);
  const plannedForMs = body.plannedFor ? fromInstant(body.plannedFor) : plannedFor.getTime();
  // Another driver does not keep the name of the one before; nor does a name alone keep the person.
  const newName = body.driverId === undefined ? run.driverName : driver.name;
  const newId = body.driverName === undefined ? run.driverId : null;
  // From here on only success.
  await updateVanRun(tx, {
    ...kept,
    vehicle: given(body.vehicle, run.vehicle),
    driverId: given(body.driverId, newId),
    driverName: given(body.driverName, newName),
    plannedForMs,
  });
  if (body.dispatchIds) {
    await deleteDrops(tx, run.vanRunId);
    await insertDrops(tx, run.vanRunId, body.dispatchIds);
  }
  const answer = await answerOf(context, run.vanRunId);
  return { status: 200, body: answer, headers: { ETag: etagOf(answer.version) } };
}

export async function readVanRun(context: Context<typeof contract.getVanRun>): Promise<Reply> {
  const { tx, scope, params } = context;
  const run = await findVanRun(tx, params.vanRunId);
  const drops = await listDrops(tx, params.vanRunId);
  const visible = run ? visibleDrops(scope, run, drops) : [];
  if (!run || !(scope.includes(run.siteId) || visible.length > 0)) throw notFound('van run');
  const answer = await vanRunAnswer(tx, run, visible);
  return { status: 200, body: answer, headers: { ETag: etagOf(answer.version) } };
}

export async function readVanRuns(context: Context<typeof contract.listVanRuns>): Promise<Reply> {
  const { query } = context;
  const page = pageOf(query, ['time', 'uuid']);
  const filter = { siteId: query.siteId ?? null, driverId: query.driverId ?? null };
  const rows = await listVanRunRows(context.tx, context.scope, filter, page);
  return pageReply(context.path, query, page, rows.map(vanRunHead), (row) => [row.plannedFor, row.vanRunId]);
}

export async function recordDropTimes(context: Context<typeof contract.createDropTimes>): Promise<Reply> {
  const { body, tx, scope, params, factId, nowMs, actor } = context;
  const run = await lockVanRun(tx, params.vanRunId);
  const drop = (await listDrops(tx, params.vanRunId)).find((one) => one.dispatchId === body.dispatchId);
  const mine = [run?.siteId ?? '', drop?.siteId ?? ''].find((siteId) => siteId !== '' && scope.includes(siteId));
  if (!run || !drop || !mine) throw notFound('drop of a van run');
  const ms = (time: string | undefined) => (time === undefined ? null : fromInstant(time));
  const [arrivedAtMs, doorAtMs, putAwayAtMs] = [ms(body.arrivedAt), ms(body.doorAt), ms(body.putAwayAt)];
  const latestMs = Math.max(...[arrivedAtMs, doorAtMs, putAwayAtMs].flatMap((one) => one ?? []));
  if (!Number.isFinite(latestMs)) throw new Refused('rule-broken', 'Say at least one of the times.');
  const ahead = latestMs > nowMs + AHEAD_TOLERANCE_MS ? [timeAhead(drop.siteId, factId, latestMs, nowMs)] : [];
  // From here on only success.
  const row = { dropTimeId: factId, vanRunId: run.vanRunId, dispatchId: drop.dispatchId, recordedBy: actor.actorId };
  await insertDropTime(tx, { ...row, arrivedAtMs, doorAtMs, putAwayAtMs }, nowMs);
  await openFindings(tx, ahead, nowMs);
  const said = await listDropTimes(tx, run.vanRunId);
  return {
    status: 201,
    body: {
      dropTimeId: factId,
      vanRunId: run.vanRunId,
      dispatchId: drop.dispatchId,
      ...timesThatStand(said.filter((one) => one.dispatchId === drop.dispatchId)),
      findings: ahead.map(brief),
    },
    siteId: mine,
    headers: { Location: `/v1/van-runs/${run.vanRunId}` },
  };
}

const timeAhead = (siteId: string, factId: string, occurredAtMs: number, nowMs: number): FindingDraft => ({
  kind: 'time-ahead',
  subject: factId,
  siteId,
  lotId: null,
  quantity: null,
  occurredAtMs,
  detail: { aheadMs: occurredAtMs - nowMs, factId },
});
