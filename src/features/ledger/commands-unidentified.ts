/**
 * Packs without a readable label. Finding: `unidentified-pack`, until a person identifies or discards it. Refusals: `not-found`,
 * `wrong-state` (decided already), `unit-mismatch`, `serials-do-not-fit`, `same-place`, `discard-reason-unknown`.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { post } from '../../domain/ledger/book.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import { findPlaces, findSites, listWasteReasons } from '../catalogue/index.ts';
import { placeAccount } from './accounts.ts';
import { loadBook } from './book.ts';
import { writeBook } from './write.ts';
import { requireUnit } from './commands-stock.ts';
import type * as contract from './contract-unidentified.ts';
import { checkDiscardReason } from './discard-reasons.ts';
import { clearFindings, openFindings, type FindingDraft } from './findings-store.ts';
import { findLots, type LotRow } from './lots-store.ts';
import { verdict } from './observe.ts';
import {
  decideUnidentified,
  findUnidentified,
  insertUnidentified,
  listUnidentified,
  lockUnidentified,
  type UnidentifiedRow,
} from './unidentified-store.ts';

function packAnswer(row: UnidentifiedRow) {
  return {
    ...row,
    foundAt: row.foundAt.toISOString(),
    recordedAt: row.recordedAt.toISOString(),
    decidedAt: row.decidedAt?.toISOString() ?? null,
  };
}

async function packReply(context: Context, packId: string, more: object = {}): Promise<Reply> {
  const row = await findUnidentified(context.tx, packId);
  if (!row) throw new Error(`the pack ${packId} cannot be read back`);
  const headers = { Location: `/v1/unidentified-packs/${packId}` };
  return { status: 201, body: { ...packAnswer(row), ...more }, siteId: row.siteId, headers };
}

export async function recordUnidentified(context: Context<typeof contract.createUnidentifiedPack>): Promise<Reply> {
  const { body, tx, scope, factId, nowMs, actor } = context;
  const site = (await findSites(tx, [body.siteId])).get(body.siteId);
  const place = (await findPlaces(tx, body.placeId ? [body.placeId] : [])).get(body.placeId ?? '');
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  if (body.placeId && place?.siteId !== site.siteId) throw notFound('place');
  const foundAtMs = fromInstant(body.foundAt);
  const { siteId } = site;
  const { description, quantity } = body;
  const finding: FindingDraft = {
    kind: 'unidentified-pack',
    subject: factId,
    siteId,
    lotId: null,
    quantity,
    occurredAtMs: foundAtMs,
    detail: { description, placeId: body.placeId ?? null, quarantinePlaceId: site.quarantinePlaceId, factId },
  };
  // From here on only success.
  const pack = { unidentifiedPackId: factId, siteId, placeId: body.placeId ?? null, description, quantity, foundAtMs };
  await insertUnidentified(tx, { ...pack, foundBy: actor.actorId }, nowMs);
  await openFindings(tx, [finding], nowMs);
  return packReply(context, factId);
}

export async function readUnidentified(context: Context<typeof contract.getUnidentifiedPack>): Promise<Reply> {
  const row = await findUnidentified(context.tx, context.params.unidentifiedPackId);
  if (!row || !context.scope.includes(row.siteId)) throw notFound('unidentified pack');
  return { status: 200, body: packAnswer(row) };
}

export async function readUnidentifiedPacks(context: Context<typeof contract.listUnidentifiedPacks>): Promise<Reply> {
  const { query } = context;
  const page = pageOf(query, ['uuid']);
  const filter = { siteId: query.siteId ?? null, state: query.state ?? null };
  const rows = await listUnidentified(context.tx, context.scope, filter, page);
  return pageReply(context.path, query, page, rows.map(packAnswer), (row) => [row.unidentifiedPackId]);
}

function requireUndecided(pack: UnidentifiedRow): void {
  if (pack.state !== 'open') throw new Refused('wrong-state', `That pack was ${pack.state} already.`);
}

/** How much of the lot was found, in the lot's own unit. */
function quantityFound(
  pack: UnidentifiedRow,
  lot: LotRow,
  said: { quantity?: number | undefined; unit?: string | undefined; serial?: string | undefined },
): number {
  if (said.unit !== undefined) requireUnit(lot, said.unit);
  if (lot.unit !== 'piece' && (said.quantity === undefined || said.unit === undefined)) {
    const detail = `Lot ${lot.code} is kept in ${lot.unit}: say in quantity and unit how much was found.`;
    throw new Refused('unit-mismatch', detail, {
      errors: [{ detail, pointer: '#/quantity' }],
      members: { unit: lot.unit },
    });
  }
  const quantity = said.quantity ?? pack.quantity;
  if (said.serial === undefined) return quantity;
  const wrong = !lot.serialised
    ? `Lot ${lot.code} is counted; its packs have no serials.`
    : Number(said.serial) > lot.quantity
      ? `Lot ${lot.code} has serials 1 to ${lot.quantity}.`
      : quantity === 1
        ? null
        : 'A serial names one pack; record the others by themselves.';
  if (wrong !== null)
    throw new Refused('serials-do-not-fit', wrong, { errors: [{ detail: wrong, pointer: '#/serial' }] });
  return quantity;
}

