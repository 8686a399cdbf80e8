/** Background work of EPCIS: events are derived although nobody reads. */
import type { Clock } from '../../../platform/clock.ts';
import type { Db } from '../../../platform/db/db.ts';
import type { Job } from '../../../platform/jobs.ts';
import { deriveEpcis } from './derive.ts';

/** So many batches a run; the rest waits for the next one. */
const MOST_BATCHES = 200;

export function epcisJobs({ db, clock }: { readonly db: Db; readonly clock: Clock }): readonly Job[] {
  return [
    {
      name: 'derive-epcis',
      sweep: '*/2 * * * *',
      async run({ groupId }) {
        for (let batch = 0; batch < MOST_BATCHES; batch += 1) {
          const { more } = await db.inGroup(groupId, 'write', (tx) => deriveEpcis(tx, clock.nowMs()));
          if (!more) return;
        }
      },
    },
  ];
}
