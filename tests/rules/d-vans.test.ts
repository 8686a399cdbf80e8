/** Rules 11, 12 and 17: the drop list and its times, the door, the wrong drop, two countries. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startKit, type Kit } from './kit.ts';

let kit: Kit;
let abroad: string;
beforeAll(async () => {
  kit = await startKit();
  const site = { code: 'DUB', name: 'Quay school', kind: 'satellite', timeZone: 'Europe/Dublin', jurisdiction: 'IE' };
  abroad = (await kit.post('admin', '/v1/sites', site)).siteId as string;
});
afterAll(() => kit.stop());

const run = (dispatchIds: string[]) =>
  kit.post('kitchen', '/v1/van-runs', { siteId: kit.world.ckId, vehicle: 'Van 2', plannedFor: kit.now(), dispatchIds });

describe('rule 17: vans', () => {
  test('arrival, door and put-away are three times; the drops stand in their order', async () => {
    const { packsId } = await kit.packs(8);
    const first = await kit.send(packsId, 5);
    const second = await kit.send(packsId, 3, abroad);
    const { vanRunId } = await run([second, first]);
    kit.after(120);
    const times = { arrivedAt: '2026-11-25T12:40:00Z', doorAt: '2026-11-25T12:45:00Z' };
    await kit.post('driver', `/v1/van-runs/${vanRunId}/drop-times`, { dispatchId: first, ...times });
    const putAwayAt = '2026-11-25T13:10:00Z';
    await kit.post('receiver', `/v1/van-runs/${vanRunId}/drop-times`, { dispatchId: first, putAwayAt });
    const { drops } = await kit.get('operations', `/v1/van-runs/${vanRunId}`);
    expect(drops.map((one: { dispatchId: string }) => one.dispatchId)).toEqual([second, first]);
    const said = Object.values(drops[1].times as Record<string, string>).map((one) => Date.parse(one));
    expect(said).toEqual([times.arrivedAt, times.doorAt, putAwayAt].map((one) => Date.parse(one)));
    expect([...drops[0].jurisdictions].sort()).toEqual(['GB-ENG', 'IE']);
    expect([drops[0].jurisdictionNote === null, drops[1].jurisdictionNote]).toEqual([false, null]);
  });
});

describe('rule 11: refused at the door stays on the van', () => {
  test('three of five refused: they go back on a leg of their own, into quarantine', async () => {
    const { world } = kit;
    const { packsId } = await kit.packs(5);
    const dispatchId = await kit.send(packsId, 5);
    const lines = [{ lotId: packsId, quantity: 3, unit: 'piece' }];
    const refusal = { occurredAt: kit.now(), reason: 'Too warm at the door', lines };
    const { returnDispatchId } = await kit.post('driver', `/v1/dispatches/${dispatchId}/refusals`, refusal);
    const sent = await kit.arrive(dispatchId, packsId, 2);
    expect(sent.lots).toMatchObject([{ sent: 5, accepted: 2, refused: 3, inTransit: 0 }]);
    expect(await kit.have(packsId, world.w3ChillerId)).toBe(2);
    const back = await kit.get('operations', `/v1/dispatches/${returnDispatchId}`);
    expect([back.purpose, back.state, back.lots[0].inTransit]).toEqual(['return', 'departed', 3]);
    const line = { lotId: packsId, quantity: 3, unit: 'piece', condition: 'accepted' };
    const receipt = { occurredAt: kit.now(), closes: true, lines: [line] };
    await kit.post('kitchen', `/v1/dispatches/${returnDispatchId}/receipts`, receipt);
    expect(await kit.have(packsId, world.ckQuarantineId)).toBe(3);
    expect(await kit.have(packsId, world.ckChillerId)).toBe(0);
  });
});

describe('rule 12: a wrong drop of counted packs is paired', () => {
  test('two missing here, two over there', async () => {
    const { packsId } = await kit.packs(20, { serialised: false });
    const one = await kit.send(packsId, 10);
    const other = await kit.send(packsId, 10, abroad);
    const { vanRunId } = await run([one, other]);
    const receive = (dispatchId: string, quantity: number) => {
      const lines = [{ lotId: packsId, quantity, unit: 'piece', condition: 'accepted' }];
      const receipt = { occurredAt: kit.now(), closes: true, lines };
      return kit.post('operations', `/v1/dispatches/${dispatchId}/receipts`, receipt);
    };
    await receive(one, 8);
    await receive(other, 12);
    const { likelyWrongDrops } = await kit.get('operations', `/v1/van-runs/${vanRunId}`);
    expect(likelyWrongDrops).toMatchObject([
      { lotId: packsId, missingAtDispatchId: one, overAtDispatchId: other, quantity: 2 },
    ]);
  });
});
