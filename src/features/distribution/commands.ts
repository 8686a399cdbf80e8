/**
 * Dispatches. Refusals: `not-found`, `wrong-state`, `unit-mismatch`, `serials-do-not-fit`, `code-taken`, `rule-broken`,
 * `insufficient-stock`, `on-hold`, `past-use-by`, `quarantined`, `diet-mismatch`, `time-in-future`.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { isValidSscc } from '../../domain/gs1.ts';
import { netOf, post } from '../../domain/ledger/book.ts';
import { refusalFor } from '../../domain/ledger/may.ts';
import { makeLotCode } from '../../domain/lot-codes.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { etagOf, requireVersion } from '../../platform/http/etags.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import { outbox } from '../../platform/jobs.ts';
import { findPlaces, findSites, type PlaceRow } from '../catalogue/index.ts';
import {
  findHoldsReaching,
  findVisibleLots,
  loadBook,
  partFacts,
  placeAccount,
  requirePast,
  requireUnit,
  transitAccount,
  writeBook,
  type LotRow,
} from '../ledger/index.ts';
import type * as contract from './contract.ts';
import { requireRequirementsMet } from './requirements/refusals.ts';
import {
  findDispatches,
  insertDispatch,
  listDispatchRows,
  listFound,
  listLines,
  lockDispatches,
  replaceLines,
  setState,
  updateDispatch,
  type DispatchRow,
} from './store.ts';

type Line = Context<typeof contract.createDispatch>['body']['lines'][number];

function head(row: DispatchRow) {
  return {
    ...row,
    plannedFor: row.plannedFor?.toISOString() ?? null,
    departedAt: row.departedAt?.toISOString() ?? null,
  };
}

export async function dispatchAnswer(
  context: Pick<Context, 'tx'>,
  dispatchId: string,
): Promise<ReturnType<typeof head> & { lines: object[]; lots: object[] }> {
  const row = (await findDispatches(context.tx, [dispatchId])).get(dispatchId);
  if (!row) throw new Error(`dispatch ${dispatchId} cannot be read back`);
  const lines = await listLines(context.tx, dispatchId);
  const found = await listFound(context.tx, dispatchId);
  const lots = found.map((lot) => ({ ...lot, missing: row.state === 'closed' ? Math.max(0, lot.inTransit) : 0 }));
  return { ...head(row), lines, lots };
}

async function checkLines(
  context: Context,
  { fromSiteId, toSiteId }: Pick<DispatchRow, 'fromSiteId' | 'toSiteId'>,
  lines: readonly Line[],
): Promise<void> {
  const { tx, scope } = context;
  const lots = await findVisibleLots(
    tx,
    scope,
    lines.map((line) => line.lotId),
  );
  const places = await findPlaces(
    tx,
    lines.map((line) => line.placeId),
  );
  const seen = new Set<string>();
  for (const [at, line] of lines.entries()) {
    const lot = lots.get(line.lotId);
    if (!lot) throw notFound('lot');
    if (places.get(line.placeId)?.siteId !== fromSiteId) throw notFound('place');
    requireUnit(lot, line.unit, `#/lines/${at}/unit`);
    checkSerials(lot, line, at, seen);
    if (line.crateCode && /^\d{18}$/.test(line.crateCode) && !isValidSscc(line.crateCode)) {
      const detail = `The SSCC ${line.crateCode} has a wrong check digit.`;
      throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: `#/lines/${at}/crateCode` }] });
    }
  }
  await requireRequirementsMet(tx, toSiteId, lines, lots);
}

function checkSerials(lot: LotRow, line: Line, at: number, seen: Set<string>): void {
  const refuse = (detail: string) =>
    new Refused('serials-do-not-fit', detail, { errors: [{ detail, pointer: `#/lines/${at}/serials` }] });
  const serials = line.serials ?? [];
  if (serials.length === 0) {
    if (lot.serialised && line.crateCode)
      throw refuse('Name the serials that are in a crate: its one beep stands for each of them.');
    return;
  }
  if (!lot.serialised) throw refuse(`Lot ${lot.code} is counted; its packs have no serials.`);
  if (serials.length !== line.quantity) throw refuse(`${serials.length} serials for ${line.quantity} packs.`);
  for (const serial of serials) {
    if (Number(serial) > lot.quantity) throw refuse(`Lot ${lot.code} has serials 1 to ${lot.quantity}.`);
    const key = `${lot.lotId}/${serial}`;
    if (seen.has(key)) throw refuse(`Serial ${serial} is named twice.`);
    seen.add(key);
  }
}

const stored = (lines: readonly Line[]) =>
  lines.map(({ lotId, placeId, quantity, serials, crateCode, requirementId }) => ({
    lotId,
    placeId,
    quantity,
    serials: serials ?? [],
    crateCode: crateCode ?? null,
    requirementId: requirementId ?? null,
  }));

export async function plan(context: Context<typeof contract.createDispatch>): Promise<Reply> {
  const { body, tx, scope, factId, nowMs } = context;
  const sites = await findSites(tx, [body.fromSiteId, body.toSiteId]);
  const from = sites.get(body.fromSiteId);
  const to = sites.get(body.toSiteId);
  await checkLines(context, body, body.lines);
  if (!from || !to || !scope.includes(from.siteId)) throw notFound('site');
  if (from.siteId === to.siteId)
    throw new Refused('rule-broken', 'A dispatch goes to another site; within a site food is moved.');
  // From here on only success.
  await insertDispatch(tx, {
    dispatchId: factId,
    code: body.code ?? makeLotCode(`D${from.code}`, localDate(nowMs, from.timeZone), factId),
    fromSiteId: from.siteId,
    toSiteId: to.siteId,
    purpose: body.purpose ?? 'delivery',
    plannedForMs: body.plannedFor ? fromInstant(body.plannedFor) : null,
    vehicle: body.vehicle ?? null,
    driverName: body.driverName ?? null,
  });
  await replaceLines(tx, factId, stored(body.lines));
  const answer = await dispatchAnswer(context, factId);
  return {
    status: 201,
    body: answer,
    siteId: from.siteId,
    headers: { Location: `/v1/dispatches/${factId}`, ETag: etagOf(answer.version) },
  };
}

export async function change(context: Context<typeof contract.changeDispatch>): Promise<Reply> {
  const { body, tx, scope, params } = context;
  const row = (await lockDispatches(tx, [params.dispatchId])).get(params.dispatchId);
  if (!row || !scope.includes(row.fromSiteId)) throw notFound('dispatch');
  requireVersion(context.ifMatch, row.version);
  if (row.state !== 'planned') throw new Refused('wrong-state', `Dispatch ${row.code} has departed.`);
  if (body.lines) await checkLines(context, row, body.lines);
  // From here on only success.
  const given = <T>(value: T | undefined, before: T): T => (value === undefined ? before : value);
  const plannedFor = given(body.plannedFor, row.plannedFor?.toISOString() ?? null);
  await updateDispatch(tx, row.dispatchId, {
    plannedForMs: plannedFor === null ? null : fromInstant(plannedFor),
    vehicle: given(body.vehicle, row.vehicle),
    driverName: given(body.driverName, row.driverName),
  });
  if (body.lines) await replaceLines(tx, row.dispatchId, stored(body.lines));
  const answer = await dispatchAnswer(context, row.dispatchId);
  return { status: 200, body: answer, headers: { ETag: etagOf(answer.version) } };
}

export async function depart(context: Context<typeof contract.createDeparture>): Promise<Reply> {
  const { body, tx, scope, params, factId, nowMs } = context;
  const row = (await lockDispatches(tx, [params.dispatchId])).get(params.dispatchId);
  if (!row || !scope.includes(row.fromSiteId)) throw notFound('dispatch');
  const lines = await listLines(tx, row.dispatchId);
  const site = (await findSites(tx, [row.fromSiteId])).get(row.fromSiteId);
  const places = await findPlaces(
    tx,
    lines.map((line) => line.placeId),
  );
  // The lines were checked against the planner's sites; whoever drives need not see them all.
  const lots = await findVisibleLots(
    tx,
    { ...scope, all: true },
    lines.map((line) => line.lotId),
  );
  if (row.state !== 'planned') throw new Refused('wrong-state', `Dispatch ${row.code} has departed already.`);
  await requireRequirementsMet(tx, row.toSiteId, lines, lots);
  const departedAtMs = body.departedAt ? fromInstant(body.departedAt) : nowMs;
  requirePast(departedAtMs, nowMs);
  const transit = transitAccount(row.dispatchId, row.fromSiteId, row.toSiteId);
  const book = await loadBook(
    tx,
    lines.flatMap((line) => [
      { lotId: line.lotId, account: placeAccount(line.placeId, row.fromSiteId) },
      { lotId: line.lotId, account: transit },
    ]),
  );
  const holds = await findHoldsReaching(tx, [...lots.keys()], nowMs);
  const taken = new Map<string, number>();
  for (const [at, line] of lines.entries()) {
    const lot = lots.get(line.lotId) as LotRow;
    const place = places.get(line.placeId) as PlaceRow;
    const key = `${line.lotId}|${line.placeId}`;
    const available = netOf(book, { lotId: line.lotId, accountId: line.placeId }) - (taken.get(key) ?? 0);
    // What goes back or goes to be destroyed may be held, past its date or from quarantine; it must only be there.
    const action = row.purpose === 'delivery' ? 'leave-site' : 'move-within-site';
    const refusal = refusalFor(
      partFacts(lot, place, holds),
      action,
      nowMs,
      line.quantity,
      available,
      `#/lines/${at}/quantity`,
    );
    if (refusal) throw refusal;
    taken.set(key, (taken.get(key) ?? 0) + line.quantity);
  }
  post(book, {
    entryId: factId,
    kind: 'dispatch',
    factId,
    siteId: row.fromSiteId,
    occurredAtMs: departedAtMs,
    occurredOn: localDate(departedAtMs, site?.timeZone ?? 'UTC'),
    contentHash: context.contentHash,
    dispatchId: row.dispatchId,
    moves: lines.map((line) => ({
      lotId: line.lotId,
      fromAccountId: line.placeId,
      toAccountId: row.dispatchId,
      quantity: line.quantity,
      basis: 'counted',
    })),
  });
  // From here on only success.
  await writeBook({ tx, ids: context.ids, actorId: context.actor.actorId, nowMs }, book);
  await setState(tx, row.dispatchId, 'departed', departedAtMs);
  await outbox(tx, 'dispatch-departed', { dispatchId: row.dispatchId, toSiteId: row.toSiteId }, nowMs);
  const answer = await dispatchAnswer(context, row.dispatchId);
  return {
    status: 201,
    body: answer,
    siteId: row.fromSiteId,
    headers: { Location: `/v1/dispatches/${row.dispatchId}` },
  };
}

export async function readDispatch(context: Context<typeof contract.getDispatch>): Promise<Reply> {
  const { tx, scope, params } = context;
  const row = (await findDispatches(tx, [params.dispatchId])).get(params.dispatchId);
  if (!row || !(scope.includes(row.fromSiteId) || scope.includes(row.toSiteId))) throw notFound('dispatch');
  const answer = await dispatchAnswer(context, row.dispatchId);
  return { status: 200, body: answer, headers: { ETag: etagOf(answer.version) } };
}

export async function readDispatches(context: Context<typeof contract.listDispatches>): Promise<Reply> {
  const { query } = context;
  const page = pageOf(query, ['uuid']);
  const filter = { fromSiteId: query.fromSiteId ?? null, toSiteId: query.toSiteId ?? null, state: query.state ?? null };
  const rows = await listDispatchRows(context.tx, context.scope, filter, page);
  return pageReply(context.path, query, page, rows.map(head), (row) => [row.dispatchId]);
}
