/**
 * Counts (observations), the use that they show where nobody records use, and lots that were likely taken for each other.
 * A complete count takes the exclusive gate: which lots are at a place must not change between asking and writing.
 * Refusals: `not-found`, `unit-mismatch`, `rule-broken` (a lot named twice, a partial count that names none).
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { enterCount, post, type CountDraft } from '../../domain/ledger/book.ts';
import { fromInstant, isCalendarDate, localDate } from '../../domain/time.ts';
import { NeedsExclusiveGate, type Tx } from '../../platform/db/db.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import { placeAccount, shortfallOf } from './accounts.ts';
import { entryAnswer } from './answers.ts';
import { loadBalancesAt, loadBook } from './book.ts';
import { writeBook } from './write.ts';
import { draftOf, getPlace, reply, requireUnit, writer } from './commands-stock.ts';
import type * as contract from './contract-counts.ts';
import { listDerivedUseRows, listLikelySwapRows, listLotsAt, type DerivedUseRow } from './counts-queries.ts';
import type { FindingDraft } from './findings-store.ts';
import { findLots, type LotRow } from './lots-store.ts';
import { AHEAD_TOLERANCE_MS } from './observe.ts';

type CountContext = Context<typeof contract.createStockCount>;

/** The lots named: known, each once, in their own unit. */
async function requireLines({ body, tx }: CountContext): Promise<string[]> {
  const lotIds = body.lines.map((line) => line.lotId);
  const lots = await findLots(tx, lotIds);
  if (lotIds.some((lotId) => !lots.has(lotId))) throw notFound('lot');
  if (new Set(lotIds).size < lotIds.length) throw new Refused('rule-broken', 'A lot is counted once in one count.');
  if (lotIds.length === 0 && !body.complete) {
    throw new Refused('rule-broken', 'A count that is not complete names at least one lot.');
  }
  for (const [at, line] of body.lines.entries()) {
    requireUnit(lots.get(line.lotId) as LotRow, line.unit, `#/lines/${at}/unit`);
  }
  return lotIds;
}

/** Lots that may be at the place at that time and that the count does not name. */
async function unnamedLots(tx: Tx, count: CountDraft): Promise<string[]> {
  if (!count.complete) return [];
  const named = new Set(count.lines.map((line) => line.lotId));
  const accounts = [count.accountId, shortfallOf(count.accountId)];
  return (await listLotsAt(tx, accounts, count.occurredAtMs)).filter((lotId) => !named.has(lotId));
}

export async function count(context: CountContext): Promise<Reply> {
  const { body, tx, nowMs, factId } = context;
  if (body.complete && tx.mode !== 'exclusive') throw new NeedsExclusiveGate();
  const place = await getPlace(context, body.placeId);
  const lotIds = await requireLines(context);
  const occurredAtMs = fromInstant(body.occurredAt);
  const told: CountDraft = {
    countId: factId,
    accountId: place.placeId,
    siteId: place.siteId,
    occurredAtMs,
    occurredOn: localDate(occurredAtMs, place.timeZone),
    usedByCount: place.usedByCount,
    complete: body.complete ?? false,
    lines: body.lines.map((line) => ({ lotId: line.lotId, counted: line.quantity })),
  };
  const unnamed = await unnamedLots(tx, told);
  const asked = [...lotIds, ...unnamed];
  const account = placeAccount(place.placeId, place.siteId);
  // The place is touched whatever is there: its account must stand for the count to hang on.
  const book = await loadBook(
    tx,
    asked.map((lotId) => ({ lotId, account })),
    [place.siteId],
    { accounts: [account], sinceMs: occurredAtMs },
  );
  const before = await loadBalancesAt(
    tx,
    asked.map((lotId) => ({ ...told, lotId })),
  );
  const { lines, moves } = enterCount(book, told, unnamed, before);
  post(book, { ...draftOf(context, 'stock-count', place, occurredAtMs, moves), countId: factId });
  const ahead = aheadOf(told, nowMs);
  // From here on only success.
  const written = await writeBook(writer(context), book, [told], ahead);
  const used = told.usedByCount ? await listDerivedUseRows(tx, context.scope, { ...ANY, countId: factId }, null) : [];
  return reply(context, place.siteId, {
    ...entryAnswer(written, factId, nowMs, ahead),
    complete: told.complete,
    usedByCount: told.usedByCount,
    lines: lines.map(({ difference, ...line }) => ({ ...line, ...split(difference, told.usedByCount) })),
    derivedUse: used.map(({ lotId, quantity, fromAt, toAt }) => ({
      lotId,
      quantity,
      fromAt: fromAt.toISOString(),
      toAt: toAt.toISOString(),
    })),
  });
}

function split(difference: number, usedByCount: boolean): { variance: number; used: number } {
  return usedByCount && difference < 0 ? { variance: 0, used: -difference } : { variance: difference, used: 0 };
}

function aheadOf(told: CountDraft, nowMs: number): FindingDraft[] {
  const { countId, siteId, occurredAtMs, lines } = told;
  if (occurredAtMs <= nowMs + AHEAD_TOLERANCE_MS) return [];
  const detail = { aheadMs: occurredAtMs - nowMs, factId: countId };
  const lotId = lines[0]?.lotId ?? null;
  return [{ kind: 'time-ahead', subject: countId, siteId, lotId, quantity: null, occurredAtMs, detail }];
}

const ANY = { siteId: null, from: null, to: null, countId: null };

export async function readDerivedUses(context: Context<typeof contract.listDerivedUses>): Promise<Reply> {
  const { tx, scope, query } = context;
  for (const [name, day] of Object.entries({ from: query.from, to: query.to })) {
    if (day === undefined || isCalendarDate(day)) continue;
    const detail = `${day} is not on the calendar.`;
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: `#/query/${name}` }] });
  }
  const page = pageOf(query, ['time', 'uuid', 'uuid']);
  const filter = { ...ANY, siteId: query.siteId ?? null, from: query.from ?? null, to: query.to ?? null };
  const rows = await listDerivedUseRows(tx, scope, filter, page);
  const shown = rows.map((row: DerivedUseRow) => ({
    ...row,
    fromAt: row.fromAt.toISOString(),
    toAt: row.toAt.toISOString(),
  }));
  return pageReply(context.path, query, page, shown, (row) => [row.toAt, row.countId, row.lotId]);
}

/** How far back counts are looked at for swaps: two weeks, as long as packs are commonly kept (common practice). */
const SWAP_WINDOW_MS = 14 * 86_400_000;

export async function readLikelySwaps(context: Context<typeof contract.listLikelySwaps>): Promise<Reply> {
  const { tx, scope, query, nowMs } = context;
  const page = pageOf(query, ['time', 'uuid', 'uuid', 'uuid']);
  const rows = await listLikelySwapRows(tx, scope, query.siteId ?? null, nowMs - SWAP_WINDOW_MS, page);
  const shown = rows.map((row) => ({ ...row, seenAt: row.seenAt.toISOString() }));
  return pageReply(context.path, query, page, shown, (row) => [
    row.seenAt,
    row.placeId,
    row.short.lotId,
    row.surplus.lotId,
  ]);
}
