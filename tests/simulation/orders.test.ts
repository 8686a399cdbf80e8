/**
 * Orders of arrival that random stories reach seldom, told one by one over HTTP. Each was once answered wrongly. Expected values are
 * added up by hand from the facts.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../support/kitchen.ts';
import { startService, type TestService } from '../support/service.ts';
import { buildWorld, type World } from '../support/world.ts';
import { faultsOf } from '../support/replay/books.ts';

const at = (time: string) => `2026-11-25T${time}:00Z`;
const WASTE = { reason: 'damaged', destination: 'composting' };

describe('orders of arrival', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
  });
  afterAll(async () => {
    expect(await faultsOf(service, service.groupId)).toEqual([]);
    await service.stop();
  });

  const inChiller = async (lotId: string): Promise<number> => {
    const stock = await kitchen.get('quality', `/v1/stock?placeId=${world.ckChillerId}&limit=500`);
    return (stock.items as Json[]).find((item) => item.lotId === lotId)?.quantity ?? 0;
  };
  const undo = (entryId: string) => kitchen.post('quality', '/v1/reversals', { entryId, reason: 'Slip of the hand' });
  const findingsOf = async (kind: string, factId: string, status = 'open'): Promise<Json[]> => {
    const page = await kitchen.get('quality', `/v1/findings?kind=${kind}&status=${status}&limit=500`);
    return (page.items as Json[]).filter((finding) => finding.detail.factId === factId);
  };
  const scan = async (kind: string, code: string, time: string, more: object = {}): Promise<string> => {
    const id = randomUUID();
    const scans = [{ id, kind, code, occurredAt: at(time), ...more }];
    const answer = await service.as('kitchen').post('/v1/scans', { siteId: world.ckId, scans });
    if (answer.status !== 207 || answer.body.refused !== 0) throw new Error(answer.text);
    return id;
  };
  /** Packs of stew, with a use-by that ends before noon of the 25th when asked for. */
  async function packs(useByDate?: string): Promise<string> {
    service.clock.set(Date.parse('2026-11-24T08:00:00Z'));
    const shin = await kitchen.shin(1_000);
    const { batchId, lotId } = await kitchen.stew(shin, 1_000, 900);
    const packed = await kitchen.pack(batchId, lotId, 900, 3, useByDate === undefined ? {} : { useByDate });
    await kitchen.release(batchId);
    service.clock.set(Date.parse('2026-11-25T12:00:00Z'));
    return (await kitchen.get('quality', `/v1/lots/${packed}`)).code as string;
  }

  test('a place can be held for a lot before any food has been there', async () => {
    const lotId = await kitchen.shin(100);
    const hold = await kitchen.post('quality', '/v1/holds', {
      kind: 'quality',
      lotId,
      accountId: world.ckFreezerId,
      note: 'The door did not close',
    });
    expect(hold).toMatchObject({ accountId: world.ckFreezerId, propagates: false, reached: 1 });
  });

  test('of two counts of one moment, undoing the second leaves the first as it was', async () => {
    for (const undone of ['second', 'first'] as const) {
      const lotId = await kitchen.shin(100, {});
      // counts of one moment go by their id
      const [first = '', second = ''] = [randomUUID(), randomUUID()].sort();
      const count = (id: string, quantity: number) => {
        const lines = [{ lotId, quantity, unit: 'g' }];
        return kitchen.post('quality', '/v1/stock-counts', {
          id,
          placeId: world.ckChillerId,
          occurredAt: at('12:00'),
          lines,
        });
      };
      await count(first, 90);
      await count(second, 70);
      expect(await inChiller(lotId)).toBe(70);
      await undo(undone === 'first' ? first : second);
      expect(await inChiller(lotId)).toBe(undone === 'first' ? 70 : 90);
    }
  });

  test('a count recorded after the undoing of a later one of the same moment does not see that one', async () => {
    const lotId = await kitchen.shin(100);
    const [first = '', second = ''] = [randomUUID(), randomUUID()].sort();
    const count = (id: string, quantity: number) =>
      kitchen.post('quality', '/v1/stock-counts', {
        id,
        placeId: world.ckChillerId,
        occurredAt: at('12:00'),
        lines: [{ lotId, quantity, unit: 'g' }],
      });
    await count(second, 70);
    await undo(second);
    expect((await count(first, 60)).lines).toMatchObject([{ counted: 60, booked: 100, variance: -40 }]);
    expect(await inChiller(lotId)).toBe(60);
  });

  test('a second end of a pack is found, cleared, and found again', async () => {
    const code = `${await packs()}/1`;
    const use = await scan('use', code, '11:00', { placeId: world.ckChillerId });
    for (const minute of ['01', '02']) {
      const discard = await scan('discard', code, `10:${minute}`, WASTE);
      expect(await findingsOf('ended-twice', use)).toHaveLength(1);
      await undo(discard);
      expect(await findingsOf('ended-twice', use)).toEqual([]);
    }
    expect(await findingsOf('ended-twice', use, 'cleared')).toHaveLength(1);
  });

  test('a use past its date that stands again after an undone discard is found again', async () => {
    const code = `${await packs('2026-11-24')}/1`;
    const use = await scan('use', code, '11:00', { placeId: world.ckChillerId });
    expect(await findingsOf('past-use-by', use)).toHaveLength(1);
    const discard = await scan('discard', code, '10:00', { ...WASTE, placeId: world.ckChillerId });
    expect(await findingsOf('past-use-by', use)).toEqual([]);
    await undo(discard);
    expect(await findingsOf('past-use-by', use)).toHaveLength(1);
  });

  test('an answer given again has the headers of the first', async () => {
    const body = { id: randomUUID(), siteId: world.ckId, recipeId: world.recipeId };
    const first = await service.as('kitchen').post('/v1/batches', body);
    const again = await service.as('kitchen').post('/v1/batches', body);
    expect([first.headers.etag, again.headers.etag]).toEqual([undefined, undefined]);
    expect(again.body).toEqual(first.body);
    expect(again.headers.location).toBe(first.headers.location);
  });
});
