/** Receiving without a network, and receipts that close by themselves. The signature is checked by Node's own crypto from the published key. */
import { createPublicKey, randomUUID, verify } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { closeReceipts } from '../../../src/features/distribution/index.ts';
import { randomIds } from '../../../src/platform/ids.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { NOON_MS, startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

/** RFC 8785 for what is in the list: members in the order of their names. */
function canonical(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(canonical).join(',')}]`;
  if (value === null || typeof value !== 'object') return JSON.stringify(value);
  const members = Object.entries(value).sort(([a], [b]) => (a < b ? -1 : 1));
  return `{${members.map(([name, of]) => `${JSON.stringify(name)}:${canonical(of)}`).join(',')}}`;
}

describe('receiving', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  let packs: string;
  let code: string;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
    const { batchId, lotId } = await kitchen.stew(await kitchen.shin(40_000), 40_000, 34_000);
    packs = await kitchen.pack(batchId, lotId, 30_000, 100);
    code = (await kitchen.get('kitchen', `/v1/lots/${packs}`)).code as string;
    await kitchen.release(batchId);
  });
  afterAll(() => service.stop());

  const path = () => `/v1/sites/${world.w3Id}/receiving-list`;
  const policyPath = () => `/v1/sites/${world.w3Id}/receiving-policy`;
  const client = () => service.as('receiver', world.w3Id);
  async function send(serials: string[], more: object = {}): Promise<string> {
    const line = {
      lotId: packs,
      placeId: world.ckChillerId,
      quantity: serials.length,
      unit: 'piece',
      serials,
      ...more,
    };
    const plan = await kitchen.post('kitchen', '/v1/dispatches', {
      fromSiteId: world.ckId,
      toSiteId: world.w3Id,
      lines: [line],
    });
    await kitchen.post('driver', `/v1/dispatches/${plan.dispatchId}/departure`, {});
    return plan.dispatchId as string;
  }
  async function arrive(...serials: string[]): Promise<void> {
    const scans = serials.map((serial) => ({
      id: randomUUID(),
      kind: 'arrival',
      code: `${code}/${serial}`,
      occurredAt: new Date(service.clock.nowMs()).toISOString(),
    }));
    const answer = await client().post('/v1/scans', { siteId: world.w3Id, scans });
    expect(answer.body.refused, answer.text).toBe(0);
  }
  const dispatch = (id: string) => kitchen.get('receiver', `/v1/dispatches/${id}`);
  const missing = async (id: string) => {
    const found = await kitchen.get('quality', '/v1/findings?kind=missing-in-transit&status=open&limit=500');
    return (found.items as Json[]).filter((one) => one.detail.dispatchId === id).map((one) => one.quantity as number);
  };

  test('the list says what is coming and what may not be used, signed; unchanged, it is not sent again', async () => {
    const dispatchId = await send(['1', '2'], { crateCode: 'CRATE-1' });
    const first = await client().get(path());
    expect(first.status).toBe(200);
    expect(first.body.list).toMatchObject({ whole: true, asOf: '2026-11-25T12:00:00.000Z', stops: [] });
    expect(first.body.list.expected).toMatchObject([
      {
        dispatchId,
        fromSiteId: world.ckId,
        lines: [{ lotId: packs, quantity: 2, serials: ['1', '2'], crateCodes: ['CRATE-1'] }],
      },
    ]);
    const { keys } = (await client().get('/v1/signing-keys')).body;
    const key = createPublicKey({ key: keys[0], format: 'jwk' });
    const [header, none, signature] = (first.body.signature as string).split('.') as [string, string, string];
    expect(none).toBe('');
    expect(JSON.parse(Buffer.from(header, 'base64url').toString())).toEqual({ alg: 'EdDSA', kid: keys[0].kid });
    const good = (list: unknown) => {
      const signed = `${header}.${Buffer.from(canonical(list)).toString('base64url')}`;
      return verify(null, Buffer.from(signed), key, Buffer.from(signature, 'base64url'));
    };
    expect(good(first.body.list)).toBe(true);
    expect(good({ ...first.body.list, stops: [{}] })).toBe(false);
    const again = await client().get(path(), { 'if-none-match': first.headers.etag ?? '' });
    expect(again.status).toBe(304);
    const hold = await kitchen.post('quality', '/v1/holds', { lotId: packs, kind: 'safety', note: 'Seal leaks' });
    const held = await client().get(path(), { 'if-none-match': first.headers.etag ?? '' });
    expect(held.status).toBe(200);
    expect(held.body.list.stops).toMatchObject([
      { lotId: packs, accountId: dispatchId, placeCode: null, holdKinds: ['safety'], mayUse: false, newUseByAt: null },
    ]);
    await kitchen.post('quality', `/v1/holds/${hold.holdId}/lift`, { note: 'Seals were tested' });
    expect((await service.as('receiver', world.ckId).get(path())).status).toBe(404);
  });

  test('without a policy nothing closes; with one, the last pack closes the receipt', async () => {
    expect((await client().get(policyPath())).body).toMatchObject({
      version: 0,
      closesWhenComplete: false,
      closesAfterH: null,
    });
    const open = await send(['10']);
    await arrive('10');
    expect((await dispatch(open)).state).toBe('departed');
    await kitchen.post('operations', policyPath(), { closesWhenComplete: true, closesAfterH: 24 });
    const dispatchId = await send(['11', '12']);
    await arrive('11');
    expect((await dispatch(dispatchId)).state).toBe('departed');
    await arrive('12');
    expect((await dispatch(dispatchId)).state).toBe('closed');
    expect(await missing(dispatchId)).toEqual([]);
  });

  test('after the hours of the policy it closes, names what is missing, and late scans reduce that', async () => {
    const dispatchId = await send(['20', '21', '22']);
    await arrive('20');
    const job = closeReceipts({ db: service.db, clock: service.clock, ids: randomIds });
    const sweep = () => job.run({ groupId: service.groupId });
    service.clock.set(NOON_MS + 24 * 3_600_000 - 1);
    await sweep();
    expect((await dispatch(dispatchId)).state).toBe('departed');
    service.clock.set(NOON_MS + 24 * 3_600_000);
    await sweep();
    expect((await dispatch(dispatchId)).state).toBe('closed');
    expect(await missing(dispatchId)).toEqual([2]);
    await arrive('21');
    expect(await missing(dispatchId)).toEqual([1]);
    await arrive('22');
    expect(await missing(dispatchId)).toEqual([]);
    await sweep();
  });
});
