/** A receipt that closes by the site's policy, in the transaction of what completed it. It posts nothing, as any closing. */
import type { Tx } from '../../../platform/db/db.ts';
import type { Ids } from '../../../platform/ids.ts';
import { listFound } from '../store-found.ts';
import { insertReceipt } from '../store-receipts.ts';
import { setState, type DispatchRow } from '../store.ts';
import { listPolicies } from './store.ts';

interface Closing {
  readonly ids: Ids;
  /** who completed it */
  readonly actorId: string;
  readonly occurredAtMs: number;
  readonly nowMs: number;
}

/**
 * Closes those of which nothing is on the road any more, where the site's policy says so.
 * @param dispatches locked
 * @returns the same, as they stand now
 */
export async function closeComplete(
  tx: Tx,
  dispatches: readonly DispatchRow[],
  closing: Closing,
): Promise<DispatchRow[]> {
  const open = dispatches.filter((row) => row.state === 'departed');
  if (open.length === 0) return [...dispatches];
  const newest = new Map<string, boolean>();
  for (const { siteId, closesWhenComplete } of await listPolicies(tx, [...new Set(open.map((row) => row.toSiteId))]))
    if (!newest.has(siteId)) newest.set(siteId, closesWhenComplete);
  const asked = open.filter((row) => newest.get(row.toSiteId) === true).map((row) => row.dispatchId);
  if (asked.length === 0) return [...dispatches];
  const found = await listFound(tx, asked);
  const complete = new Set(
    asked.filter((dispatchId) => {
      const lots = found.filter((lot) => lot.dispatchId === dispatchId);
      return lots.length > 0 && lots.every((lot) => lot.inTransit <= 0);
    }),
  );
  for (const dispatchId of complete) {
    const receipt = { receiptId: closing.ids.newId(), dispatchId, occurredAtMs: closing.occurredAtMs };
    const note = "Closed by the site's policy: all that was sent has been seen";
    const by = { receivedBy: closing.actorId, closes: true, note, closedByPolicy: 'complete' as const };
    await insertReceipt(tx, { ...receipt, ...by }, [], closing.nowMs);
    await setState(tx, dispatchId, 'closed', null);
  }
  return dispatches.map((row) => (complete.has(row.dispatchId) ? { ...row, state: 'closed' as const } : row));
}
