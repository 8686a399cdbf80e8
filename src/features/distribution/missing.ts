/**
 * Closing a receipt posts nothing: it names what is still in transit as missing. Every later scan reduces it, so whoever
 * moves quantity in or out of a closed dispatch calls this in the same transaction.
 */
import type { Tx } from '../../platform/db/db.ts';
import { clearFindings, openFindings, type FindingDraft } from '../ledger/index.ts';
import { LEFT_FINDINGS, leftSubject } from './left.ts';
import { listFound } from './store-found.ts';
import { findClosing } from './store-receipts.ts';
import { findDispatches, type DispatchRow } from './store.ts';

export async function refreshMissing(
  tx: Tx,
  dispatches: readonly DispatchRow[],
  factId: string,
  occurredAtMs: number,
  nowMs: number,
): Promise<FindingDraft[]> {
  const open: FindingDraft[] = [];
  const closed = dispatches.filter((dispatch) => dispatch.state === 'closed');
  const all =
    closed.length > 0
      ? await listFound(
          tx,
          closed.map((dispatch) => dispatch.dispatchId),
        )
      : [];
  for (const dispatch of closed) {
    const found = all.filter((lot) => lot.dispatchId === dispatch.dispatchId);
    const subject = (lotId: string) => `${dispatch.dispatchId}|${lotId}`;
    await clearFindings(
      tx,
      'missing-in-transit',
      found.filter((lot) => lot.inTransit <= 0).map((lot) => subject(lot.lotId)),
    );
    for (const lot of found) {
      if (lot.inTransit <= 0) continue;
      open.push({
        kind: 'missing-in-transit',
        subject: subject(lot.lotId),
        siteId: dispatch.toSiteId,
        lotId: lot.lotId,
        quantity: lot.inTransit,
        occurredAtMs,
        detail: {
          dispatchId: dispatch.dispatchId,
          dispatchCode: dispatch.code,
          lotCode: lot.lotCode,
          sent: lot.sent,
          factId,
        },
      });
    }
  }
  await openFindings(tx, open, nowMs);
  return open;
}

/**
 * A departure was undone: nothing of it is on the road, so nothing of it is missing, and nothing of it left that should not have.
 * When it was a leg back, what was refused at the door is with the dispatch that it was refused from again.
 */
export async function forgetMissing(tx: Tx, dispatchId: string): Promise<void> {
  const subjects = (await listFound(tx, [dispatchId])).map((lot) => leftSubject(dispatchId, lot.lotId));
  for (const kind of ['missing-in-transit', ...LEFT_FINDINGS]) await clearFindings(tx, kind, subjects);
  const refusedFromId = (await findDispatches(tx, [dispatchId])).get(dispatchId)?.refusedFromId;
  if (!refusedFromId) return;
  const from = (await findDispatches(tx, [refusedFromId])).get(refusedFromId);
  const closing = await findClosing(tx, refusedFromId);
  if (!from || !closing) return;
  await refreshMissing(tx, [from], closing.receiptId, closing.occurredAt.getTime(), closing.recordedAt.getTime());
}
