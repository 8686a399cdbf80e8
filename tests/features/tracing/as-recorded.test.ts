/**
 * Traces as they were recorded at a past moment, and as lines. The story is the stew month, told further by a delivery that turns out in
 * December to have gone into November's batch, and then turns out not to have. Every number is worked out by hand from the story.
 */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { exampleId } from '../../../src/platform/ids.ts';
import { kitchenOf, type Json } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { tellStewMonth, type StewMonth } from '../../support/stew-month.ts';

let service: TestService;
let month: StewMonth;
let late: string;
beforeAll(async () => {
  // Nothing is recorded earlier than what was recorded last, and the group is the first.
  service = await startService({ nowMs: Date.parse('2026-10-30T08:00:00Z') });
  month = await tellStewMonth(service);
  const kitchen = kitchenOf(service, month.world);
  service.clock.set(Date.parse('2026-12-03T08:00:00Z'));
  late = await kitchen.shin(5_000, { lotId: exampleId('lot/shin-late'), supplierLotCode: 'BRK-3' });
  service.clock.set(Date.parse('2026-12-04T08:00:00Z'));
  const input = { lotId: late, placeId: month.world.ckChillerId, quantity: 1_000, unit: 'g' };
  const inputs = `/v1/batches/${month.batchId}/recorded-inputs`;
  const { entryId } = await kitchen.post('kitchen', inputs, { ...input, occurredAt: '2026-11-03T07:00:00Z' });
  service.clock.set(Date.parse('2026-12-05T08:00:00Z'));
  await kitchen.post('kitchen', '/v1/reversals', { entryId, reason: 'Another batch' });
  const hold = { kind: 'safety', lotId: month.shinB, note: 'Supplier wrote' };
  const { holdId } = await kitchen.post('quality', '/v1/holds', hold);
  service.clock.set(Date.parse('2026-12-06T08:00:00Z'));
  await kitchen.post('quality', `/v1/holds/${holdId}/lift`, { note: 'Not ours' });
  service.clock.set(Date.parse('2026-12-07T08:00:00Z'));
});
afterAll(() => service.stop());

const read = (what: string, lotId: string, query: string) =>
  service.as('quality').get(`/v1/lots/${lotId}/${what}?${query}`);
async function traceAt(lotId: string, recordedAt: string, more = ''): Promise<Json> {
  const answer = await read('trace', lotId, `recordedAt=${recordedAt}${more}`);
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
}
async function reachAt(lotId: string, recordedAt: string, more = ''): Promise<Json> {
  const answer = await read('reach', lotId, `recordedAt=${recordedAt}${more}`);
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
}
const idsOf = (trace: Json): string[] => trace.lots.map((lot: Json) => lot.lotId).sort();
const totalOf = (body: Json, itemId: string): Json => body.totals.find((one: Json) => one.itemId === itemId);

