/** Reading lots, their history, stock and entries. Refusal: `not-found`. */
import { notFound } from '../../domain/errors.ts';
import { whyNot } from '../../domain/ledger/may.ts';
import type { Context, Reply, SiteScope } from '../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import type { Tx } from '../../platform/db/db.ts';
import { lotAnswer } from './answers.ts';
import type * as contract from './contract-lots.ts';
import { findHoldsReaching } from './holds-store.ts';
import { findVisibleLots, type LotRow } from './lots-store.ts';
import { findEntry, listEntryLines, listHistory, listLotRows, listStockRows } from './queries.ts';

/** The lot, if the actor's sites have to do with it. */
export async function getVisibleLot(tx: Tx, scope: SiteScope, lotId: string): Promise<LotRow> {
  const lot = (await findVisibleLots(tx, scope, [lotId])).get(lotId);
  if (!lot) throw notFound('lot');
  return lot;
}

export async function readLot(context: Context<typeof contract.getLot>): Promise<Reply> {
  const { tx, scope, params, nowMs } = context;
  const lot = await getVisibleLot(tx, scope, params.lotId);
  const holds = await findHoldsReaching(tx, [lot.lotId], nowMs);
  return { status: 200, body: lotAnswer(lot, holds) };
}

export async function readLots(context: Context<typeof contract.listLots>): Promise<Reply> {
  const { tx, scope, query, nowMs } = context;
  const page = pageOf(query, ['uuid']);
  const filter = {
    code: query.code ?? null,
    itemId: query.itemId ?? null,
    batchId: query.batchId ?? null,
    supplierLotCode: query.supplierLotCode ?? null,
  };
  const rows = await listLotRows(tx, scope, filter, page);
  const holds = await findHoldsReaching(
    tx,
    rows.map((row) => row.lotId),
    nowMs,
  );
  return pageReply(
    context.path,
    query,
    page,
    rows.map((row) => lotAnswer(row, holds)),
    (lot) => [lot.lotId],
  );
}

export async function readHistory(context: Context<typeof contract.getLotHistory>): Promise<Reply> {
  const { tx, scope, params, query } = context;
  const page = pageOf(query, ['int', 'int']);
  const lot = await getVisibleLot(tx, scope, params.lotId);
  const rows = await listHistory(tx, lot.lotId, page);
  const reply = pageReply(context.path, query, page, rows, (row) => [String(row.seq), String(row.lineNo)]);
  const body = reply.body as { items: typeof rows; nextCursor: string | null };
  const items = body.items.map(({ lineNo: _lineNo, ...row }) => ({
    ...row,
    occurredAt: row.occurredAt.toISOString(),
    recordedAt: row.recordedAt.toISOString(),
  }));
  return { ...reply, body: { items, nextCursor: body.nextCursor } };
}

export async function readStock(context: Context<typeof contract.listStock>): Promise<Reply> {
  const { tx, scope, query, nowMs } = context;
  const page = pageOf(query, ['time', 'uuid', 'uuid']);
  const filter = { siteId: query.siteId ?? null, placeId: query.placeId ?? null, itemId: query.itemId ?? null };
  const rows = await listStockRows(tx, scope, filter, page);
  const holds = await findHoldsReaching(tx, [...new Set(rows.map((row) => row.lotId))], nowMs);
  const reply = pageReply(context.path, query, page, rows, (row) => [row.useByKey, row.lotId, row.placeId]);
  const body = reply.body as { items: typeof rows; nextCursor: string | null };
  const items = body.items.map(({ useByKey: _key, ...row }) => {
    const covering = holds.filter(
      (hold) =>
        hold.lotId === row.lotId &&
        (hold.siteId === null || hold.siteId === row.siteId) &&
        (hold.accountId === null || hold.accountId === row.placeId),
    );
    const part = {
      lotId: row.lotId,
      lotCode: row.lotCode,
      siteId: row.siteId,
      accountId: row.placeId,
      quarantine: row.quarantine,
      useByMs: row.useByAt?.getTime() ?? null,
      holds: covering,
    };
    const why = whyNot(part, 'serve', nowMs);
    return {
      ...row,
      useByAt: row.useByAt?.toISOString() ?? null,
      holds: covering.map(({ holdId, kind, rootLotId }) => ({ holdId, kind, rootLotId })),
      mayUse: why === null,
      whyNot: why,
    };
  });
  return { ...reply, body: { items, nextCursor: body.nextCursor } };
}

export async function readEntry(context: Context<typeof contract.getEntry>): Promise<Reply> {
  const { tx, scope, params } = context;
  const row = await findEntry(tx, params.entryId);
  if (!row || !(scope.includes(row.siteId) || (row.toSiteId !== null && scope.includes(row.toSiteId)))) {
    throw notFound('entry');
  }
  const lines = await listEntryLines(tx, row.seq, null);
  const body = {
    entryId: row.entryId,
    seq: row.seq,
    kind: row.kind,
    factId: row.factId,
    siteId: row.siteId,
    occurredAt: row.occurredAt.toISOString(),
    occurredOn: row.occurredOn,
    recordedAt: row.recordedAt.toISOString(),
    actorId: row.actorId,
    reversesEntryId: row.reversesEntryId,
    reversedByEntryId: row.reversedByEntryId,
    leafHash: row.leafHash.toString('hex'),
    note: row.note,
    lines: lines.map(({ fromAccountId: _from, toAccountId: _to, ...line }) => line),
  };
  return { status: 200, body };
}
