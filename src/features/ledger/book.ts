/**
 * Loading and writing a book. Lock order: gate (taken by the platform), batch or dispatch (taken by the caller), balances
 * by (lot, account), group head.
 */
import { createHash } from 'node:crypto';
import {
  openBook,
  partKey,
  type Book,
  type CountDraft,
  type CountHead,
  type CountMark,
  type EntryDraft,
  type Move,
} from '../../domain/ledger/book.ts';
import { utc } from '../../domain/time.ts';
import type { Tx } from '../../platform/db/db.ts';
import type { Ids } from '../../platform/ids.ts';
import { accountRows, outside, shortfallOf, type PhysicalRef } from './accounts.ts';
import { clearFindings, openFindings, type FindingDraft } from './findings-store.ts';
import { carryDates } from './part-dates-carried.ts';
import { refreshPresumed } from './presumed.ts';
import {
  addToOutside,
  addToPhysical,
  ensureAccounts,
  ensureBalances,
  insertCountLines,
  insertCounts,
  insertEntries,
  insertPostings,
  lockBalances,
  readBalancesAt,
  readCounts,
  readDifferences,
  readNets,
  takeSeqs,
  type BalanceDelta,
  type PartId,
} from './store-book.ts';

export interface PartRef {
  readonly lotId: string;
  readonly account: PhysicalRef;
}

interface LoadOptions {
  /** accounts that must stand although no part of them may be touched */
  readonly accounts?: readonly PhysicalRef[];
  /** nothing will be posted before it: older complete counts, of which a place may have thousands, are left out */
  readonly sinceMs?: number;
}

/**
 * Locks the parts in key order and reads what is there.
 * @param siteIds more sites whose outside accounts will be posted to
 */
export async function loadBook(
  tx: Tx,
  parts: readonly PartRef[],
  siteIds: readonly string[] = [],
  { accounts = [], sinceMs }: LoadOptions = {},
): Promise<Book> {
  const touched = [...accounts, ...parts.map((part) => part.account)];
  const refs = [...new Map(touched.map((account) => [account.accountId, account])).values()];
  const twins = new Map(refs.map((ref) => [ref.accountId, shortfallOf(ref.accountId)]));
  // Thousands of scans touch the same few parts.
  const distinct = new Map(parts.map((part) => [`${part.lotId}|${part.account.accountId}`, part]));
  const keys = Array.from(distinct.values(), ({ lotId, account }) => ({
    lot_id: lotId,
    account_id: account.accountId,
    twin_id: twins.get(account.accountId) ?? '',
  })).sort((a, b) => (a.lot_id === b.lot_id ? (a.account_id < b.account_id ? -1 : 1) : a.lot_id < b.lot_id ? -1 : 1));
  await ensureAccounts(tx, accountRows(refs, siteIds));
  await ensureBalances(tx, keys);
  await lockBalances(tx, keys);
  const nets = await readNets(tx, keys);
  const counts = await loadCounts(tx, keys, sinceMs ?? null);
  const physical = refs.map((ref) => ({
    accountId: ref.accountId,
    twinId: twins.get(ref.accountId) ?? '',
    // what is missing from a van is missing from the site that sent it
    varianceId: outside('variance', ref.siteId),
    servedId: outside('served', ref.siteId),
  }));
  const held = new Map(nets.map((row) => [partKey(row), row.net]));
  const dates = new Map(nets.flatMap((row) => (row.ownDate ? [[partKey(row), row.ownDate] as const] : [])));
  return openBook(physical, held, counts.lines, counts.complete, counts.differences, sinceMs, dates);
}

interface StandingCounts {
  readonly lines: readonly CountMark[];
  readonly complete: readonly CountHead[];
  readonly differences: ReadonlyMap<string, number>;
}

