/** Pick list, production sheet and coverage, on stock of two dates, one hold and one batch that awaits release. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { NOON_MS, startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const DAY_MS = 86_400_000;
const TODAY = '2026-11-25';
const TOMORROW = '2026-11-26';

let service: TestService;
let world: World;
let kitchen: Kitchen;
/** two portions a pack of 300 g, opened as beef stew */
let item: string;
let oldest: string;
let newest: string;
let tomorrowLunch: Json;
let tomorrowDinner: Json;

/** Packs cooked a number of days ago. */
async function packs(count: number, daysAgo: number, packLotCode: string, released = true): Promise<string> {
  service.clock.set(NOON_MS - daysAgo * DAY_MS);
  const shin = await kitchen.shin(10_000);
  const { batchId, lotId } = await kitchen.stew(shin, 10_000, 9_000);
  const lot = await kitchen.pack(batchId, lotId, count * 300, count, { packItemId: item, packLotCode });
  if (released) await kitchen.release(batchId);
  service.clock.set(NOON_MS);
  return lot;
}

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  const life = { lifeDays: 5, anchor: 'end-of-cooking', dayOne: 'anchor-day-is-day-one' };
  const made = await kitchen.post('operations', '/v1/items', {
    code: 'STEW-2',
    name: 'Beef stew, two portions',
    kind: 'packed',
    unit: 'piece',
    unitMassMg: 300_000,
    allergens: ['gluten-cereals:wheat', 'celery'],
    handling: 'ready-to-eat',
    storageInstruction: 'Keep at 3 °C or below',
    life,
    portionsPerUnit: 2,
    openedItemId: world.beefStewId,
  });
  item = made.itemId;
  // In date until the end of 27 November (day one is the 23rd) and of the 29th; codes and births run the other way.
  newest = await packs(10, 0, 'A-NEWEST');
  oldest = await packs(6, 2, 'Z-OLDEST');
  const held = await packs(5, 3, 'B-HELD');
  await kitchen.post('quality', '/v1/holds', { kind: 'quality', lotId: held, note: 'Smells odd' });
  await packs(4, 0, 'C-AWAITING', false);
  const lines = [
    { serviceDate: TODAY, meal: 'dinner', itemId: item, portions: 3 },
    { serviceDate: TOMORROW, meal: 'dinner', itemId: item, portions: 40 },
    { serviceDate: TOMORROW, meal: 'lunch', itemId: item, portions: 15 },
  ];
  const recorded = await kitchen.post('receiver', '/v1/requirements', { siteId: world.w3Id, lines });
  [, tomorrowDinner, tomorrowLunch] = recorded.requirements;
});
afterAll(() => service.stop());

const pickList = (serviceDate: string, more = ''): Promise<Json> =>
  kitchen.get(
    'kitchen',
    `/v1/pick-list?fromSiteId=${world.ckId}&toSiteId=${world.w3Id}&serviceDate=${serviceDate}${more}`,
  );
const sheet = async (serviceDate: string, more = ''): Promise<Json> =>
  (await kitchen.get('kitchen', `/v1/production-sheet?siteId=${world.ckId}&serviceDate=${serviceDate}${more}`))
    .items[0];
const coverage = async (meal: string): Promise<Json> =>
  (await kitchen.get('receiver', `/v1/requirement-coverage?siteId=${world.w3Id}&serviceDate=${TOMORROW}&meal=${meal}`))
    .requirements[0];
const taken = (line: Json) => line.picks.map((pick: Json) => [pick.lotCode, pick.packs]);

