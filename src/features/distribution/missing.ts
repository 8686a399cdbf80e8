/**
 * Closing a receipt posts nothing: it names what is still in transit as missing. Every later scan reduces it, so whoever
 * moves quantity in or out of a closed dispatch calls this in the same transaction.
 */
import type { Tx } from '../../platform/db/db.ts';
import { clearFindings, openFindings, type FindingDraft } from '../ledger/index.ts';
import { listFound, type DispatchRow } from './store.ts';

export async function refreshMissing(
  tx: Tx,
  dispatches: readonly DispatchRow[],
  factId: string,
  occurredAtMs: number,
  nowMs: number,
): Promise<FindingDraft[]> {
  const open: FindingDraft[] = [];
  for (const dispatch of dispatches) {
    if (dispatch.state !== 'closed') continue;
    const found = await listFound(tx, dispatch.dispatchId);
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

/** A departure was undone: nothing of it is on the road, so nothing of it is missing. */
export async function forgetMissing(tx: Tx, dispatchId: string): Promise<void> {
  const found = await listFound(tx, dispatchId);
  await clearFindings(
    tx,
    'missing-in-transit',
    found.map((lot) => `${dispatchId}|${lot.lotId}`),
  );
}
