/**
 * The worker that computes what is left of lots' lives. What there is to do stands in lot_exposure_dirty, and in the ledger's entries since
 * the cursor; being woken only saves the wait for the next minute's sweep. Any number of processes may run it beside each other.
 */
import type { Clock } from '../../../platform/clock.ts';
import type { Db } from '../../../platform/db/db.ts';
import type { Ids } from '../../../platform/ids.ts';
import type { Job } from '../../../platform/jobs.ts';
import type { Log } from '../../../platform/log.ts';
import { recomputeLots } from './recompute.ts';
import { markEnded, markMoved, markSeen, takeDirty } from './results-store.ts';

const LOTS_A_PASS = 200;
const ENTRIES_A_READ = 5_000;
/** Rounds of a run; whatever is left is the next minute's. */
const MOST_PASSES = 500;
/** Promised is about a second after the upload. */
const LATE_MS = 5_000;

export function recomputeShelfLife({ db, clock, ids, log }: { db: Db; clock: Clock; ids: Ids; log: Log }): Job {
  async function pass(groupId: string): Promise<number> {
    return db.inGroup(groupId, 'write', async (tx) => {
      const nowMs = clock.nowMs();
      const taken = await takeDirty(tx, LOTS_A_PASS);
      if (taken.length === 0) return 0;
      const lotIds = taken.map(({ lotId }) => lotId).sort();
      const done = await recomputeLots(tx, ids, lotIds, nowMs);
      const waitedMs = clock.nowMs() - Math.min(...taken.map(({ markedAtMs }) => markedAtMs));
      if (waitedMs > LATE_MS) log.warn({ groupId, lots: taken.length, waitedMs, ...done }, 'lives were computed late');
      return taken.length;
    });
  }
  return {
    name: 'recompute-shelf-life',
    sweep: '* * * * *',
    async run({ groupId }) {
      for (let round = 0; round < MOST_PASSES; round += 1) {
        const { more } = await db.inGroup(groupId, 'write', (tx) => markMoved(tx, ENTRIES_A_READ));
        if (!more) break;
      }
      await db.inGroup(groupId, 'write', async (tx) => {
        await markEnded(tx, clock.nowMs());
        await markSeen(tx);
      });
      for (let round = 0; round < MOST_PASSES && (await pass(groupId)) > 0; round += 1);
    },
  };
}
