/** Dates of parts that go along with the food, in the transaction of what moved it. Only reached when a part with its own date is touched. */
import type { Book } from '../../domain/ledger/book.ts';
import { datesAfter } from '../../domain/ledger/part-dates.ts';
import type { Tx } from '../../platform/db/db.ts';
import { derivedId } from '../../platform/ids.ts';
import { outbox } from '../../platform/jobs.ts';
import { findPartDates, insertPartDates, liftPartDate, setLabelled } from './part-dates-store.ts';
import type { ReachingHold } from './holds-store.ts';
import { judgeLabels } from './part-labels.ts';

/**
 * Holds as they will stand when the book is written: with the dates that go along to where the food goes. For what is told of food
 * that was moved by the same fact.
 */
export function withCarried(book: Book, holds: readonly ReachingHold[]): readonly ReachingHold[] {
  if (book.dates.size === 0) return holds;
  const carried = datesAfter(book).carried.map(({ lotId, accountId, from }): ReachingHold => {
    const source = holds.find((hold) => hold.holdId === from.holdId);
    const at = {
      lotId,
      rootLotId: lotId,
      siteId: null,
      accountId,
      liftedAt: null,
      placedAt: source?.placedAt ?? new Date(0),
    };
    return { ...at, holdId: from.holdId, kind: 'use-by', useByAtMs: from.useByAtMs };
  });
  return [...holds, ...carried];
}

export async function carryDates(tx: Tx, book: Book, actorId: string, nowMs: number): Promise<void> {
  const { carried, unlabelled, parts } = datesAfter(book);
  for (const holdId of unlabelled) await setLabelled(tx, holdId, null);
  const known = await findPartDates(
    tx,
    carried.map((one) => one.from.holdId),
  );
  const drafts = carried.flatMap(({ lotId, accountId, from, labelled }) => {
    const source = known.get(from.holdId);
    if (!source) return [];
    const holdId = derivedId('part-use-by', `${from.holdId}|${lotId}|${accountId}|${nowMs}`);
    return [{ ...source, holdId, lotId, accountId, cameFromId: from.holdId, labelledAtMs: labelled ? nowMs : null }];
  });
  for (const { replaces } of carried) {
    if (replaces) await liftPartDate(tx, replaces.holdId, 'Food with an earlier date joined it.', actorId, nowMs);
  }
  if (drafts.length > 0) await insertPartDates(tx, drafts, actorId, nowMs);
  for (const { labelledAtMs: _l, cameFromId: _c, ...change } of drafts) {
    await outbox(tx, 'use-by-tightened', change, nowMs);
  }
  await judgeLabels(tx, parts, nowMs);
}