describe('before anything is planned', () => {
  test('oldest date first, in whole packs, nothing that is held or awaits release, and what is short', async () => {
    const list = await pickList(TOMORROW);
    const [lunch, dinner] = list.lines;
    // 15 portions are 8 packs: 6 of the oldest and 2 more. 40 are 20 packs, of which 8 are left.
    expect(lunch).toMatchObject({ meal: 'lunch', packs: 8, shortPacks: 0, shortPortions: 0, whyShort: null });
    expect(taken(lunch)).toEqual([
      ['Z-OLDEST', 6],
      ['A-NEWEST', 2],
    ]);
    expect(lunch.picks[0]).toMatchObject({ placeName: 'CHILL-1', useByAt: '2026-11-28T00:00:00.000Z' });
    expect(taken(dinner)).toEqual([['A-NEWEST', 8]]);
    expect(dinner).toMatchObject({ packs: 20, shortPacks: 12, shortPortions: 24 });
    expect(dinner.whyShort).toContain('9 packs are on hold, awaiting release or in quarantine');
    expect(list.places).toMatchObject([
      {
        placeName: 'CHILL-1',
        lots: [
          { lotCode: 'Z-OLDEST', packs: 6 },
          { lotCode: 'A-NEWEST', packs: 10 },
        ],
      },
    ]);
  });

  test('with a minimum of life left at the meal', async () => {
    // From lunch on the 26th to the end of the 27th are 36 hours.
    expect(taken((await pickList(TOMORROW, '&meal=lunch&minimumLifeLeftH=36')).lines[0])[0]).toEqual(['Z-OLDEST', 6]);
    const [lunch] = (await pickList(TOMORROW, '&meal=lunch&minimumLifeLeftH=37')).lines;
    expect(taken(lunch)).toEqual([['A-NEWEST', 8]]);
    const [none] = (await pickList(TOMORROW, '&meal=lunch&minimumLifeLeftH=500')).lines;
    expect(none).toMatchObject({ picks: [], shortPortions: 15 });
    expect(none.whyShort).toContain('16 packs do not keep long enough');
  });

  test('the sheet: what is needed, what lies here, what earlier meals take, what to make', async () => {
    const line = await sheet(TOMORROW);
    // Needed: 8 + 20 packs. Here: 16 free, 4 awaiting; the held 5 are nobody's. Tonight takes 2. 28 - 18 = 10 to make.
    expect(line).toMatchObject({
      itemId: item,
      portionsPerPack: 2,
      requiredPortions: 55,
      departedPortions: 0,
      releasedPortions: 32,
      awaitingPortions: 8,
      earlierPortions: 4,
      toMakePacks: 10,
      toMakePortions: 20,
      toMakeG: 3_000,
      unsuitable: [],
    });
    expect(line.required).toMatchObject([
      { siteCode: 'W3', meal: 'lunch', mealAt: '2026-11-26T12:00:00.000Z', portions: 15 },
      { siteCode: 'W3', meal: 'dinner', mealAt: '2026-11-26T17:30:00.000Z', portions: 40 },
    ]);
    // One batch: 40 kg of shin give 34 kg. 3 kg are 3/34 of a batch: 60000/17 g, rounded up to weigh out.
    expect(line.recipes).toMatchObject([
      {
        recipeId: world.recipeId,
        oneBatchG: 34_000,
        batches: { numerator: '3', denominator: '34' },
        wholeBatches: 1,
        inputs: [
          { itemId: world.beefShinId, unit: 'g', quantity: 3_530, exact: { numerator: '60000', denominator: '17' } },
        ],
      },
    ]);
    // Lunch alone: the dinner after it takes nothing away.
    expect(await sheet(TOMORROW, '&meal=lunch')).toMatchObject({
      requiredPortions: 15,
      earlierPortions: 4,
      toMakePacks: 0,
    });
    expect(await sheet(TODAY)).toMatchObject({ requiredPortions: 3, earlierPortions: 0, toMakePacks: 0 });
  });

  test('a kitchen that is not central sees its own needs only', async () => {
    const own = await kitchen.get('kitchen', `/v1/production-sheet?siteId=${world.w3Id}&serviceDate=${TOMORROW}`);
    expect(own.items).toMatchObject([{ releasedPortions: 0, toMakePacks: 28 }]);
    await kitchen.post('kitchen', '/v1/requirements', {
      siteId: world.ckId,
      lines: [{ serviceDate: '2026-12-20', meal: 'lunch', itemId: item, portions: 4 }],
    });
    const other = await kitchen.get('kitchen', `/v1/production-sheet?siteId=${world.w3Id}&serviceDate=2026-12-20`);
    expect(other.items).toEqual([]);
  });

  test('the weekend when clocks change: lunch is at twelve by the clock on the wall', async () => {
    const days = ['2027-03-27', '2027-03-28'];
    const lines = days.flatMap((serviceDate) =>
      ['breakfast', 'lunch'].map((meal) => ({ serviceDate, meal, itemId: item, portions: 1 })),
    );
    await kitchen.post('receiver', '/v1/requirements', { siteId: world.w3Id, lines });
    const times = [];
    for (const day of days) times.push(...(await pickList(day)).lines.map((one: Json) => one.mealAt));
    expect(times).toEqual([
      '2027-03-27T08:00:00.000Z',
      '2027-03-27T12:00:00.000Z',
      '2027-03-28T07:00:00.000Z',
      '2027-03-28T11:00:00.000Z',
    ]);
  });
});

