import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld } from '../../support/world.ts';

describe('a use-by brought forward', () => {
  let service: TestService;
  let kitchen: Kitchen;
  beforeAll(async () => {
    service = await startService();
    kitchen = kitchenOf(service, await buildWorld(service));
  });
  afterAll(() => service.stop());

  test('reaches the packs, says who and why, and never goes back', async () => {
    const shin = await kitchen.shin(10_000);
    const { batchId, lotId } = await kitchen.stew(shin, 10_000, 8_000);
    const packs = await kitchen.pack(batchId, lotId, 3_000, 10);
    const path = `/v1/lots/${lotId}/use-by-changes`;
    const later = { useByDate: '2026-11-30', reason: 'Looks fine' };
    expect(await kitchen.post('quality', path, later, 422)).toMatchObject({ code: 'use-by-later-than-computed' });
    await kitchen.post('kitchen', path, { useByDate: '2026-11-27', reason: 'Warm' }, 403);
    await kitchen.post('quality', path, { useByDate: '2026-11-27', reason: 'Warm for an hour' });
    const pack = await kitchen.get('quality', `/v1/lots/${packs}`);
    // London is on UTC in November: the 27th ends as the 28th begins
    expect(pack).toMatchObject({
      useByDate: '2026-11-27',
      useByAt: '2026-11-28T00:00:00.000Z',
      printedUseByDate: '2026-11-29',
    });
    expect(pack.changes).toMatchObject([{ kind: 'use-by-earlier', causeLotId: lotId }]);
    await kitchen.post('quality', path, { useByDate: '2026-11-28', reason: 'Second thoughts' }, 422);
  });
});
