/**
 * What other systems find: a webhook of the demo's kitchen (nothing is sent, because nobody made a secret for it), and the events of the
 * fortnight, numbered and told as EPCIS like those of any other day.
 */
import { epcisJobs, feedJobs } from '../../src/features/exchange/index.ts';
import { DEMO_GROUP } from '../../src/start/try-out.ts';
import type { Db } from '../../src/platform/db/db.ts';
import { groupIdOf } from '../../src/platform/ids.ts';
import { as, type Door } from './door.ts';

export async function addWebhook(door: Door): Promise<void> {
  await door.post(as('operations', 'site/ck'), '/v1/webhooks', 'webhook/accounts', {
    url: 'https://hooks.ostermere-accounts.example/sealtrail',
    description: 'Accounts',
    types: ['goods-received', 'stock-discarded', 'dispatch-departed'],
  });
}

export async function tellEvents(db: Db, nowMs: number): Promise<void> {
  const parts = { db, clock: { nowMs: () => nowMs } };
  for (const job of [...feedJobs(parts), ...epcisJobs(parts)]) await job.run({ groupId: groupIdOf(DEMO_GROUP) });
}
