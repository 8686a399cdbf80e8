/**
 * Borrowing, told by the site that has the food now. Departure and receipt are posted at once through a dispatch that is closed from the
 * start, so that stock, trace and holds are those of any other dispatch. The lender is not asked and not shown: what is missing there is a
 * finding there. Refusals: `not-found`, `unit-mismatch`, `serials-do-not-fit`, `rule-broken`.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { post } from '../../domain/ledger/book.ts';
import { makeLotCode } from '../../domain/lot-codes.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { derivedId } from '../../platform/ids.ts';
import { findPlaces, findSites, type PlaceRow, type SiteRow } from '../catalogue/index.ts';
import {
  findHoldsReaching,
  findingsOf,
  findLots,
  insertHolds,
  loadBook,
  placeAccount,
  requireUnit,
  transitAccount,
  verdict,
  withCarried,
  writeBook,
  type LotRow,
  type ReachingHold,
} from '../ledger/index.ts';
import { presumedOf, putAway } from './commands-receipt.ts';
import { brief, checkSerials } from './commands.ts';
import type * as contract from './contract-borrowings.ts';
import { judgeLeft } from './left.ts';
import { findFullestPlaces } from './store-borrowings.ts';
import { insertReceipt } from './store-receipts.ts';
import { insertDispatch, replaceLines } from './store.ts';

type Body = Context<typeof contract.createBorrowing>['body'];

interface Loaded {
  readonly from: SiteRow;
  readonly to: SiteRow;
  readonly lines: readonly BorrowedLine[];
}

interface BorrowedLine {
  readonly lotId: string;
  readonly lot: LotRow;
  readonly quantity: number;
  readonly serials: readonly string[];
  readonly givenPlaceId: string | null;
  /** where it left */
  readonly place: PlaceRow;
  /** where it is now */
  readonly toPlace: PlaceRow;
  readonly presumed: boolean;
}

async function load({
  tx,
  scope,
  body,
}: Pick<Context<typeof contract.createBorrowing>, 'tx' | 'scope' | 'body'>): Promise<Loaded> {
  const sites = await findSites(tx, [body.fromSiteId, body.toSiteId]);
  const from = sites.get(body.fromSiteId);
  const to = sites.get(body.toSiteId);
  const lotIds = [...new Set(body.lines.map((line) => line.lotId))];
  const lots = await findLots(tx, lotIds);
  const fullest = await findFullestPlaces(tx, body.fromSiteId, lotIds);
  const places = await findPlaces(tx, placesOf(body, from, to, [...fullest.values()]));
  if (!from || !to || !scope.includes(to.siteId)) throw notFound('site');
  if (body.toPlaceId && places.get(body.toPlaceId)?.siteId !== to.siteId) throw notFound('place');
  const seen = new Set<string>();
  const lines = body.lines.map((line, at): BorrowedLine => {
    const lot = lots.get(line.lotId);
    if (!lot) throw notFound('lot');
    const place = places.get(line.fromPlaceId ?? fullest.get(line.lotId) ?? from.receivingPlaceId);
    const put = putAway({ purpose: 'delivery' }, to, lot, { condition: 'accepted', placeId: body.toPlaceId });
    const toPlace = places.get(put.placeId);
    if (place?.siteId !== from.siteId || !toPlace) throw notFound('place');
    requireUnit(lot, line.unit, `#/lines/${at}/unit`);
    checkSerials(lot, line, at, seen);
    const { lotId, quantity, serials = [], fromPlaceId = null } = line;
    return { lotId, lot, quantity, serials, givenPlaceId: fromPlaceId, place, toPlace, presumed: put.presumed };
  });
  if (from.siteId === to.siteId)
    throw new Refused('rule-broken', 'One borrows from another site; within a site food is moved.');
  return { from, to, lines };
}

function placesOf(
  body: Body,
  from: SiteRow | undefined,
  to: SiteRow | undefined,
  fullest: readonly string[],
): string[] {
  const own = to ? [to.receivingPlaceId, to.quarantinePlaceId, ...Object.values(to.putAway)] : [];
  const named = [body.toPlaceId, from?.receivingPlaceId, ...own, ...body.lines.map((line) => line.fromPlaceId)];
  return [...new Set([...named.flatMap((placeId) => placeId ?? []), ...fullest])];
}

