/** What was known when: the month and the stock as recorded at a moment, months that are closed, and prices corrected afterwards. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { getCutNow, takeMoneyNo } from '../../../src/features/ledger/index.ts';
import { exampleId } from '../../../src/platform/ids.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

interface Stage {
  readonly service: TestService;
  readonly world: World;
  readonly kitchen: Kitchen;
  at(instant: string): void;
  bring(quantity: number, occurredAt: string, more?: object): Promise<string>;
  report(query: string): Promise<Json>;
}

async function stageOf(firstDay: string): Promise<Stage> {
  const service = await startService({ nowMs: Date.parse(firstDay) });
  const world = await buildWorld(service);
  const kitchen = kitchenOf(service, world);
  return {
    service,
    world,
    kitchen,
    at: (instant) => service.clock.set(Date.parse(instant)),
    async bring(quantity, occurredAt, more = {}) {
      const line = { itemId: world.beefShinId, placeId: world.ckChillerId, quantity, unit: 'g', ...more };
      const body = { siteId: world.ckId, supplierId: world.supplierId, occurredAt, lines: [line] };
      return (await kitchen.post('kitchen', '/v1/goods-receipts', body)).lines[0].lotId as string;
    },
    report: (query) => kitchen.get('finance', `/v1/reports/waste-and-yield?${query}`),
  };
}

describe('as recorded at a moment', () => {
  let stage: Stage;
  beforeAll(async () => {
    stage = await stageOf('2026-01-20T08:00:00Z');
    // A salary of 6000 from 1 January, recorded on the 25th; 6500 from 15 February, recorded on 15 March. Here it is what stands.
    stage.at('2026-01-25T12:00:00Z');
    await stage.bring(6_000, '2026-01-01T12:00:00Z');
    stage.at('2026-03-15T12:00:00Z');
    await stage.bring(500, '2026-02-15T12:00:00Z');
    stage.at('2026-03-26T12:00:00Z');
  });
  afterAll(() => stage.service.stop());

  // Nothing else happens between the 25th of a month and its end, so what stands on the 25th is the month's closing.
  test.each([
    ['02-25', '01-25', 6_000],
    ['02-25', '02-25', 6_000],
    ['03-25', '01-25', 6_000],
    ['03-25', '02-25', 6_500],
    ['03-25', '03-25', 6_500],
  ])(
    "Fowler's grid (Bitemporal History: what was known when): as recorded %s, on %s it is %i",
    async (recorded, effective, value) => {
      const body = await stage.report(`month=2026-${effective.slice(0, 2)}&recordedAt=2026-${recorded}T12:00:00Z`);
      expect(body.items.map((item: Json) => item.inUnits.closing)).toEqual([value]);
    },
  );

  test('stock as it was recorded', async () => {
    const standing = async (moment: string): Promise<number> => {
      const { items } = await stage.kitchen.get('finance', `/v1/stock?recordedAt=${moment}`);
      return items.reduce((sum: number, part: Json) => sum + part.quantity, 0);
    };
    // the second delivery was there from 15 February, but nobody had said so
    expect(await standing('2026-01-24T12:00:00Z')).toBe(0);
    expect(await standing('2026-02-25T12:00:00Z')).toBe(6_000);
    expect(await standing('2026-03-15T12:00:00Z')).toBe(6_500);
    const ahead = await stage.service.as('finance').get('/v1/stock?recordedAt=2026-03-27T12:00:00Z');
    expect(ahead.body).toMatchObject({ code: 'rule-broken' });
  });

  test('more than twelve months are too many, and the limit is named; months the wrong way round are refused', async () => {
    const path = '/v1/reports/waste-and-yield';
    const finance = stage.service.as('finance');
    const long = await finance.get(`${path}?month=2025-03&throughMonth=2026-03`);
    expect(long.body).toMatchObject({ code: 'period-too-long' });
    expect(long.body.detail).toContain('12');
    expect((await finance.get(`${path}?month=2025-04&throughMonth=2026-03`)).status).toBe(200);
    expect((await finance.get(`${path}?month=2026-03&throughMonth=2026-02`)).body).toMatchObject({
      code: 'rule-broken',
    });
  });

  test('sites are named by id or code; several are one scope', async () => {
    const { ckId, w3Id } = stage.world;
    const both = await stage.report(`month=2026-02&site=W3,${ckId}`);
    expect(both.sites.map((site: Json) => site.siteId)).toEqual([ckId, w3Id]);
    expect(both.allSites).toBe(false);
    const cook = stage.service.as('kitchen', ckId);
    expect((await cook.get('/v1/reports/waste-and-yield?month=2026-02&site=CK')).status).toBe(200);
    expect((await cook.get('/v1/reports/waste-and-yield?month=2026-02&site=CK,W3')).status).toBe(404);
  });
});

describe('a month that is closed', () => {
  let stage: Stage;
  let lotId: string;
  let asClosed: Json;

  /** As closing does it; the close itself is tested with its operations. */
  const close = async (month: string): Promise<void> => {
    const { db, clock, groupId } = stage.service;
    await db.inGroup(groupId, 'exclusive', async (tx) => {
      const closeId = randomUUID();
      const { seq } = await getCutNow(tx);
      const actorId = exampleId('person/finance');
      const fact = { kind: 'month-close' as const, subjectId: closeId, factId: closeId, actorId };
      const moneyNo = await takeMoneyNo(tx, fact, clock.nowMs());
      await tx.query(
        `insert into month_close (group_id, close_id, month, version, cut_seq, cut_money_no, cut_recorded_at, money_no, closed_by, closed_at,
                checks, accepted)
         values ($1::uuid, $2::uuid, $3::date, 1, $4::int8, $5::int8, to_timestamp($6::float8 / 1000), $5::int8, $7::uuid,
                 to_timestamp($6::float8 / 1000), '[]', '[]')`,
        [groupId, closeId, `${month}-01`, seq, moneyNo, clock.nowMs(), actorId],
      );
    });
  };

  beforeAll(async () => {
    stage = await stageOf('2026-10-01T08:00:00Z');
    stage.at('2026-10-05T12:00:00Z');
    // 100 kg for 100.00
    lotId = await stage.bring(100_000, '2026-10-05T10:00:00Z', { priceMinor: 10_000 });
    const of = { lotId, placeId: stage.world.ckChillerId, unit: 'g' };
    stage.at('2026-10-20T12:00:00Z');
    await stage.kitchen.post('kitchen', '/v1/uses', { ...of, quantity: 60_000, occurredAt: '2026-10-20T11:00:00Z' });
    stage.at('2026-11-02T12:00:00Z');
    await close('2026-10');
    asClosed = await stage.report('month=2026-10');
    // in November: 2 kg thrown away in October come to light, and the invoice says 120.00
    stage.at('2026-11-10T12:00:00Z');
    const bin = { reason: 'damaged', destination: 'composting' };
    await stage.kitchen.post('kitchen', '/v1/discards', {
      ...of,
      quantity: 2_000,
      occurredAt: '2026-10-30T11:00:00Z',
      ...bin,
    });
    await stage.kitchen.post('finance', '/v1/prices', { lotId, priceMinor: 12_000, reason: 'Invoice corrected' });
  });
  afterAll(() => stage.service.stop());

  test('stays as it was closed, to the last character', async () => {
    expect(asClosed).toMatchObject({ state: 'closed', late: [] });
    expect(asClosed.items[0].inMoney).toMatchObject({ opening: 0, received: 10_000, served: 6_000, closing: 4_000 });
    expect(await stage.report('month=2026-10')).toEqual(asClosed);
    expect(await stage.report('month=2026-10&recordedAt=2026-11-10T12:00:00Z')).toEqual(asClosed);
    const before = await stage.report('month=2026-10&recordedAt=2026-10-31T12:00:00Z');
    expect(before.state).toBe('open');
  });

  test('what came later stands in the next month: opening 40.00 and 8.00 more, 2 kg late, 20.00 - 12.00 of prices', async () => {
    const body = await stage.report('month=2026-11');
    const [item] = body.items;
    expect(item.inUnits).toMatchObject({ opening: 40_000, wasted: 2_000, closing: 38_000 });
    // 40 kg x 1.00, + 40 kg x 0.20, - 2 kg x 1.20 = 38 kg x 1.20
    expect(item.inMoney).toMatchObject({ opening: 4_000, revalued: 800, wasted: 240, closing: 4_560 });
    const late = body.late.map((one: Json) => [one.month, one.kind, one.line, one.quantity, one.valueMinor]);
    expect(late.sort()).toEqual([
      ['2026-10', 'recorded-late', 'wasted', 2_000, 240],
      ['2026-10', 'revalued', 'received', 100_000, 2_000],
      ['2026-10', 'revalued', 'served', 60_000, 1_200],
    ]);
    const href = body.late.find((one: Json) => one.kind === 'recorded-late').linesHref;
    const lines = await stage.kitchen.get('finance', href);
    expect(lines.items).toMatchObject([{ lotId, line: 'wasted', quantity: 2_000, lateMonth: '2026-10' }]);
    expect(lines.sum).toMatchObject({ quantity: 2_000, grams: 2_000, valueMinor: 240 });
    expect(body.comparison.previous.summary).toEqual(asClosed.summary);
  });

  test('restated, every fact stands in its month at what it costs now', async () => {
    const body = await stage.report('month=2026-10&restated=true');
    expect(body.items[0].inUnits).toMatchObject({ received: 100_000, served: 60_000, wasted: 2_000, closing: 38_000 });
    expect(body.items[0].inMoney).toMatchObject({ received: 12_000, served: 7_200, wasted: 240, closing: 4_560 });
    expect((await stage.report('month=2026-11&restated=true')).items[0].inUnits).toMatchObject({
      opening: 38_000,
      wasted: 0,
    });
  });
});
