/**
 * Dispatches: planned, changed, read. Refusals: `not-found`, `wrong-state`, `version-mismatch`, `unit-mismatch`,
 * `serials-do-not-fit`, `code-taken`, `diet-mismatch`, `rule-broken`.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { isValidSscc } from '../../domain/gs1/index.ts';
import { makeLotCode } from '../../domain/lot-codes.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { etagOf, requireVersion } from '../../platform/http/etags.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import { findPlaces, findSites } from '../catalogue/index.ts';
import { findVisibleLots, requireUnit, type FindingDraft, type LotRow } from '../ledger/index.ts';
import type * as contract from './contract.ts';
import { requireRequirementsMet } from './requirements/refusals.ts';
import { listFound, type FoundRow } from './store-found.ts';
import {
  findDispatches,
  insertDispatch,
  listDispatchRows,
  listLines,
  lockDispatches,
  replaceLines,
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
  const lines = await listLines(context.tx, [dispatchId]);
  const found = await listFound(context.tx, [dispatchId]);
  return {
    ...head(row),
    lines: lines.map(({ dispatchId: _of, ...line }) => line),
    lots: found.map((lot) => lotOf(row.state, lot)),
  };
}

export const brief = ({ kind, lotId, quantity, detail }: FindingDraft) => ({ kind, lotId, quantity, detail });

/** What was found of a lot; what is still in transit when the receipt is closed is missing. */
export function lotOf(state: DispatchRow['state'], { dispatchId: _of, ...lot }: FoundRow) {
  return { ...lot, missing: state === 'closed' ? Math.max(0, lot.inTransit) : 0 };
}

/** What was refused or borrowed began with its departure: undone, it is not sent off again, but told anew. */
export function requirePlanned(row: DispatchRow): void {
  if (row.state !== 'planned') throw new Refused('wrong-state', `Dispatch ${row.code} has departed already.`);
  if (row.borrowed || row.refusedFromId !== null)
    throw new Refused('wrong-state', `Dispatch ${row.code} was undone; record anew what was refused or borrowed.`);
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
    if (lot.serialised && line.crateCode && (line.serials ?? []).length === 0)
      throw misfit('Name the serials that are in a crate: its one beep stands for each of them.', at);
    checkSerials(lot, line, at, seen);
    if (line.crateCode && /^\d{18}$/.test(line.crateCode) && !isValidSscc(line.crateCode)) {
      const detail = `The SSCC ${line.crateCode} has a wrong check digit.`;
      throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: `#/lines/${at}/crateCode` }] });
    }
  }
  await requireRequirementsMet(tx, toSiteId, lines, lots);
}

const misfit = (detail: string, at: number) =>
  new Refused('serials-do-not-fit', detail, { errors: [{ detail, pointer: `#/lines/${at}/serials` }] });

/** Serials, if any are named, are of the lot, as many as the quantity, each once. */
export function checkSerials(
  lot: LotRow,
  line: { readonly quantity: number; readonly serials?: readonly string[] | undefined },
  at: number,
  seen: Set<string>,
): void {
  const refuse = (detail: string) => misfit(detail, at);
  const serials = line.serials ?? [];
  if (serials.length === 0) return;
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
    state: 'planned',
    plannedForMs: body.plannedFor ? fromInstant(body.plannedFor) : null,
    departedAtMs: null,
    vehicle: body.vehicle ?? null,
    driverName: body.driverName ?? null,
    borrowed: false,
    refusedFromId: null,
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
  requirePlanned(row);
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
