/** Rules 10 and 18, where the answer has to say what is not known. */
import { afterAll, beforeAll, expect, test } from 'vitest';
import { startKit, type Kit } from './kit.ts';

let kit: Kit;
beforeAll(async () => {
  kit = await startKit();
});
afterAll(() => kit.stop());

test('rule 18: a lot of unknown origin says so in a trace, in words', async () => {
  const line = { itemId: kit.world.beefShinId, placeId: kit.world.ckChillerId, quantity: 500, unit: 'g' };
  const lines = [{ ...line, useByDate: '2026-12-01' }];
  const answer = await kit.post('kitchen', '/v1/opening-stock', {
    siteId: kit.world.ckId,
    occurredAt: kit.now(),
    lines,
  });
  const trace = await kit.get('quality', `/v1/lots/${answer.taken[0].lotId}/trace?direction=back`);
  expect(trace.lots[0].remark).toContain('nobody knows from whom it came');
});

test('rule 10: received without a place at a site that has no default put-away: presumed, a finding', async () => {
  const { packsId } = await kit.packs(5);
  const dispatchId = await kit.send(packsId, 5);
  await kit.arrive(dispatchId, packsId, 5, { placeId: undefined });
  expect(await kit.findings(packsId)).toEqual(['place-presumed']);
});