describe('planned, sent, received', () => {
  let dispatchId: string;
  const at = () => new Date(NOON_MS).toISOString();

  test('planned packs leave the pick list, and the sheet does not ask for them twice', async () => {
    const base = { placeId: world.ckChillerId, unit: 'piece' };
    const plan = await kitchen.post('kitchen', '/v1/dispatches', {
      fromSiteId: world.ckId,
      toSiteId: world.w3Id,
      lines: [
        { ...base, lotId: oldest, quantity: 6, requirementId: tomorrowLunch.requirementId },
        { ...base, lotId: newest, quantity: 3, requirementId: tomorrowLunch.requirementId },
        { ...base, lotId: newest, quantity: 2, requirementId: tomorrowDinner.requirementId },
      ],
    });
    dispatchId = plan.dispatchId;
    expect(await coverage('lunch')).toMatchObject({
      requiredPortions: 15,
      plannedPortions: 18,
      departedPortions: 0,
      receivedPortions: 0,
      shortPortions: 0,
      overPortions: 3,
      otherItems: [],
    });
    const list = await pickList(TOMORROW);
    // Lunch is covered; dinner lacks 36 portions, and 10 - 3 - 2 packs are left.
    expect(list.lines).toMatchObject([
      { meal: 'dinner', coveredPortions: 4, toPickPortions: 36, packs: 18, shortPacks: 13 },
    ]);
    expect(taken(list.lines[0])).toEqual([['A-NEWEST', 5]]);
    expect(await sheet(TOMORROW)).toMatchObject({ releasedPortions: 32, toMakePacks: 10 });
  });

  test('what whoever picked could not find is said, and the last word stands', async () => {
    const short = (shortPortions: number, reason: string) =>
      kitchen.post('kitchen', `/v1/dispatches/${dispatchId}/short-picks`, {
        requirementId: tomorrowDinner.requirementId,
        shortPortions,
        reason,
      });
    await short(36, 'No more packs');
    service.clock.set(NOON_MS + 1_000);
    await short(34, 'One more was found');
    service.clock.set(NOON_MS);
    expect((await coverage('dinner')).shortPicks).toMatchObject([
      { dispatchId, shortPortions: 34, reason: 'One more was found' },
    ]);
    const other = { requirementId: randomUUID(), shortPortions: 1, reason: 'None' };
    await kitchen.post('kitchen', `/v1/dispatches/${dispatchId}/short-picks`, other, 404);
  });

  test('departed and received, shared out in the order of the lines; set aside is not received', async () => {
    await kitchen.post('driver', `/v1/dispatches/${dispatchId}/departure`, {});
    expect(await coverage('lunch')).toMatchObject({ plannedPortions: 0, departedPortions: 18, receivedPortions: 0 });
    // Lunch has all it needs and one pack more; dinner lacks 18 packs. 5 + 4 are here, and tonight takes 2 of them.
    expect(await sheet(TOMORROW)).toMatchObject({ departedPortions: 22, releasedPortions: 10, toMakePacks: 11 });
    const found = (lotId: string, quantity: number, condition: string) => ({
      lotId,
      quantity,
      unit: 'piece',
      condition,
    });
    await kitchen.post('receiver', `/v1/dispatches/${dispatchId}/receipts`, {
      occurredAt: at(),
      closes: true,
      lines: [found(oldest, 6, 'accepted'), found(newest, 4, 'accepted'), found(newest, 1, 'damaged')],
    });
    expect(await coverage('lunch')).toMatchObject({ departedPortions: 18, receivedPortions: 18, overPortions: 3 });
    expect(await coverage('dinner')).toMatchObject({ departedPortions: 4, receivedPortions: 2, shortPortions: 36 });
  });
});