/** What stands against these parts. Only a place used by count needs to know what was posted: elsewhere a change is enough. */
async function loadCounts(tx: Tx, keys: readonly PartId[], sinceMs: number | null): Promise<StandingCounts> {
  const rows = await readCounts(tx, keys, sinceMs);
  const used = new Set(rows.flatMap((row) => (row.usedByCount ? [row.accountId] : [])));
  const lotIds = [...new Set(keys.map((key) => key.lot_id))];
  const posted = used.size > 0 ? await readDifferences(tx, lotIds, [...used]) : [];
  const lines: CountMark[] = [];
  const complete: CountHead[] = [];
  for (const { occurredAt, lotId, ...row } of rows) {
    const head = { ...row, occurredAtMs: occurredAt.getTime() };
    if (lotId === null) complete.push(head);
    else lines.push({ ...head, lotId });
  }
  const differences = posted.map((row) => [`${row.countId}|${partKey(row)}`, row.difference] as const);
  return { lines, complete, differences: new Map(differences) };
}

/** What the parts of counts held just before them, from what is recorded already. By `markKey`. */
export async function loadBalancesAt(
  tx: Tx,
  marks: readonly Pick<CountMark, 'countId' | 'lotId' | 'accountId' | 'occurredAtMs'>[],
): Promise<Map<string, number>> {
  const rows = await readBalancesAt(
    tx,
    marks.map((mark) => ({
      lotId: mark.lotId,
      accountId: mark.accountId,
      twinId: shortfallOf(mark.accountId),
      countId: mark.countId,
      at: utc(mark.occurredAtMs),
    })),
  );
  return new Map(rows.map((row) => [`${row.countId}|${partKey(row)}`, row.quantity]));
}

export interface WriteContext {
  readonly tx: Tx;
  readonly ids: Ids;
  readonly actorId: string;
  readonly nowMs: number;
}

export interface WrittenEntry {
  readonly seq: number;
  readonly entryId: string;
  readonly draft: EntryDraft;
}

/** sha256(0x00, content hash, seq, recordedAt in µs), both numbers as big-endian 64-bit. */
function leafHash(contentHash: Buffer, seq: number, recordedAtUs: number): Buffer {
  const numbers = Buffer.alloc(16);
  numbers.writeBigUInt64BE(BigInt(seq), 0);
  numbers.writeBigUInt64BE(BigInt(recordedAtUs), 8);
  return createHash('sha256')
    .update(Buffer.from([0]))
    .update(contentHash)
    .update(numbers)
    .digest();
}

/** Writes what the book accepted, and nothing that follows from it: `writeBook` of write.ts does both. */
export async function writeEntries(
  { tx, ids, actorId, nowMs }: WriteContext,
  book: Book,
  counts: readonly CountDraft[] = [],
  findings: readonly FindingDraft[] = [],
): Promise<WrittenEntry[]> {
  if (book.accepted.length === 0) {
    await openFindings(tx, findings, nowMs);
    return [];
  }
  const { lastSeq, recordedAtUs } = await takeSeqs(tx, book.accepted.length, nowMs);
  const firstSeq = lastSeq - book.accepted.length + 1;
  const written = book.accepted.map(({ draft }, at) => ({
    seq: firstSeq + at,
    entryId: draft.entryId || ids.newId(),
    draft,
  }));
  await insertEntries(
    tx,
    written.map((entry) => entryRow(entry, actorId, recordedAtUs)),
    recordedAtUs,
  );
  const postings = book.accepted.flatMap(({ draft, postings: moves }, at) =>
    moves.map((move, line) => postingRow(move, draft, firstSeq + at, line + 1)),
  );
  await insertPostings(tx, postings);
  await insertCounts(
    tx,
    counts.map(({ lines: _lines, ...head }) => head),
  );
  await insertCountLines(
    tx,
    counts.flatMap(({ countId, accountId, occurredAtMs, lines }) =>
      lines.map((line) => ({ countId, accountId, occurredAtMs, lotId: line.lotId, counted: line.counted })),
    ),
  );
  const deltas = balanceDeltas(book);
  await addToPhysical(
    tx,
    deltas.filter((delta) => delta.sign !== 0),
  );
  await addToOutside(
    tx,
    deltas.filter((delta) => delta.sign === 0),
  );
  const { short, settled } = shortfalls(book);
  await clearFindings(tx, 'shortfall', settled);
  await openFindings(tx, [...short, ...findings], nowMs);
  const counted = counts.flatMap(({ accountId, lines }) => lines.map(({ lotId }) => partKey({ lotId, accountId })));
  await refreshPresumed(tx, book, counted, nowMs);
  if (book.dates.size > 0) await carryDates(tx, book, actorId, nowMs);
  return written;
}

