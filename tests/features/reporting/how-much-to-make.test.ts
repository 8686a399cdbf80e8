/**
 * How much to make at a ward, from nine days told below. By hand: asked for were 10, 12, 7 (one of 8 came back), 10, at least 9, 6, at
 * least 3, and at least 0 on the day of the short pick. Product limit: 6 with 1/6, 7 with 1/6, 10 with 4/9, 12 with 2/9; mean 167/18.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { NOON_MS, startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
const at = (day: number, time = '12:00') => `2026-11-${day}T${time}:00Z`;

/** Packs bought straight for a place; their date is long enough for the story. */
async function receive(
  siteId: string,
  placeId: string,
  quantity: number,
  day: number,
  more: object = {},
): Promise<string> {
  const lotId = randomUUID();
  const line = {
    lotId,
    itemId: world.beefStewPackId,
    placeId,
    quantity,
    unit: 'piece',
    useByDate: '2026-12-20',
    ...more,
  };
  const receipt = { siteId, supplierId: world.supplierId, occurredAt: at(day, '06:00'), lines: [line] };
  await kitchen.post('operations', '/v1/goods-receipts', receipt);
  return lotId;
}

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  const first = await receive(world.w3Id, world.w3ChillerId, 40, 16, { priceMinor: 6_000 });
  const take = (path: string, lotId: string, quantity: number, day: number, more: object = {}) => {
    const body = { lotId, placeId: world.w3ChillerId, quantity, unit: 'piece', occurredAt: at(day), ...more };
    return kitchen.post('receiver', path, body);
  };
  await take('/v1/uses', first, 10, 16);
  await take('/v1/uses', first, 12, 17);
  await take('/v1/uses', first, 8, 18);
  await take('/v1/returns', first, 1, 18, {
    direction: 'from-service',
    reason: 'Unopened',
    occurredAt: at(18, '14:00'),
  });
  await take('/v1/uses', first, 10, 19);
  // thrown away in the evening: the stock is at zero, and nobody went without
  const waste = { reason: 'over-production', destination: 'composting', occurredAt: at(19, '20:00') };
  await take('/v1/discards', first, 1, 19, waste);
  const second = await receive(world.w3Id, world.w3ChillerId, 9, 20);
  await take('/v1/uses', second, 9, 20);
  const third = await receive(world.w3Id, world.w3ChillerId, 15, 21);
  await take('/v1/uses', third, 6, 21);
  await take('/v1/uses', third, 9, 21, { purpose: 'staff-meal', occurredAt: at(21, '13:00') });
  const stock = await receive(world.ckId, world.ckChillerId, 4, 23);
  const asked = { serviceDate: '2026-11-24', meal: 'lunch', itemId: world.beefStewPackId, portions: 4 };
  const needs = await kitchen.post('receiver', '/v1/requirements', { siteId: world.w3Id, lines: [asked] });
  const requirementId = needs.requirements[0].requirementId as string;
  const line = { lotId: stock, placeId: world.ckChillerId, quantity: 2, unit: 'piece', requirementId };
  const plan = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines: [line] };
  const { dispatchId } = await kitchen.post('kitchen', '/v1/dispatches', plan);
  const short = { requirementId, shortPortions: 2, reason: 'The rest is not packed' };
  await kitchen.post('kitchen', `/v1/dispatches/${dispatchId}/short-picks`, short);
  service.clock.set(NOON_MS + 3_600_000);
  // recorded an hour later: three that nobody had booked in
  await take('/v1/uses', third, 3, 22);
});
afterAll(() => service.stop());

const ask = (more = '', status = 200): Promise<Json> =>
  kitchen.get(
    'kitchen',
    `/v1/reports/how-much-to-make?siteId=${world.w3Id}&itemId=${world.beefStewPackId}&date=2026-11-26${more}`,
    status,
  );
const BOTH = '&runOutCostMinor=450&wasteCostMinor=150';

test('the evidence: what each day says, and why it ran out', async () => {
  const answer = await ask(BOTH);
  const days = answer.days.map((day: Json) => [
    day.date.slice(8),
    day.demand,
    ...day.ranOut.map((one: Json) => one.why),
  ]);
  expect(days).toEqual([
    ['16', 10],
    ['17', 12],
    ['18', 7],
    ['19', 10],
    ['20', 9, 'stock-at-zero'],
    ['21', 6],
    ['22', 3, 'used-more-than-booked'],
    ['24', 0, 'short-pick'],
  ]);
  expect(answer.days[3]).toMatchObject({ served: 10, wasted: 1, required: null });
  expect(answer.days[7]).toMatchObject({ served: 0, requiredPortions: 4, required: 4 });
  expect(answer.method).toMatchObject({
    days: 'all-weekdays',
    daysUsed: 8,
    daysThatRanOut: 3,
    throughDate: '2026-11-24',
  });
});

test('the offer by hand: ratio 450/600, 10 packs; 7/6 left over, 4/9 missing, 175 + 200 in money', async () => {
  const answer = await ask(BOTH);
  expect(answer).toMatchObject({
    quantity: 10,
    expectedDemand: 9.28,
    criticalRatio: { numerator: '3', denominator: '4', value: 0.75 },
    atOffer: { expectedWaste: 1.17, expectedRunOut: 0.44, expectedCostMinor: 375, chanceOfRunningOut: 0.2222 },
    spread: { lower: 6, upper: 12 },
    tail: { unknown: false },
    costOfWaste: { perUnitMinor: '150', from: 'query' },
  });
  expect(answer.distribution.map((step: Json) => [step.quantity, step.chanceAtMost])).toEqual([
    [6, 0.1667],
    [7, 0.3333],
    [10, 0.7778],
    [12, 1],
  ]);
  expect(answer.offer).toMatch(/^Offer, not an order: 10 pieces/);
  // whole trays of six: 6 would cost 1,475, 12 cost 408.33
  expect(await ask(`${BOTH}&packQuantity=6`)).toMatchObject({ quantity: 12, packs: 2, quantityBeforeRounding: 10 });
});

