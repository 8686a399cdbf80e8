/**
 * Gives numbers to what is committed. Never misses: a number is given by a statement that begins after the head is locked and sees only
 * what is committed; what commits later gets a later one. Never repeats: rows of the outbox are marked, entries are counted by the head,
 * in the transaction that numbers them, and a source has one number by its key. Whoever reads does it, and a job.
 */
import { derivedId } from '../../../platform/ids.ts';
import type { Tx } from '../../../platform/db/db.ts';
import {
  describeEntry,
  describeRow,
  holdIdsOf,
  lotIdsOf,
  placedIdsOf,
  recallIdsOf,
  type EventDraft,
  type Lookups,
} from './describe.ts';
import * as sources from './sources.ts';
import { insertEvents, lockHead, moveHead, type NumberedEvent } from './store.ts';

/** Rows of each kind in one transaction; who waits for the lock waits for no more than that. */
const BATCH = 500;

const byId = <Row extends { id: string }>(rows: readonly Row[]): Map<string, Row> =>
  new Map(rows.map((row) => [row.id, row]));

async function lookUp(tx: Tx, rows: readonly sources.PendingRow[]): Promise<Lookups> {
  const payloads = rows.map((row) => row.payload);
  const some = <Row>(ids: string[], read: (tx: Tx, ids: string[]) => Promise<Row[]>): Promise<Row[]> =>
    ids.length === 0 ? Promise.resolve([]) : read(tx, [...new Set(ids)]);
  const recalls = await some(payloads.flatMap(recallIdsOf), sources.listRecallsAbout);
  const holdIds = [...payloads.flatMap(holdIdsOf), ...recalls.map((one) => one.holdId)];
  return {
    recalls: byId(recalls),
    holds: byId(await some(holdIds, sources.listHoldsAbout)),
    lots: byId(await some(payloads.flatMap(lotIdsOf), sources.listLotsAbout)),
    sites: byId(await some(payloads.flatMap(placedIdsOf), sources.listSitesAbout)),
  };
}

/** By when it was recorded; of one moment, entries first: what follows from an entry comes after it. */
const inOrder = (drafts: readonly EventDraft[]): EventDraft[] =>
  [...drafts].sort((a, b) => a.recordedAtMs - b.recordedAtMs);

/**
 * One batch, in a transaction of mode `write`. Answers whether there may be more.
 *
 * The head is locked by a statement of its own: the next one begins after the lock is there, so it sees all that the one who had it before
 * has numbered.
 */
export async function numberEvents(tx: Tx, nowMs: number): Promise<{ numbered: number; more: boolean }> {
  const head = await lockHead(tx);
  const entries = await sources.listPendingEntries(tx, head.lastSeq, BATCH);
  const rows = await sources.listPendingRows(tx, BATCH);
  if (entries.length + rows.length === 0) return { numbered: 0, more: false };
  const known = await lookUp(tx, rows);
  const drafts = inOrder([...entries.map(describeEntry), ...rows.flatMap((row) => describeRow(row, known))]);
  const events: NumberedEvent[] = drafts.map((draft, at) => ({
    ...draft,
    eventNo: head.lastNo + 1 + at,
    eventId: derivedId(`event-${draft.source}`, tx.groupId),
  }));
  if (events.length > 0) await insertEvents(tx, events, nowMs);
  if (rows.length > 0) {
    await sources.markNumbered(
      tx,
      rows.map((row) => row.outboxId),
      nowMs,
    );
  }
  await moveHead(tx, head.lastNo + events.length, entries.at(-1)?.seq ?? head.lastSeq);
  return { numbered: events.length, more: entries.length === BATCH || rows.length === BATCH };
}