/** What is not there is left out: absent reads as null, and thousands of nulls take time to send. */
function entryRow({ seq, entryId, draft }: WrittenEntry, actorId: string, recordedAtUs: number): object {
  return {
    seq,
    entry_id: entryId,
    kind: draft.kind,
    fact_id: draft.factId,
    site_id: draft.siteId,
    occurred_at_ms: draft.occurredAtMs,
    occurred_on: draft.occurredOn,
    actor_id: actorId,
    clock_offset_ms: draft.clockOffsetMs,
    content_hash: draft.contentHash.toString('hex'),
    leaf_hash: leafHash(draft.contentHash, seq, recordedAtUs).toString('hex'),
    reverses_entry_id: draft.reversesEntryId,
    batch_id: draft.batchId,
    packing_run_id: draft.packingRunId,
    dispatch_id: draft.dispatchId,
    count_id: draft.countId,
    scan_id: draft.scanId,
    note: draft.note,
  };
}

function postingRow(move: Move, draft: EntryDraft, seq: number, lineNo: number): object {
  return {
    seq,
    line_no: lineNo,
    lot_id: move.lotId,
    from_account_id: move.fromAccountId,
    to_account_id: move.toAccountId,
    quantity: move.quantity,
    basis: move.basis,
    reason: move.reason,
    destination: move.destination,
    material: move.material,
    occurred_at_ms: draft.occurredAtMs,
    occurred_on: draft.occurredOn,
  };
}

function balanceDeltas(book: Book): BalanceDelta[] {
  const signs = new Map<string, number>();
  for (const account of book.physical.values()) {
    signs.set(account.accountId, 1);
    signs.set(account.twinId, -1);
  }
  const sums = new Map<string, BalanceDelta>();
  const add = (lotId: string, accountId: string, quantity: number) => {
    const key = `${lotId}|${accountId}`;
    const delta = (sums.get(key)?.delta ?? 0) + quantity;
    sums.set(key, { lot_id: lotId, account_id: accountId, sign: signs.get(accountId) ?? 0, delta });
  };
  for (const { postings } of book.accepted) {
    for (const move of postings) {
      add(move.lotId, move.fromAccountId, -move.quantity);
      add(move.lotId, move.toAccountId, move.quantity);
    }
  }
  return [...sums.values()].filter((row) => row.delta !== 0);
}

/** A part that is short now has an open finding; one that is not has none. */
function shortfalls(book: Book): { short: FindingDraft[]; settled: string[] } {
  const short: FindingDraft[] = [];
  const settled: string[] = [];
  const last = new Map<string, EntryDraft>();
  for (const { draft, postings } of book.accepted) {
    for (const move of draft.moves.length > 0 ? draft.moves : postings) {
      last.set(partKey({ lotId: move.lotId, accountId: move.fromAccountId }), draft);
      last.set(partKey({ lotId: move.lotId, accountId: move.toAccountId }), draft);
    }
  }
  for (const key of book.touched) {
    const net = book.nets.get(key) ?? 0;
    const [lotId = '', accountId = ''] = key.split('|');
    const draft = last.get(key);
    if (net >= 0) settled.push(key);
    else if (draft) {
      short.push({
        kind: 'shortfall',
        subject: key,
        siteId: draft.siteId,
        lotId,
        quantity: -net,
        occurredAtMs: draft.occurredAtMs,
        detail: { accountId, missing: -net, factId: draft.factId },
      });
    }
  }
  return { short, settled };
}