describe('as recorded', () => {
  test('after the delivery, before the batch: the delivery alone, all of it on hand', async () => {
    const trace = await traceAt(month.shinB, '2026-11-02T12:00:00Z');
    expect(idsOf(trace)).toEqual([month.shinB]);
    expect(trace.edges).toEqual([]);
    expect(trace.totals).toEqual([
      expect.objectContaining({ produced: 30_000, onHand: 30_000, consumed: 0, balanced: true, lotCount: 1 }),
    ]);
  });

  test('the evening of the batch: two loads and two lots of packs, nothing has left', async () => {
    const { beefShinId, beefStewId, beefStewPackId } = month.world;
    for (const body of [
      await traceAt(month.shinB, '2026-11-03T20:00:00Z'),
      await reachAt(month.shinB, '2026-11-03T20:00:00Z'),
    ]) {
      // 30 000 - 24 000 into the batch
      expect(totalOf(body, beefShinId)).toMatchObject({
        produced: 30_000,
        onHand: 6_000,
        consumed: 24_000,
        returned: 0,
      });
      // 15 000 + 12 600 - 12 100 - 3 000
      expect(totalOf(body, beefStewId)).toMatchObject({
        produced: 27_600,
        onHand: 12_500,
        consumed: 15_100,
        lotCount: 2,
      });
      expect(totalOf(body, beefStewPackId)).toMatchObject({ produced: 50, onHand: 50, inTransit: 0, lotCount: 2 });
      expect(body.sites.map((site: Json) => site.siteId)).toEqual([month.world.ckId]);
    }
  });

  test('the day of the van: 28 of 30 packs have arrived, nothing is served', async () => {
    const body = await reachAt(month.packs1, '2026-11-04T12:00:00Z');
    expect(totalOf(body, month.world.beefStewPackId)).toMatchObject({
      produced: 40,
      onHand: 38,
      inTransit: 2,
      served: 0,
    });
    const ward = body.sites.find((site: Json) => site.siteId === month.world.w3Id);
    expect(ward.where).toHaveLength(2);
    expect(ward.where).toEqual(
      expect.arrayContaining([
        expect.objectContaining({ kind: 'place', placeId: month.world.w3ChillerId, quantity: 28 }),
        expect.objectContaining({
          kind: 'transit',
          dispatchId: month.dispatchId,
          fromSiteId: month.world.ckId,
          quantity: 2,
        }),
      ]),
    );
  });

  test('at the last moment it is what it is now', async () => {
    for (const direction of ['forward', 'back']) {
      const now = (await read('trace', month.shinB, `direction=${direction}`)).body;
      expect(await traceAt(month.shinB, '2026-12-07T08:00:00Z', `&direction=${direction}`)).toEqual(now);
      const { recordedAt, ...then } = await reachAt(month.packs1, '2026-12-07T08:00:00Z', `&direction=${direction}`);
      const { recordedAt: nowhere, ...reach } = (await read('reach', month.packs1, `direction=${direction}`)).body;
      expect(recordedAt).toBe('2026-12-07T08:00:00.000Z');
      expect(nowhere).toBeNull();
      expect(then.totals).toEqual(reach.totals);
      expect(then.lotCount).toBe(reach.lotCount);
    }
  });

  test('a late input and its reversal: there for a day, and only for those who look at that day', async () => {
    const inBatch = [late, month.load1, month.load2, month.packs1, month.packs2].sort();
    expect(idsOf(await traceAt(late, '2026-12-03T12:00:00Z'))).toEqual([late]);
    const meanwhile = await traceAt(late, '2026-12-04T12:00:00Z');
    expect(idsOf(meanwhile)).toEqual(inBatch);
    expect(totalOf(meanwhile, month.world.beefShinId)).toMatchObject({
      produced: 5_000,
      onHand: 4_000,
      consumed: 1_000,
    });
    // 1 000 g over loads of 15 000 and 12 600 g: 12 500/23
    const edge = meanwhile.edges.find((one: Json) => one.childLotId === month.load1);
    expect(edge).toMatchObject({ consumedQuantity: 1_000, apportioned: { numerator: '12500', denominator: '23' } });
    expect((await reachAt(late, '2026-12-04T12:00:00Z')).lotCount).toBe(5);
    expect((await reachAt(month.packs2, '2026-12-04T12:00:00Z', '&direction=back')).lotCount).toBe(5);
    expect(idsOf(await traceAt(late, '2026-12-06T12:00:00Z'))).toEqual([late]);
    expect((await reachAt(month.packs2, '2026-12-06T12:00:00Z', '&direction=back')).lotCount).toBe(4);
    expect(idsOf((await read('trace', late, '')).body)).toEqual([late]);
    expect((await read('reach', late, '')).body.totals[0]).toMatchObject({ onHand: 5_000, consumed: 0 });
  });

  test('holds as of then', async () => {
    const heldAt = async (moment: string): Promise<string[]> =>
      (await traceAt(month.shinB, moment)).lots
        .filter((lot: Json) => lot.held)
        .map((lot: Json) => lot.lotId)
        .sort();
    expect(await heldAt('2026-11-04T12:00:00Z')).toEqual([]);
    // one pack has come back from service and is on hold in quarantine
    expect(await heldAt('2026-12-04T12:00:00Z')).toEqual([month.packs1]);
    const all = [month.shinB, month.load1, month.load2, month.packs1, month.packs2].sort();
    expect(await heldAt('2026-12-05T12:00:00Z')).toEqual(all);
    expect(await heldAt('2026-12-06T12:00:00Z')).toEqual([month.packs1]);
  });

  test.each([
    ['ahead of now', '2026-12-07T08:00:00.001Z'],
    ['before the lot was recorded', '2026-11-02T07:59:59Z'],
  ])('a moment %s is refused', async (_what, moment) => {
    for (const what of ['trace', 'reach']) {
      const answer = await read(what, month.shinB, `recordedAt=${moment}`);
      expect(answer.body).toMatchObject({
        status: 422,
        code: 'rule-broken',
        errors: [{ pointer: '#/query/recordedAt' }],
      });
    }
  });
});

describe('as lines', () => {
  test.each(['', 'direction=back', 'recordedAt=2026-12-04T12:00:00Z'])('the same as the trace: %s', async (query) => {
    for (const lotId of [month.shinB, month.packs1]) {
      const answer = await read('trace', lotId, `${query}&format=ndjson`);
      expect(answer.headers['content-type']).toBe('application/x-ndjson');
      const records = answer.text
        .trimEnd()
        .split('\n')
        .map((line) => JSON.parse(line));
      const whole = (await read('trace', lotId, query)).body;
      const of = (what: string) =>
        records.filter(({ record }) => record === what).map(({ record: _, ...rest }) => rest);
      expect(of('lot')).toEqual(whole.lots);
      const keyed = (edges: Json[]) => edges.map((edge) => JSON.stringify(edge)).sort();
      expect(keyed(of('edge'))).toEqual(keyed(whole.edges));
      expect(records.at(-1)).toEqual({ record: 'end', lots: whole.lots.length, edges: whole.edges.length });
    }
  });
});
