/**
 * Moves within a site. Asked for, a move is refused for stock; recorded afterwards it always posts, and what was not booked there
 * is a shortfall. Refusals: `not-found`, `unit-mismatch`, `same-place`; of a request also `insufficient-stock`, `time-in-future`,
 * `rule-broken` (pieces into a bin).
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { netOf, post } from '../../domain/ledger/book.ts';
import { refusalFor } from '../../domain/ledger/may.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { findPlaces } from '../catalogue/index.ts';
import { placeAccount } from './accounts.ts';
import { entryAnswer } from './answers.ts';
import { loadBook } from './book.ts';
import { writeBook } from './write.ts';
import { requirePast, requireUnit } from './commands-stock.ts';
import type * as contract from './contract-moves.ts';
import { findHoldsReaching } from './holds-store.ts';
import { findLots, findVisibleLots } from './lots-store.ts';
import { findingsOf, partFacts, shortfallNow } from './observe.ts';

/** Asked for or recorded: the same fields, but that what is recorded has its time. */
type Moving = Omit<Context, 'body'> & Pick<Context<typeof contract.createMove>, 'body'>;

export const move = (context: Moving): Promise<Reply> => carry(context, 'request');

export const recordMove = (context: Context<typeof contract.createRecordedMove>): Promise<Reply> =>
  carry(context, 'observation');

async function carry(context: Moving, mode: 'request' | 'observation'): Promise<Reply> {
  const { body, tx, scope, factId, nowMs, ids, actor } = context;
  const asked = mode === 'request';
  const occurredAtMs = body.occurredAt ? fromInstant(body.occurredAt) : nowMs;
  const places = await findPlaces(tx, [body.fromPlaceId, body.toPlaceId]);
  const from = places.get(body.fromPlaceId);
  const to = places.get(body.toPlaceId);
  if (!from || !to || !scope.includes(from.siteId) || !scope.includes(to.siteId)) throw notFound('place');
  const lots = asked ? await findVisibleLots(tx, scope, [body.lotId]) : await findLots(tx, [body.lotId]);
  const lot = lots.get(body.lotId);
  if (!lot) throw notFound('lot');
  requireUnit(lot, body.unit);
  if (asked) requirePast(occurredAtMs, nowMs);
  if (from.placeId === to.placeId) throw new Refused('same-place', 'The two places are the same.');
  if (from.siteId !== to.siteId) throw new Refused('same-place', 'Between sites food goes by dispatch.');
  if (asked && to.bin && lot.unit === 'piece')
    throw new Refused('rule-broken', `${to.name} is a bin: what comes in pieces can be told apart and is kept by lot.`);
  const book = await loadBook(
    tx,
    [from, to].map((place) => ({ lotId: lot.lotId, account: placeAccount(place.placeId, place.siteId) })),
  );
  if (asked) {
    const holds = await findHoldsReaching(tx, [lot.lotId], nowMs);
    const available = netOf(book, { lotId: lot.lotId, accountId: from.placeId });
    const part = partFacts(lot, from, holds);
    const refusal = refusalFor(part, 'move-within-site', nowMs, body.quantity, available, '#/quantity');
    if (refusal) throw refusal;
  }
  const line = {
    lotId: lot.lotId,
    fromAccountId: from.placeId,
    toAccountId: to.placeId,
    quantity: body.quantity,
    basis: 'counted' as const,
  };
  post(book, {
    entryId: factId,
    kind: 'move',
    factId,
    siteId: from.siteId,
    occurredAtMs,
    occurredOn: localDate(occurredAtMs, from.timeZone),
    contentHash: context.contentHash,
    moves: [line],
  });
  // Food may be moved within its site whatever stands against its use.
  const findings = findingsOf({ factId, lot, place: from, occurredAtMs, serving: false }, [], nowMs);
  // From here on only success.
  const written = await writeBook({ tx, ids, actorId: actor.actorId, nowMs }, book, [], findings);
  const shown = [...findings, ...shortfallNow(book, lot, from, occurredAtMs, factId)];
  return {
    status: 201,
    body: entryAnswer(written, factId, nowMs, shown),
    siteId: from.siteId,
    headers: { Location: `/v1/entries/${factId}` },
  };
}
