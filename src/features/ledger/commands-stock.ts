/**
 * Uses, discards, returns: observations. Refusals: `not-found`, `unit-mismatch`, `discard-reason-unknown`, `rule-broken`.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { post, type EntryDraft, type Move } from '../../domain/ledger/book.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { findPlaces, findSites, listWasteReasons, type PlaceRow } from '../catalogue/index.ts';
import { outside, placeAccount } from './accounts.ts';
import { entryAnswer } from './answers.ts';
import { loadBook } from './book.ts';
import { writeBook } from './write.ts';
import type * as contract from './contract-stock.ts';
import { checkDiscardReason, materialOf, purposeOf } from './discard-reasons.ts';
import { findHoldsReaching } from './holds-store.ts';
import { findLots, type LotRow } from './lots-store.ts';
import { findingsOf, regeneratedBack, shortfallNow, verdict } from './observe.ts';
import { holdReturned, markGivenBack, refreshReturned } from './returns.ts';

export function requireUnit(lot: Pick<LotRow, 'unit' | 'code'>, unit: string, pointer = '#/unit'): void {
  if (lot.unit !== unit) {
    const detail = `Lot ${lot.code} is kept in ${lot.unit}, not in ${unit}.`;
    throw new Refused('unit-mismatch', detail, { errors: [{ detail, pointer }], members: { unit: lot.unit } });
  }
}

export function requirePast(occurredAtMs: number, nowMs: number): void {
  if (occurredAtMs > nowMs) throw new Refused('time-in-future', 'A request cannot be dated ahead of now.');
}

/** The place, if it is at a site where the actor may act. */
export async function getPlace(context: Pick<Context, 'tx' | 'scope'>, placeId: string): Promise<PlaceRow> {
  const place = (await findPlaces(context.tx, [placeId])).get(placeId);
  if (!place || !context.scope.includes(place.siteId)) throw notFound('place');
  return place;
}

async function getLot(context: Pick<Context, 'tx'>, lotId: string): Promise<LotRow> {
  const lot = (await findLots(context.tx, [lotId])).get(lotId);
  if (!lot) throw notFound('lot');
  return lot;
}

export function draftOf(
  context: Context,
  kind: string,
  place: PlaceRow,
  occurredAtMs: number,
  moves: readonly Move[],
): EntryDraft {
  return {
    entryId: context.factId,
    kind,
    factId: context.factId,
    siteId: place.siteId,
    occurredAtMs,
    occurredOn: localDate(occurredAtMs, place.timeZone),
    contentHash: context.contentHash,
    moves,
  };
}

export const writer = (context: Context) => ({
  tx: context.tx,
  ids: context.ids,
  actorId: context.actor.actorId,
  nowMs: context.nowMs,
});

export function reply(context: Context, siteId: string, body: unknown): Reply {
  return { status: 201, body, siteId, headers: { Location: `/v1/entries/${context.factId}` } };
}

interface Taking {
  readonly kind: 'use' | 'discard' | 'return';
  readonly lotId: string;
  readonly placeId: string;
  readonly quantity: number;
  readonly unit: string;
  readonly occurredAt: string;
  readonly to: 'served' | 'waste' | 'supplier';
  readonly serving: boolean;
  readonly reason?: string | undefined;
  readonly destination?: string;
  readonly material?: 'food' | 'inedible-parts' | undefined;
  readonly note: Readonly<Record<string, unknown>>;
}

