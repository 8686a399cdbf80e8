import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { findPastDateStock } from '../../../src/features/ledger/index.ts';
import { kitchenOf, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

describe('stock past its date', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
  });
  afterAll(() => service.stop());

  test('is a finding from the hour after, once, and is cleared when the food is discarded', async () => {
    const shin = await kitchen.shin(900, { useByDate: '2026-11-26' });
    const job = findPastDateStock(service);
    const found = async () =>
      (await kitchen.get('quality', '/v1/findings?kind=past-use-by-in-stock')).items as object[];
    await job.run({ groupId: service.groupId });
    expect(await found()).toEqual([]);
    service.clock.set(Date.parse('2026-11-27T00:07:00Z'));
    await job.run({ groupId: service.groupId });
    await job.run({ groupId: service.groupId });
    expect(await found()).toMatchObject([{ lotId: shin, quantity: 900, siteId: world.ckId }]);
    const thrown = await kitchen.post('kitchen', '/v1/discards', {
      lotId: shin,
      placeId: world.ckChillerId,
      quantity: 900,
      unit: 'g',
      occurredAt: '2026-11-27T00:10:00Z',
      reason: 'past-use-by',
      destination: 'anaerobic-digestion',
    });
    await job.run({ groupId: service.groupId });
    expect(await found()).toEqual([]);
    // it was another bin: the food is back, and so is the finding
    await kitchen.post('quality', '/v1/reversals', { entryId: thrown.entryId, reason: 'It was another bin' });
    await job.run({ groupId: service.groupId });
    const [again] = (await found()) as { findingId: string }[];
    // what a person has settled stays settled
    await kitchen.post('quality', `/v1/findings/${again?.findingId}/settlement`, { note: 'Kept for the laboratory' });
    await job.run({ groupId: service.groupId });
    expect(await found()).toEqual([]);
  });
});