export async function borrow(context: Context<typeof contract.createBorrowing>): Promise<Reply> {
  const { body, tx, factId, nowMs, ids, actor, contentHash } = context;
  const { from, to, lines } = await load(context);
  const occurredAtMs = fromInstant(body.occurredAt);
  const dispatchId = factId;
  const code = makeLotCode(`B${from.code}`, localDate(occurredAtMs, to.timeZone), factId);
  const transit = transitAccount(dispatchId, from.siteId, to.siteId);
  const book = await loadBook(
    tx,
    lines.flatMap(({ lotId, place, toPlace }) => [
      { lotId, account: placeAccount(place.placeId, from.siteId) },
      { lotId, account: transit },
      { lotId, account: placeAccount(toPlace.placeId, to.siteId) },
    ]),
  );
  const holds = await findHoldsReaching(
    tx,
    lines.map((line) => line.lotId),
    Math.min(occurredAtMs, nowMs),
  );
  const shared = { factId, occurredAtMs, contentHash, dispatchId };
  const note = { borrowed: true, reason: body.reason };
  post(book, {
    ...shared,
    entryId: derivedId('borrowing-departure', factId),
    kind: 'dispatch',
    siteId: from.siteId,
    occurredOn: localDate(occurredAtMs, from.timeZone),
    note: { ...note, presumedFrom: lines.filter((line) => line.givenPlaceId === null).map((line) => line.lotId) },
    moves: lines.map(({ lotId, quantity, place }) => ({
      lotId,
      fromAccountId: place.placeId,
      toAccountId: dispatchId,
      quantity,
      basis: 'counted',
    })),
  });
  const receiptId = derivedId('borrowing-receipt', factId);
  const put = lines.map((line) => ({ ...line, placeId: line.toPlace.placeId }));
  const presumed = presumedOf(put);
  post(book, {
    ...shared,
    entryId: receiptId,
    kind: 'receipt',
    siteId: to.siteId,
    occurredOn: localDate(occurredAtMs, to.timeZone),
    note: { ...note, ...(presumed.length > 0 && { presumed }) },
    moves: put.map(({ lotId, quantity, placeId }) => ({
      lotId,
      fromAccountId: dispatchId,
      toAccountId: placeId,
      quantity,
      basis: 'counted',
      reason: 'accepted',
    })),
  });
  const ends = { fromSiteId: from.siteId, toSiteId: to.siteId };
  const left = judgeLeft({ factId, dispatchId, dispatchCode: code, departedAtMs: occurredAtMs, ...ends }, lines, holds);
  const seenAt = ({ lot, toPlace }: BorrowedLine, atMs: number) => ({
    factId,
    lot,
    place: toPlace,
    occurredAtMs: atMs,
    serving: false,
  });
  const ahead = lines.slice(0, 1).flatMap((line) => findingsOf(seenAt(line, occurredAtMs), [], nowMs));
  // From here on only success.
  await insertDispatch(tx, {
    dispatchId,
    code,
    ...ends,
    purpose: 'delivery',
    state: 'closed',
    plannedForMs: null,
    departedAtMs: occurredAtMs,
    vehicle: null,
    driverName: null,
    borrowed: true,
    refusedFromId: null,
  });
  await replaceLines(
    tx,
    dispatchId,
    lines.map(({ lotId, quantity, serials, givenPlaceId }) => ({
      lotId,
      quantity,
      serials,
      placeId: givenPlaceId,
      crateCode: null,
      requirementId: null,
    })),
  );
  await writeBook({ tx, ids, actorId: actor.actorId, nowMs }, book, [], [...left.findings, ...ahead]);
  const receipt = {
    receiptId,
    dispatchId,
    occurredAtMs,
    receivedBy: actor.actorId,
    closes: true,
    note: body.reason ?? null,
  };
  await insertReceipt(
    tx,
    receipt,
    put.map(({ lotId, placeId, quantity }) => ({
      lotId,
      placeId,
      quantity,
      condition: 'accepted',
      temperatureC: null,
    })),
    nowMs,
  );
  await insertHolds(tx, left.holds, actor.actorId, nowMs);
  const open = [...withCarried(book, holds), ...left.holds.map((hold) => reaching(hold, nowMs))];
  return {
    status: 201,
    body: {
      borrowingId: factId,
      dispatchId,
      code,
      ...ends,
      occurredAt: new Date(occurredAtMs).toISOString(),
      lines: put.map((line) => ({
        lotId: line.lotId,
        lotCode: line.lot.code,
        quantity: line.quantity,
        unit: line.lot.unit,
        toPlaceId: line.placeId,
        ...verdict(seenAt(line, nowMs), open),
      })),
      findings: [...left.findings, ...ahead].map(brief),
    },
    siteId: to.siteId,
    headers: { Location: `/v1/dispatches/${dispatchId}` },
  };
}

/** A hold that is being placed, as one that reaches its lot. */
function reaching(
  hold: Pick<ReachingHold, 'holdId' | 'kind' | 'lotId' | 'siteId' | 'accountId'>,
  nowMs: number,
): ReachingHold {
  return { ...hold, useByAtMs: null, rootLotId: hold.lotId, placedAt: new Date(nowMs), liftedAt: null };
}
