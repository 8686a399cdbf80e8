/** Background work of the feed: numbers are given although nobody reads, and what is past its time goes. */
import type { Clock } from '../../../platform/clock.ts';
import type { Db } from '../../../platform/db/db.ts';
import type { Job } from '../../../platform/jobs.ts';
import { EVENTS_KEEP_DAYS } from './contract.ts';
import { numberEvents } from './number.ts';
import { trimEvents } from './store.ts';

interface Parts {
  readonly db: Db;
  readonly clock: Clock;
}

/** So many batches a run; the rest waits for the next one. */
const MOST_BATCHES = 200;

/** Numbers all there is, batch by batch, each in a transaction of its own. */
export async function numberAll({ db, clock }: Parts, groupId: string): Promise<void> {
  for (let batch = 0; batch < MOST_BATCHES; batch += 1) {
    const { more } = await db.inGroup(groupId, 'write', (tx) => numberEvents(tx, clock.nowMs()));
    if (!more) return;
  }
}

export function feedJobs(parts: Parts): readonly Job[] {
  return [
    { name: 'number-events', sweep: '* * * * *', run: ({ groupId }) => numberAll(parts, groupId) },
    {
      name: 'trim-events',
      sweep: '41 3 * * *',
      async run({ groupId }) {
        const beforeMs = parts.clock.nowMs() - EVENTS_KEEP_DAYS * 86_400_000;
        await parts.db.inGroup(groupId, 'write', (tx) => trimEvents(tx, beforeMs));
      },
    },
  ];
}
