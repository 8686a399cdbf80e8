/**
 * October and November of a kitchen, small enough to add up by hand. October: 100 kg of shin for 800.00; 80 kg cooked to 64 kg, 200 packs of
 * 300 g of 60 kg; 120 packs served, 20 discarded, 10 kg of shin discarded. November: 60 kg of shin for 540.00, 40 packs of October's served, 3 kg
 * of shin discarded.
 */
import { afterAll, beforeAll, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
beforeAll(async () => {
  service = await startService({ nowMs: Date.parse('2026-10-05T08:00:00Z') });
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
});
afterAll(() => service.stop());

const move = (path: string, lotId: string, quantity: number, unit: string, day: string, more: object = {}) =>
  kitchen.post('kitchen', path, {
    lotId,
    placeId: world.ckChillerId,
    quantity,
    unit,
    occurredAt: `${day}T12:00:00Z`,
    ...more,
  });
const bin = { reason: 'damaged', destination: 'anaerobic-digestion' };
const savings = (query: string, status = 200): Promise<Json> =>
  kitchen.get('finance', `/v1/reports/savings?${query}`, status);

test('waste share against October, kilograms and money, by hand; a fact told late counts where it happened, unless it is read as of before', async () => {
  const shin = await kitchen.shin(100_000, { priceMinor: 80_000 });
  const { batchId, lotId } = await kitchen.stew(shin, 80_000, 64_000);
  const packs = await kitchen.pack(batchId, lotId, 60_000, 200);
  await kitchen.post('kitchen', `/v1/batches/${batchId}/completion`, {
    losses: [
      { kind: 'trim', massG: 4_000 },
      { kind: 'cooking-loss', massG: 12_000 },
    ],
  });
  await kitchen.release(batchId);
  service.clock.set(Date.parse('2026-10-20T12:00:00Z'));
  await move('/v1/uses', packs, 120, 'piece', '2026-10-07');
  await move('/v1/discards', packs, 20, 'piece', '2026-10-08', bin);
  await move('/v1/discards', shin, 10_000, 'g', '2026-10-08', bin);
  const { chain } = await kitchen.get('finance', '/v1/reports/yields?fromDate=2026-10-01&toDate=2026-10-31');
  const nothing = { otherUseG: 0, madeOnG: 0, differenceG: 0 };
  // 80 kg in, 76 after trim, 64 cooked: a sixteenth was not packed
  expect(chain[0]).toMatchObject({
    boughtG: 5_000,
    preparedG: 4_750,
    cookedG: 4_000,
    packedG: 4_000,
    servedG: 0,
    stockG: 4_000,
  });
  const sealed = { boughtG: 75_000, preparedG: 71_250, cookedG: 60_000, packedG: 60_000 };
  expect(chain[1]).toMatchObject({ ...nothing, ...sealed, servedG: 36_000, wastedG: 6_000, stockG: 18_000 });
  expect(chain[1]).toMatchObject({ servedPercentOfBought: 48, portionsServed: null });
  expect((await savings('month=2026-10', 422)).code).toBe('history-too-short');
  const early = await service
    .as('finance')
    .post('/v1/savings-baselines', { id: '00000000-0000-4000-8000-000000000001', month: '2026-10' });
  expect(early.body.code).toBe('month-not-ended');

  service.clock.set(Date.parse('2026-11-10T12:00:00Z'));
  const empty = await service
    .as('finance')
    .post('/v1/savings-baselines', { id: '00000000-0000-4000-8000-000000000002', month: '2026-09' });
  expect(empty.body.code).toBe('history-too-short');
  // 64 of 80 kg are left: a pack of 300 g holds 300 g x 80/64 x 64/80 = 300 g of shin. Served 36 kg, discarded 6 + 10 kg, lost
  // in making 16 kg: 68 kg were used up, and 36 / 68 is 52.9 %, 16 / 68 is 23.5 %.
  const october = {
    boughtG: 100_000,
    servedBoughtG: 36_000,
    wastedBoughtG: 16_000,
    usedUpG: 68_000,
    servedPercentOfUsedUp: 52.9,
    wastedPercentOfUsedUp: 23.5,
    pricedG: 100_000,
    boughtMinor: 80_000,
    averageMinorPerKg: 800,
  };
  const baseline = await kitchen.post('finance', '/v1/savings-baselines', { month: '2026-10', note: 'Before' });
  expect(baseline).toMatchObject({ month: '2026-10', throughMonth: '2026-10', note: 'Before', figures: october });

  const more = await kitchen.shin(60_000, { priceMinor: 54_000 });
  await move('/v1/uses', packs, 40, 'piece', '2026-11-09');
  await move('/v1/discards', more, 3_000, 'g', '2026-11-10', bin);
  const before = service.clock.nowMs();
  service.clock.set(before + 3_600_000);
  // recorded late: 5 kg of October's shin; the baseline stays what it was
  await move('/v1/discards', shin, 5_000, 'g', '2026-10-30', bin);
  const answer = await savings('month=2026-11');
  // 12 kg served, 3 kg wasted: 15 kg used up, a fifth of it wasted. (16 / 68 - 3 / 15) x 15 kg are 0.529 kg, at 9.00
  expect(answer).toMatchObject({
    currency: 'GBP',
    period: {
      boughtG: 60_000,
      servedBoughtG: 12_000,
      wastedBoughtG: 3_000,
      usedUpG: 15_000,
      wastedPercentOfUsedUp: 20,
      averageMinorPerKg: 900,
    },
    baseline: { note: 'Before', figures: october },
    saved: { wastePoints: 3.5, servedPoints: 27.1, savedG: 529, savedMinor: 476 },
  });
  expect(answer.method).toContain('Saved kilograms =');
  const now = await savings('month=2026-10');
  expect(now.period).toMatchObject({ wastedBoughtG: 21_000 });
  const then = await savings(`month=2026-10&recordedAt=${new Date(before).toISOString()}`);
  expect(then.period).toMatchObject({ wastedBoughtG: 16_000 });
  expect(then.saved).toMatchObject({ wastePoints: 0, savedG: 0, savedMinor: 0 });

  // all of them are kept, the newest holds
  await kitchen.post('finance', '/v1/savings-baselines', { month: '2026-10', note: 'After' });
  expect((await savings('month=2026-11')).baseline).toMatchObject({
    note: 'After',
    figures: { wastedBoughtG: 21_000 },
  });
  expect((await savings('month=2025-12&throughMonth=2026-12', 422)).code).toBe('period-too-long');
  expect((await savings('month=2026-12', 422)).code).toBe('rule-broken');
  const own = await service.as('kitchen', world.ckId).get('/v1/reports/savings?month=2026-11');
  expect(own.body.code).toBe('rule-broken');
});
