import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { exampleId } from '../../../src/platform/ids.ts';
import type { Json } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { tellStewMonth, type StewMonth } from '../../support/stew-month.ts';

const PATH = '/v1/reports/waste-and-yield';

describe('the month', () => {
  let service: TestService;
  let month: StewMonth;
  beforeAll(async () => {
    service = await startService();
    month = await tellStewMonth(service);
  });
  afterAll(() => service.stop());

  const report = async (query: string): Promise<Json> => {
    const answer = await service.as('finance').get(`${PATH}?${query}`);
    expect(answer.status).toBe(200);
    return answer.body;
  };
  const itemOf = (body: Json, itemId: string): Json => body.items.find((item: Json) => item.itemId === itemId);
  const nothing = {
    opening: 0,
    received: 0,
    produced: 0,
    returnedIn: 0,
    transferIn: 0,
    adjusted: 0,
    consumed: 0,
    served: 0,
    servedDerived: 0,
    staffMeals: 0,
    donated: 0,
    tasted: 0,
    sampled: 0,
    wasted: 0,
    transferOut: 0,
    returnedToSupplier: 0,
    closing: 0,
  };

  test('of the group: what is on the road is inside, what was undone is not counted', async () => {
    const body = await report('month=2026-11');
    expect(body).toMatchObject({ from: '2026-11-01', to: '2026-12-01', allSites: true, state: 'open' });
    const shin = {
      ...nothing,
      opening: 10_000,
      received: 30_000,
      consumed: 32_000,
      wasted: 1_000,
      returnedToSupplier: 700,
      closing: 6_300,
    };
    expect(itemOf(body, month.world.beefShinId)).toMatchObject({ unit: 'g', inUnits: shin, inGrams: shin });
    const stew = { ...nothing, produced: 27_600, consumed: 15_100, closing: 12_500 };
    expect(itemOf(body, month.world.beefStewId)).toMatchObject({ inUnits: stew, inGrams: stew });
    const packs = itemOf(body, month.world.beefStewPackId);
    expect(packs.inUnits).toEqual({
      ...nothing,
      produced: 50,
      returnedIn: 1,
      adjusted: -1,
      served: 22,
      wasted: 3,
      closing: 25,
    });
    // 302.5 g and 300 g a pack; see tests/domain/month-rows.test.ts for the rounding by hand
    expect(packs.inGrams).toEqual({
      ...nothing,
      produced: 15_100,
      returnedIn: 303,
      adjusted: -302,
      served: 6_650,
      wasted: 908,
      closing: 7_543,
    });
    expect(body.waste.map((one: Json) => [one.siteName, one.reason, one.destination, one.quantity, one.grams])).toEqual(
      [
        ['Central kitchen', 'trim', 'anaerobic-digestion', 1_000, 1_000],
        ['Ward 3 pantry', 'past-use-by', 'anaerobic-digestion', 3, 908],
      ],
    );
  });

  test('of the ward: arrivals are transfers, what was never seen to arrive is below zero', async () => {
    const body = await report(`month=2026-11&siteId=${month.world.w3Id}`);
    expect(body.sites).toMatchObject([{ siteName: 'Ward 3 pantry' }]);
    expect(body.items).toHaveLength(1);
    expect(body.items[0].inUnits).toMatchObject({
      opening: 0,
      transferIn: 28,
      returnedIn: 1,
      adjusted: -1,
      served: 22,
      wasted: 3,
      // 4 counted and 1 in quarantine of one lot, 2 short of the other
      closing: 3,
    });
    expect(body.batches).toEqual([]);
  });

  test('of the kitchen: what left is a transfer, whether it arrived or not', async () => {
    const body = await report(`month=2026-11&siteId=${month.world.ckId}`);
    expect(itemOf(body, month.world.beefStewPackId).inUnits).toEqual({
      ...nothing,
      produced: 50,
      transferOut: 30,
      closing: 20,
    });
  });

  test('months join: one closes as the next opens', async () => {
    const october = await report('month=2026-10');
    expect(itemOf(october, month.world.beefShinId).inUnits).toEqual({ ...nothing, received: 10_000, closing: 10_000 });
    const december = await report('month=2026-12');
    expect(itemOf(december, month.world.beefShinId).inUnits).toEqual({ ...nothing, opening: 6_300, closing: 6_300 });
    expect(itemOf(december, month.world.beefStewPackId).inUnits).toEqual({
      ...nothing,
      opening: 25,
      served: 1,
      closing: 24,
    });
    expect((await report('month=2026-09')).items).toEqual([]);
  });

  test('batches completed, recipes, and the summary with its denominators', async () => {
    const body = await report('month=2026-11');
    const grams = {
      inputG: 32_000,
      outputG: 27_600,
      lossesG: { 'cooking-loss': 4_000 },
      unexplainedG: 400,
      // 27 600 / 32 000 = 86.25 %
      yieldPercent: 86.3,
      expectedYieldPercent: 85,
    };
    expect(body.batches).toMatchObject([{ batchId: month.batchId, completedOn: '2026-11-03', ...grams }]);
    expect(body.recipes).toMatchObject([{ recipeCode: 'BEEF-STEW', batches: 1, ...grams }]);
    expect(body.summary).toMatchObject({
      // 30 000 received + 27 600 + 15 100 produced + 303 returned
      inG: 73_003,
      servedG: 6_650,
      servedDerivedG: 0,
      boughtG: 30_000,
      otherUseG: 0,
      wastedG: 1_908,
      wastedFoodG: 1_908,
      wastedInediblePartsG: 0,
      adjustedG: -302,
      // 1 908 / 73 003 = 2.61 %; 1 908 / 8 558 = 22.29 %
      wastedPercentOfIn: {
        value: 2.6,
        of: 'grams received + produced + returned from service + transferred in, without packaging',
      },
      wastedPercentOfServedAndWasted: {
        value: 22.3,
        of: 'grams served (seen and derived from counts) + wasted, without packaging',
      },
      yieldPercent: { value: 86.3, of: 'grams that went into the batches completed in the period' },
    });
    expect((await report('month=2026-12')).batches).toEqual([]);
  });

  test('as CSV: RFC 4180, one row an item, texts that no spreadsheet runs', async () => {
    const admin = service.as('admin');
    const item = await admin.get(`/v1/items/${month.world.beefShinId}`);
    const ifMatch = { 'if-match': item.headers['etag'] ?? '' };
    const renamed = await admin.patch(`/v1/items/${month.world.beefShinId}`, { name: '=Shin, "diced"' }, ifMatch);
    expect(renamed.status).toBe(200);
    const answer = await service.as('finance').get(`${PATH}?month=2026-11&format=csv`);
    expect(answer.headers['content-type']).toMatch(/^text\/csv/);
    expect(answer.headers['content-disposition']).toBe('attachment; filename="waste-and-yield-2026-11-all-sites.csv"');
    const lines = answer.text.split('\r\n');
    expect(lines).toHaveLength(5);
    expect(lines[4]).toBe('');
    // unit, opening and received, and so on in grams: the row is the report's
    expect(lines[0]).toMatch(/^Month,Through month,/);
    expect(lines[1]).toContain('BEEF-SHIN,"\'=Shin, ""diced""",,g,10000,30000,0,0,0,0,32000,');
    expect(lines[3]).toContain(',piece,0,0,50,1,0,-1,0,22,');
    const asked = await service.as('finance').get(`${PATH}?month=2026-11`, { accept: 'text/csv' });
    expect(asked.text).toBe(answer.text);
  });

  test('a month to come is refused; it begins when it begins at the site', async () => {
    const finance = service.as('finance');
    expect((await finance.get(`${PATH}?month=2027-01`)).body).toMatchObject({ code: 'rule-broken' });
    expect((await finance.get(`${PATH}?month=2026-13`)).body).toMatchObject({ code: 'invalid-request' });
    expect((await finance.get(PATH)).body).toMatchObject({ code: 'invalid-request' });
    // summer time: half past midnight in London, the day before in UTC
    const july = `${PATH}?month=2027-07&siteId=${month.world.ckId}`;
    service.clock.set(Date.parse('2027-06-30T22:59:59Z'));
    expect((await finance.get(july)).status).toBe(422);
    service.clock.set(Date.parse('2027-06-30T23:00:00Z'));
    expect((await finance.get(july)).status).toBe(200);
    service.clock.set(Date.parse('2026-12-02T12:00:00Z'));
  });

  test('those of one site name it; another site is not there', async () => {
    const { ckId, w3Id } = month.world;
    const cook = service.as('kitchen', ckId);
    expect((await cook.get(`${PATH}?month=2026-11`)).body).toMatchObject({ code: 'rule-broken' });
    expect((await cook.get(`${PATH}?month=2026-11&siteId=${ckId}`)).status).toBe(200);
    expect((await cook.get(`${PATH}?month=2026-11&siteId=${w3Id}`)).status).toBe(404);
    expect((await cook.get(`${PATH}?month=2026-11&siteId=${exampleId('site/nowhere')}`)).status).toBe(404);
    expect((await service.as('receiver').get(`${PATH}?month=2026-11`)).status).toBe(403);
  });
});
