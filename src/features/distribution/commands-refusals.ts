/**
 * Refused at the door. The food never entered the site: it moves from the dispatch to a leg back, whose ids follow from the refusal's, so
 * that the same refusal sent again is the same leg. A pack that was refused and is scanned as arrived all the same makes the dispatch
 * short, which its scan shows. Refusals: `not-found`, `unit-mismatch`, `serials-do-not-fit`.
 */
import { notFound } from '../../domain/errors.ts';
import { post } from '../../domain/ledger/book.ts';
import { makeLotCode } from '../../domain/lot-codes.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { derivedId } from '../../platform/ids.ts';
import { outbox } from '../../platform/jobs.ts';
import { findPlaces, findSites } from '../catalogue/index.ts';
import { findingsOf, findLots, loadBook, requireUnit, transitAccount, writeBook } from '../ledger/index.ts';
import { brief, checkSerials } from './commands.ts';
import type * as contract from './contract-refusals.ts';
import { refreshMissing } from './missing.ts';
import { insertRefusal } from './store-refusals.ts';
import { insertDispatch, lockDispatches, replaceLines } from './store.ts';

export async function refuse(context: Context<typeof contract.createRefusal>): Promise<Reply> {
  const { body, tx, scope, params, factId, nowMs, ids, actor } = context;
  const row = (await lockDispatches(tx, [params.dispatchId])).get(params.dispatchId);
  const mine = row && [row.toSiteId, row.fromSiteId].find((siteId) => scope.includes(siteId));
  if (!row || !mine) throw notFound('dispatch');
  const lots = await findLots(
    tx,
    body.lines.map((line) => line.lotId),
  );
  const site = (await findSites(tx, [row.toSiteId])).get(row.toSiteId);
  const door = (await findPlaces(tx, [site?.receivingPlaceId ?? ''])).get(site?.receivingPlaceId ?? '');
  const seen = new Set<string>();
  const lines = body.lines.map((line, at) => {
    const lot = lots.get(line.lotId);
    if (!lot) throw notFound('lot');
    requireUnit(lot, line.unit, `#/lines/${at}/unit`);
    checkSerials(lot, line, at, seen);
    return { ...line, lot };
  });
  const first = lines[0];
  if (!site || !door || !first) throw notFound('site');
  const occurredAtMs = fromInstant(body.occurredAt);
  const occurredOn = localDate(occurredAtMs, site.timeZone);
  const returnDispatchId = derivedId('refused-at-the-door', factId);
  const returnCode = makeLotCode(`R${site.code}`, occurredOn, returnDispatchId);
  const out = transitAccount(row.dispatchId, row.fromSiteId, row.toSiteId);
  const back = transitAccount(returnDispatchId, row.toSiteId, row.fromSiteId);
  const book = await loadBook(
    tx,
    lines.flatMap(({ lotId }) => [
      { lotId, account: out },
      { lotId, account: back },
    ]),
  );
  post(book, {
    entryId: factId,
    kind: 'dispatch',
    factId,
    siteId: row.toSiteId,
    occurredAtMs,
    occurredOn,
    contentHash: context.contentHash,
    dispatchId: returnDispatchId,
    note: { refusedFrom: row.dispatchId, reason: body.reason },
    moves: lines.map(({ lotId, quantity }) => ({
      lotId,
      fromAccountId: row.dispatchId,
      toAccountId: returnDispatchId,
      quantity,
      basis: 'counted',
      reason: 'refused',
    })),
  });
  const ahead = findingsOf({ factId, lot: first.lot, place: door, occurredAtMs, serving: false }, [], nowMs);
  // From here on only success.
  await insertDispatch(tx, {
    dispatchId: returnDispatchId,
    code: returnCode,
    fromSiteId: row.toSiteId,
    toSiteId: row.fromSiteId,
    purpose: 'return',
    state: 'departed',
    plannedForMs: null,
    departedAtMs: occurredAtMs,
    vehicle: row.vehicle,
    driverName: row.driverName,
    borrowed: false,
    refusedFromId: row.dispatchId,
  });
  await replaceLines(
    tx,
    returnDispatchId,
    lines.map(({ lotId, quantity, serials }) => ({
      lotId,
      placeId: null,
      quantity,
      serials: serials ?? [],
      crateCode: null,
      requirementId: null,
    })),
  );
  await insertRefusal(
    tx,
    {
      refusalId: factId,
      dispatchId: row.dispatchId,
      returnDispatchId,
      reason: body.reason,
      occurredAtMs,
      recordedBy: actor.actorId,
    },
    nowMs,
  );
  await writeBook({ tx, ids, actorId: actor.actorId, nowMs }, book, [], ahead);
  await outbox(tx, 'dispatch-departed', { dispatchId: returnDispatchId, toSiteId: row.fromSiteId }, nowMs);
  const missing = await refreshMissing(tx, [row], factId, occurredAtMs, nowMs);
  return {
    status: 201,
    body: {
      refusalId: factId,
      dispatchId: row.dispatchId,
      returnDispatchId,
      returnCode,
      occurredAt: new Date(occurredAtMs).toISOString(),
      reason: body.reason,
      lines: lines.map(({ lot, quantity, unit }) => ({ lotId: lot.lotId, lotCode: lot.code, quantity, unit })),
      findings: [...ahead, ...missing].map(brief),
    },
    // whoever recorded it may ask again
    siteId: mine,
    headers: { Location: `/v1/dispatches/${returnDispatchId}` },
  };
}