export async function identify(context: Context<typeof contract.createPackIdentification>): Promise<Reply> {
  const { body, tx, scope, params, factId, nowMs, actor } = context;
  const pack = await lockUnidentified(tx, params.unidentifiedPackId);
  const lot = (await findLots(tx, [body.lotId])).get(body.lotId);
  const site = (await findSites(tx, pack ? [pack.siteId] : [])).get(pack?.siteId ?? '');
  const from = (await findPlaces(tx, body.fromPlaceId ? [body.fromPlaceId] : [])).get(body.fromPlaceId ?? '');
  if (!pack || !site || !scope.includes(pack.siteId)) throw notFound('unidentified pack');
  if (!lot) throw notFound('lot');
  if (body.fromPlaceId && from?.siteId !== pack.siteId) throw notFound('place');
  requireUndecided(pack);
  const quantity = quantityFound(pack, lot, body);
  const toPlaceId = pack.quarantinePlaceId;
  if (from?.placeId === toPlaceId) throw new Refused('same-place', 'In the book they are in quarantine already.');
  const places = from ? [from.placeId, toPlaceId] : [];
  const book = await loadBook(
    tx,
    places.map((placeId) => ({ lotId: lot.lotId, account: placeAccount(placeId, pack.siteId) })),
    [pack.siteId],
  );
  const occurredAtMs = pack.foundAt.getTime();
  if (from) {
    post(book, {
      entryId: factId,
      kind: 'move',
      factId,
      siteId: pack.siteId,
      occurredAtMs,
      occurredOn: localDate(occurredAtMs, site.timeZone),
      contentHash: context.contentHash,
      note: { unidentifiedPackId: pack.unidentifiedPackId, note: body.note },
      moves: [{ lotId: lot.lotId, fromAccountId: from.placeId, toAccountId: toPlaceId, quantity, basis: 'counted' }],
    });
  }
  // From here on only success.
  await writeBook({ tx, ids: context.ids, actorId: actor.actorId, nowMs }, book);
  const decision = { unidentifiedPackId: pack.unidentifiedPackId, decisionId: factId, decidedBy: actor.actorId };
  const { serial, note } = body;
  await decideUnidentified(tx, { ...decision, state: 'identified', lotId: lot.lotId, serial, note }, nowMs);
  await clearFindings(tx, 'unidentified-pack', [pack.unidentifiedPackId]);
  const place = { placeId: toPlaceId, siteId: pack.siteId, quarantine: true };
  const seen = { factId, lot, place, occurredAtMs: nowMs, serving: false };
  // Whatever holds there are: it is quarantine that whoever has the pack in hand must hear of.
  return packReply(context, pack.unidentifiedPackId, { moved: from ? quantity : 0, ...verdict(seen, []) });
}

export async function dispose(context: Context<typeof contract.createPackDisposal>): Promise<Reply> {
  const { body, tx, scope, params, factId, nowMs, actor } = context;
  const pack = await lockUnidentified(tx, params.unidentifiedPackId);
  if (!pack || !scope.includes(pack.siteId)) throw notFound('unidentified pack');
  requireUndecided(pack);
  const { reason, destination, note } = body;
  checkDiscardReason((await listWasteReasons(tx, [pack.siteId])).get(pack.siteId), body);
  // From here on only success.
  const decision = { unidentifiedPackId: pack.unidentifiedPackId, decisionId: factId, decidedBy: actor.actorId };
  await decideUnidentified(tx, { ...decision, state: 'discarded', reason, destination, note }, nowMs);
  await clearFindings(tx, 'unidentified-pack', [pack.unidentifiedPackId]);
  return packReply(context, pack.unidentifiedPackId);
}