/** Something left a place for good: it always posts. */
async function take(context: Context, taking: Taking): Promise<Reply> {
  const { tx, nowMs } = context;
  const place = await getPlace(context, taking.placeId);
  const lot = await getLot(context, taking.lotId);
  requireUnit(lot, taking.unit);
  const occurredAtMs = fromInstant(taking.occurredAt);
  const book = await loadBook(tx, [{ lotId: lot.lotId, account: placeAccount(place.placeId, place.siteId) }], [], {
    sinceMs: occurredAtMs,
  });
  const holds = await findHoldsReaching(tx, [lot.lotId], occurredAtMs);
  const seen = { factId: context.factId, lot, place, occurredAtMs, serving: taking.serving };
  const line: Move = {
    lotId: lot.lotId,
    fromAccountId: place.placeId,
    toAccountId: outside(taking.to, place.siteId),
    quantity: taking.quantity,
    basis: 'counted',
    reason: taking.reason,
    destination: taking.destination,
    material: materialOf(taking.material),
  };
  post(book, { ...draftOf(context, taking.kind, place, occurredAtMs, [line]), note: taking.note });
  const findings = [...findingsOf(seen, holds, nowMs), ...(taking.kind === 'return' ? regeneratedBack(seen) : [])];
  // From here on only success.
  const written = await writeBook(writer(context), book, [], findings);
  if (taking.to === 'supplier') await markGivenBack(tx, lot.lotId);
  const shown = [...findings, ...shortfallNow(book, lot, place, occurredAtMs, context.factId)];
  return reply(context, place.siteId, {
    ...entryAnswer(written, context.factId, nowMs, shown),
    ...verdict(seen, holds),
  });
}

export async function use(context: Context<typeof contract.createUse>): Promise<Reply> {
  const { servicePoint, meal, coreTemperatureC, portions, purpose, recipient, ...body } = context.body;
  const note = { servicePoint, meal, coreTemperatureC, portions, purpose, recipient };
  const reason = purposeOf(purpose);
  // What goes to the laboratory is eaten by nobody.
  return take(context, { ...body, kind: 'use', to: 'served', serving: purpose !== 'laboratory', reason, note });
}

export async function discard(context: Context<typeof contract.createDiscard>): Promise<Reply> {
  const { note, ...body } = context.body;
  const { siteId } = await getPlace(context, body.placeId);
  checkDiscardReason((await listWasteReasons(context.tx, [siteId])).get(siteId), { ...body, note });
  return take(context, { ...body, kind: 'discard', to: 'waste', serving: false, note: { note } });
}

export async function giveBack(context: Context<typeof contract.createReturn>): Promise<Reply> {
  const { body, tx, nowMs, factId } = context;
  if (body.direction === 'to-supplier') {
    return take(context, { ...body, kind: 'return', to: 'supplier', serving: false, note: { reason: body.reason } });
  }
  const place = await getPlace(context, body.placeId);
  const lot = await getLot(context, body.lotId);
  requireUnit(lot, body.unit);
  const occurredAtMs = fromInstant(body.occurredAt);
  const quarantineId = (await findSites(tx, [place.siteId])).get(place.siteId)?.quarantinePlaceId ?? place.placeId;
  const book = await loadBook(tx, [{ lotId: lot.lotId, account: placeAccount(quarantineId, place.siteId) }], [], {
    sinceMs: occurredAtMs,
  });
  const holds = await findHoldsReaching(tx, [lot.lotId], occurredAtMs);
  const line: Move = {
    lotId: lot.lotId,
    fromAccountId: outside('served', place.siteId),
    toAccountId: quarantineId,
    quantity: body.quantity,
    basis: 'counted',
    reason: body.reason,
  };
  const seen = {
    factId,
    lot,
    place: { ...place, placeId: quarantineId, quarantine: true },
    occurredAtMs,
    serving: false,
  };
  post(book, { ...draftOf(context, 'return', place, occurredAtMs, [line]), note: { reason: body.reason } });
  const findings = [...findingsOf(seen, holds, nowMs), ...regeneratedBack(seen)];
  const returned = { lot, siteId: place.siteId, quarantineId, reason: body.reason, factId, occurredAtMs };
  // From here on only success.
  const written = await writeBook(writer(context), book, [], findings);
  await holdReturned(tx, returned, holds, context.actor.actorId, nowMs);
  const never = await refreshReturned(tx, returned, nowMs);
  return reply(context, place.siteId, {
    ...entryAnswer(written, factId, nowMs, [...findings, ...never]),
    ...verdict(seen, holds),
  });
}
