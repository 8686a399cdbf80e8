/**
 * By which rules the sites work, and one model that a named person validated: the hotel follows the cook-chill guidelines, whose numbers are from
 * memory until its quality lead has confirmed them. What follows from the fortnight's temperatures is computed by the service's own worker.
 */
import { recomputeShelfLife } from '../../src/features/shelf-life/index.ts';
import type { Db } from '../../src/platform/db/db.ts';
import { groupIdOf, randomIds } from '../../src/platform/ids.ts';
import { createLog } from '../../src/platform/log.ts';
import { DEMO_GROUP } from '../../src/start/try-out.ts';
import { as, type Door } from './door.ts';
import { id } from './story.ts';

export async function chooseRules(door: Door): Promise<void> {
  const quality = as('quality');
  await door.post(quality, `/v1/sites/${id('site/hot')}/policy-choices`, 'policy-choice/hot', {
    policySet: 'gb-eng',
    confirmed: ['cook-chill-5-days', 'cook-chill-5-c', 'cook-chill-10-c'],
    confirmedBy: 'Nora Pell',
    note: 'The hotel works by the guidelines of 1989; numbers looked up in our own copy',
  });
  await door.post(quality, `/v1/items/${id('item/chicken-leek-pack')}/model-validations`, 'model-validation/chicken', {
    model: { kind: 'square-root', minTemperatureC: -1.18 },
    // at the cold chain's own temperature as long as the label says, and five hours more
    reference: { temperatureC: 3.5, lifeH: 114 },
    validatedBy: 'Nora Pell',
    basis: 'challenge-test',
    document: 'Challenge test with Listeria in chicken and leek, spring 2026',
  });
}

export async function computeLives(db: Db, nowMs: number): Promise<void> {
  const job = recomputeShelfLife({ db, clock: { nowMs: () => nowMs }, ids: randomIds, log: createLog('error') });
  await job.run({ groupId: groupIdOf(DEMO_GROUP) });
}
