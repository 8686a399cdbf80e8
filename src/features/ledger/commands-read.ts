/** Reading lots, their history, stock and entries. Refusals: `not-found`, `use-by-later-than-computed`, `rule-broken`. */
import { endOfDateMs } from '../../domain/birth.ts';
import { notFound, Refused } from '../../domain/errors.ts';
import { whyNot } from '../../domain/ledger/may.ts';
import { fromInstant, utc } from '../../domain/time.ts';
import type { Context, Reply, SiteScope } from '../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import type { Tx } from '../../platform/db/db.ts';
import { outbox } from '../../platform/jobs.ts';
import { lotAnswer } from './answers.ts';
import type * as contract from './contract-lots.ts';
import { getCutAt } from './cuts.ts';
import { findHoldsReaching, holdBriefs } from './holds-store.ts';
import { listEdgesFrom, spreadUseBy } from './edges-store.ts';
import { findVisibleLots, listLotChanges, tightenUseBy, type LotRow } from './lots-store.ts';
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
  return { status: 200, body: await lotDetail(tx, lot, nowMs) };
}

/** The lot as an answer, with what became stricter since its birth. */
export async function lotDetail(tx: Tx, lot: LotRow, nowMs: number): Promise<object> {
  const holds = await findHoldsReaching(tx, [lot.lotId], nowMs);
  const changes = await listLotChanges(tx, lot.lotId);
  const shown = changes.map((change) => ({ ...change, recordedAt: change.recordedAt.toISOString() }));
  return { ...lotAnswer(lot, holds), changes: shown };
}

/** A date is brought forward by a person; it never goes back by itself. */
export async function bringForward(context: Context<typeof contract.createUseByChange>): Promise<Reply> {
  const { tx, scope, params, body, nowMs, factId, actor } = context;
  const lot = await getVisibleLot(tx, scope, params.lotId);
  // The date holds wherever the lot is: only those who may act at all of these sites may say so.
  if (!scope.all && !scope.includes(lot.siteId)) throw notFound('lot');
  const endsAtMs = endOfDateMs(body.useByDate, lot.siteTimeZone, '#/useByDate');
  if (lot.useByAtMs !== null && endsAtMs >= lot.useByAtMs) {
    throw new Refused('use-by-later-than-computed', `The one in force ends at ${utc(lot.useByAtMs)}.`);
  }
  const edges = await listEdgesFrom(tx, lot.lotId);
  // From here on only success.
  const change = { changeId: factId, lotId: lot.lotId, endsAtMs, date: body.useByDate, reason: body.reason };
  await tightenUseBy(tx, { ...change, actorId: actor.actorId }, nowMs);
  if (edges.length > 0) await spreadUseBy(tx, edges, actor.actorId, nowMs);
  await outbox(tx, 'use-by-brought-forward', { lotId: lot.lotId, useByDate: body.useByDate }, nowMs);
  return {
    status: 201,
    body: await lotDetail(tx, await getVisibleLot(tx, scope, lot.lotId), nowMs),
    siteId: lot.siteId,
    headers: { Location: `/v1/lots/${lot.lotId}` },
  };
}

export async function readLots(context: Context<typeof contract.listLots>): Promise<Reply> {
  const { tx, scope, query, nowMs } = context;
  const page = pageOf(query, ['uuid']);
  const filter = {
    code: query.code ?? null,
    itemId: query.itemId ?? null,
    batchId: query.batchId ?? null,
    supplierLotCode: query.supplierLotCode ?? null,
    supplierId: query.supplierId ?? null,
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
  const cut = query.recordedAt === undefined ? null : await getCutAt(tx, fromInstant(query.recordedAt), nowMs);
  const filter = {
    siteId: query.siteId ?? null,
    placeId: query.placeId ?? null,
    itemId: query.itemId ?? null,
    cutSeq: cut?.seq ?? null,
  };
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
      holds: holdBriefs(covering),
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
    deviceId: row.deviceId,
    deputyId: row.deputyId,
    reversesEntryId: row.reversesEntryId,
    reversedByEntryId: row.reversedByEntryId,
    leafHash: row.leafHash.toString('hex'),
    note: row.note,
    lines: lines.map(({ fromAccountId: _from, toAccountId: _to, ...line }) => line),
  };
  return { status: 200, body };
}