test('what is left over costs what the lots cost: 60.00 for 40 packs; lots without a price are left out, and it is said', async () => {
  const answer = await ask('&runOutCostMinor=450');
  expect(answer).toMatchObject({ quantity: 10, costOfWaste: { perUnitMinor: '150', from: 'unit-cost' } });
  expect(answer.costOfWaste.text).toContain('2 lots without a full price are left out');
});

test('a place used by count: 1,000, 500, 500, 1,000 and 500 g on the days of one count each; what three days share is left out', async () => {
  const place = { siteId: world.w3Id, code: 'COUNTED', name: 'Counted', kind: 'chiller', usedByCount: true };
  const { placeId } = await kitchen.post('admin', '/v1/places', place);
  const bulk = { itemId: world.beefStewId, unit: 'g' };
  const lotId = await receive(world.w3Id, placeId, 10_000, 16, bulk);
  const counts = [4_000, 3_000, 2_500, 2_000, 1_000, 500];
  for (const [after, quantity] of counts.entries()) {
    const lines = [{ lotId, quantity, unit: 'g' }];
    await kitchen.post('receiver', '/v1/stock-counts', { placeId, occurredAt: at(18 + after, '20:00'), lines });
  }
  const answer = await kitchen.get(
    'kitchen',
    `/v1/reports/how-much-to-make?siteId=${world.w3Id}&itemId=${world.beefStewId}&date=2026-11-26`,
  );
  expect(answer).toMatchObject({ expectedDemand: 700, method: { daysUsed: 5, daysThatRanOut: 0, daysLeftOut: 1 } });
  expect(answer.days[0]).toMatchObject({ servedDerived: 6_000, leftOut: 'counted-over-several-days' });
});

test('without what running out costs there is a curve and no number; a stated proportion is enough for one', async () => {
  const none = await ask();
  expect(none).toMatchObject({ quantity: null, criticalRatio: null, atOffer: null });
  expect(none.curve.map((one: Json) => [one.quantity, one.expectedCostMinor])).toEqual([
    [6, null],
    [7, null],
    [10, null],
    [12, null],
  ]);
  expect(none.offer).toContain('No quantity is offered');
  const state = (body: object) => kitchen.post('finance', '/v1/run-out-costs', body);
  await state({ ratioPercent: 200 });
  // 200 to 100: two days in three
  expect(await ask()).toMatchObject({
    quantity: 10,
    criticalRatio: { value: 0.6667 },
    // 7/6 x 150 + 4/9 x 300
    atOffer: { expectedCostMinor: 308.33 },
  });
  const here = { siteId: world.w3Id, itemId: world.beefStewPackId };
  const stated = await state({ ...here, costMinor: 900, perQuantity: 2 });
  await state({ siteId: world.w3Id, costMinor: 1 });
  expect(await ask('&wasteCostMinor=50')).toMatchObject({
    quantity: 12,
    costOfRunningOut: { perUnitMinor: '450', from: 'stated', runOutCostId: stated.runOutCostId },
  });
});

test('as recorded an hour before: the day that was entered late is not there, nor what was stated since', async () => {
  const before = await ask(`${BOTH}&recordedAt=${new Date(NOON_MS).toISOString()}`);
  expect(before.days.map((day: Json) => day.date.slice(8))).not.toContain('22');
  expect(before).toMatchObject({ recordedAt: '2026-11-25T12:00:00.000Z', method: { daysUsed: 7 } });
});

test('a span that begins in the middle stands on what was there before: the 19th is not taken for running out', async () => {
  const answer = await ask(`${BOTH}&weeks=1`);
  expect(answer.method).toMatchObject({ fromDate: '2026-11-18', daysUsed: 6, weeks: 1 });
  expect(answer.days.slice(0, 3).map((day: Json) => [day.date.slice(8), day.demand, day.ranOut.length])).toEqual([
    ['18', 7, 0],
    ['19', 10, 0],
    ['20', 9, 1],
  ]);
});

test('a picture; too short a history; what may not be stated', async () => {
  const path = `/v1/reports/how-much-to-make?siteId=${world.w3Id}&itemId=${world.beefStewPackId}&date=2026-11-26${BOTH}`;
  const picture = await service.as('kitchen').get(path, { Accept: 'image/svg+xml' });
  expect([picture.status, picture.headers['content-type']]).toEqual([200, 'image/svg+xml; charset=utf-8']);
  expect(picture.text).toContain('triangle: ran out');
  const short = await service.as('kitchen').get(`${path}&recordedAt=2026-11-01T00:00:00Z`);
  expect([short.status, short.body.code, short.body.days, short.body.needed]).toEqual([422, 'history-too-short', 0, 5]);
  const state = async (client: Json, body: object) =>
    (await client.post('/v1/run-out-costs', { id: randomUUID(), ...body })).body.code;
  const finance = service.as('finance');
  expect(await state(finance, {})).toBe('rule-broken');
  expect(await state(finance, { costMinor: 1, ratioPercent: 1 })).toBe('rule-broken');
  expect(await state(service.as('operations', world.w3Id), { costMinor: 1 })).toBe('rule-broken');
  expect(await state(service.as('operations', world.w3Id), { costMinor: 1, siteId: world.ckId })).toBe('not-found');
});
