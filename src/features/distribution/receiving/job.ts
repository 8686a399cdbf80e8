/** Receipts that nobody closed within the hours of the site's policy: closed, and what is still on the road named as missing. */
import type { Clock } from '../../../platform/clock.ts';
import type { Db } from '../../../platform/db/db.ts';
import type { Ids } from '../../../platform/ids.ts';
import type { Job } from '../../../platform/jobs.ts';
import { refreshMissing } from '../missing.ts';
import { insertReceipt } from '../store-receipts.ts';
import { lockDispatches, setState } from '../store.ts';
import { listDue } from './store.ts';

const AT_ONCE = 200;

export function closeReceipts({ db, clock, ids }: { db: Db; clock: Clock; ids: Ids }): Job {
  return {
    name: 'close-receipts',
    sweep: '*/10 * * * *',
    async run({ groupId }) {
      await db.inGroup(groupId, 'write', async (tx) => {
        const nowMs = clock.nowMs();
        const due = await listDue(tx, nowMs, AT_ONCE);
        if (due.length === 0) return;
        const rows = await lockDispatches(
          tx,
          due.map((one) => one.dispatchId),
        );
        for (const { dispatchId, closesAfterH, policyBy } of due) {
          const row = rows.get(dispatchId);
          // somebody closed it, or took the departure back, while this waited
          if (row?.state !== 'departed') continue;
          const receiptId = ids.newId();
          const note = `Closed by the site's policy: ${closesAfterH} hours after departure`;
          const by = { receivedBy: policyBy, closes: true, note, closedByPolicy: 'hours' as const };
          await insertReceipt(tx, { receiptId, dispatchId, occurredAtMs: nowMs, ...by }, [], nowMs);
          await setState(tx, dispatchId, 'closed', null);
          await refreshMissing(tx, [{ ...row, state: 'closed' }], receiptId, nowMs, nowMs);
        }
      });
    },
  };
}
