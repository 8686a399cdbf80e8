/** Counts over HTTP: a hotel that only counts, complete counts, undoing them, and lots taken for each other. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

describe('counts', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  const hotelId: string = randomUUID();
  const soupId: string = randomUUID();

  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
    const here = { timeZone: 'Europe/London', jurisdiction: 'GB-ENG' };
    await kitchen.post('admin', '/v1/sites', {
      id: hotelId,
      code: 'HOT',
      name: 'Harbour hotel',
      kind: 'satellite',
      ...here,
    });
    await kitchen.post('admin', '/v1/items', {
      id: soupId,
      code: 'SOUP-500',
      name: 'Tomato soup, pouch of 500 g',
      kind: 'ingredient',
      unit: 'piece',
      unitMassMg: 500_000,
      allergens: [],
      handling: 'ready-to-eat',
      storageInstruction: 'Keep at 3 °C or below',
    });
  });
  afterAll(() => service.stop());

  let places = 0;
  /** A chiller of its own for each story. */
  async function chiller(usedByCount: boolean, siteId = hotelId): Promise<string> {
    places += 1;
    const fields = { siteId, code: `C${places}`, name: `Chiller ${places}`, kind: 'chiller', usedByCount };
    return (await kitchen.post('admin', '/v1/places', fields)).placeId as string;
  }
  async function arrive(placeId: string, quantity: number, occurredAt: string, siteId = hotelId): Promise<string> {
    const line = { itemId: soupId, placeId, quantity, unit: 'piece' };
    const body = { siteId, supplierId: world.supplierId, occurredAt, lines: [line] };
    return (await kitchen.post('operations', '/v1/goods-receipts', body)).lines[0].lotId as string;
  }
  const count = (placeId: string, occurredAt: string, counted: Record<string, number>, more: object = {}) =>
    kitchen.post('operations', '/v1/stock-counts', {
      placeId,
      occurredAt,
      lines: Object.entries(counted).map(([lotId, quantity]) => ({ lotId, quantity, unit: 'piece' })),
      ...more,
    });
  const discard = (lotId: string, placeId: string, quantity: number, occurredAt: string) =>
    kitchen.post('operations', '/v1/discards', {
      lotId,
      placeId,
      quantity,
      unit: 'piece',
      occurredAt,
      reason: 'damaged',
      destination: 'composting',
    });
  const use = (lotId: string, placeId: string, quantity: number, occurredAt: string) =>
    kitchen.post('operations', '/v1/uses', { lotId, placeId, quantity, unit: 'piece', occurredAt });
  const undo = (entryId: string) => kitchen.post('quality', '/v1/reversals', { entryId, reason: 'A slip' });
  const moveTo = (lotId: string, fromPlaceId: string, toPlaceId: string, quantity: number, occurredAt: string) =>
    kitchen.post('operations', '/v1/moves', { lotId, fromPlaceId, toPlaceId, quantity, unit: 'piece', occurredAt });
  async function stockAt(placeId: string): Promise<Record<string, number>> {
    const { items } = await kitchen.get('operations', `/v1/stock?placeId=${placeId}`);
    return Object.fromEntries(items.map((row: Json) => [row.lotId, row.quantity]));
  }
  /** What went where of a lot, by its history: outside accounts, signed out of the site's places. */
  async function fateOf(lotId: string): Promise<Record<string, number>> {
    const sums: Record<string, number> = { served: 0, waste: 0, variance: 0 };
    const { items } = await kitchen.get('operations', `/v1/lots/${lotId}/history`);
    for (const row of items as Json[]) {
      if (row.to.kind in sums) sums[row.to.kind] = (sums[row.to.kind] ?? 0) + row.quantity;
      if (row.from.kind in sums) sums[row.from.kind] = (sums[row.from.kind] ?? 0) - row.quantity;
    }
    return sums;
  }
  async function usesAt(placeId: string): Promise<[number, string, string][]> {
    const { items } = await kitchen.get('operations', `/v1/derived-uses?siteId=${hotelId}`);
    return items
      .filter((row: Json) => row.placeId === placeId)
      .map((row: Json) => [row.quantity, row.fromAt, row.toAt]);
  }

  describe('a hotel chiller that only counts', () => {
    let place: string;
    let soup: string;
    let first: Json;

    beforeAll(async () => {
      place = await chiller(true);
      soup = await arrive(place, 20, '2026-11-23T07:00:00Z');
      first = await count(place, '2026-11-23T20:00:00Z', { [soup]: 14 });
    });

    test('what is gone was served, within its window; what is over is variance', async () => {
      expect(first.lines).toEqual([{ lotId: soup, counted: 14, booked: 20, variance: 0, used: 6, named: true }]);
      expect(first).toMatchObject({ usedByCount: true, complete: false });
      expect(first.derivedUse).toEqual([
        { lotId: soup, quantity: 6, fromAt: '2026-11-23T07:00:00.000Z', toAt: '2026-11-23T20:00:00.000Z' },
      ]);
      const second = await count(place, '2026-11-24T20:00:00Z', { [soup]: 9 });
      expect(second.derivedUse).toEqual([
        { lotId: soup, quantity: 5, fromAt: '2026-11-23T20:00:00.000Z', toAt: '2026-11-24T20:00:00.000Z' },
      ]);
      const third = await count(place, '2026-11-25T10:00:00Z', { [soup]: 10 });
      expect(third.lines).toEqual([{ lotId: soup, counted: 10, booked: 9, variance: 1, used: 0, named: true }]);
      expect(third.derivedUse).toEqual([]);
      expect(await fateOf(soup)).toEqual({ served: 11, waste: 0, variance: -1 });
    });

    test('a late discard corrects the use before the right count only', async () => {
      const thrown = await discard(soup, place, 2, '2026-11-24T12:00:00Z');
      // 20 came and 1 was found over: 6 + 3 served, 2 wasted, 10 there
      expect(await fateOf(soup)).toEqual({ served: 9, waste: 2, variance: -1 });
      expect(await stockAt(place)).toEqual({ [soup]: 10 });
      expect(await usesAt(place)).toEqual([
        [6, '2026-11-23T07:00:00.000Z', '2026-11-23T20:00:00.000Z'],
        [3, '2026-11-23T20:00:00.000Z', '2026-11-24T20:00:00.000Z'],
      ]);
      // 4 more: only 3 were held to be served, so one pouch too many is there
      const more = await discard(soup, place, 4, '2026-11-24T13:00:00Z');
      expect(await fateOf(soup)).toEqual({ served: 6, waste: 6, variance: -2 });
      expect(await stockAt(place)).toEqual({ [soup]: 10 });
      expect(await usesAt(place)).toHaveLength(1);
      await undo(more.entryId);
      expect(await fateOf(soup)).toEqual({ served: 9, waste: 2, variance: -1 });
      expect(thrown.findings).toEqual([]);
    });

    test('the month counts it as served and says how much, and still adds up', async () => {
      const report = await kitchen.get('finance', `/v1/reports/waste-and-yield?month=2026-11&siteId=${hotelId}`);
      const item = report.items.find((one: Json) => one.itemId === soupId);
      const nothing = { opening: 0, produced: 0, returnedIn: 0, transferIn: 0, transferOut: 0, consumed: 0 };
      expect(item.inUnits).toMatchObject({
        ...nothing,
        received: 20,
        adjusted: 1,
        // nobody saw it
        served: 0,
        servedDerived: 9,
        wasted: 2,
        closing: 10,
      });
      expect(item.inGrams).toMatchObject({ served: 0, servedDerived: 4_500, wasted: 1_000, closing: 5_000 });
      expect(report.summary).toMatchObject({ servedG: 4_500, servedDerivedG: 4_500, adjustedG: 500 });
    });

    test('a later change of the place rewrites nothing', async () => {
      const answer = await service
        .as('admin')
        .patch(`/v1/places/${place}`, { usedByCount: false }, { 'if-match': '*' });
      expect(answer.status).toBe(200);
      expect((await kitchen.get('admin', `/v1/places/${place}`)).usedByCount).toBe(false);
      await discard(soup, place, 1, '2026-11-23T12:00:00Z');
      expect(await usesAt(place)).toEqual([
        [5, '2026-11-23T07:00:00.000Z', '2026-11-23T20:00:00.000Z'],
        [3, '2026-11-23T20:00:00.000Z', '2026-11-24T20:00:00.000Z'],
      ]);
      const plain = await count(place, '2026-11-25T11:00:00Z', { [soup]: 8 });
      expect(plain.lines).toMatchObject([{ variance: -2, used: 0 }]);
      expect(plain).toMatchObject({ usedByCount: false, derivedUse: [] });
    });

    test('undoing a count gives its use to the next', async () => {
      await undo(first.entryId);
      // 20 came, 1 + 2 were thrown away, 9 were there on the 24th: 8 served since the arrival
      expect(await usesAt(place)).toEqual([[8, '2026-11-23T07:00:00.000Z', '2026-11-24T20:00:00.000Z']]);
      expect(await stockAt(place)).toEqual({ [soup]: 8 });
      expect(await fateOf(soup)).toEqual({ served: 8, waste: 3, variance: 1 });
    });

    test('days and pages of the list; other sites see nothing of it', async () => {
      const get = (query: string) => kitchen.get('operations', `/v1/derived-uses?siteId=${hotelId}&${query}`);
      expect((await get('from=2026-11-25')).items).toEqual([]);
      expect((await get('from=2026-11-24&to=2026-11-25')).items).toHaveLength(1);
      expect((await get('to=2026-11-24')).items).toEqual([]);
      const ward = await service.as('receiver', world.w3Id).get(`/v1/derived-uses?siteId=${hotelId}`);
      expect(ward.body.items).toEqual([]);
    });
  });

  test('a count by scan at such a place is use as well', async () => {
    const place = await chiller(true);
    const soup = await arrive(place, 6, '2026-11-25T07:00:00Z');
    const { code } = await kitchen.get('operations', `/v1/lots/${soup}`);
    const scan = {
      id: randomUUID(),
      kind: 'count',
      code,
      placeId: place,
      quantity: 2,
      occurredAt: '2026-11-25T11:00:00Z',
    };
    const sent = await service.as('operations').post('/v1/scans', { siteId: hotelId, scans: [scan] });
    expect(sent.body.results).toMatchObject([{ status: 'recorded' }]);
    expect(await usesAt(place)).toEqual([[4, '2026-11-25T07:00:00.000Z', '2026-11-25T11:00:00.000Z']]);
    expect(await fateOf(soup)).toEqual({ served: 4, waste: 0, variance: 0 });
  });

  describe('a complete count', () => {
    test('says zero of what it does not name, also of what is put away late', async () => {
      const place = await chiller(false);
      const store = await chiller(false);
      const a = await arrive(place, 5, '2026-11-25T07:00:00Z');
      const b = await arrive(place, 3, '2026-11-25T07:00:00Z');
      const c = await arrive(store, 4, '2026-11-25T07:00:00Z');
      const told = await count(place, '2026-11-25T10:00:00Z', { [a]: 5 }, { complete: true });
      expect(told.lines).toEqual([
        { lotId: a, counted: 5, booked: 5, variance: 0, used: 0, named: true },
        { lotId: b, counted: 0, booked: 3, variance: -3, used: 0, named: false },
      ]);
      await moveTo(c, store, place, 4, '2026-11-25T09:00:00Z');
      expect(await stockAt(place)).toEqual({ [a]: 5 });
      expect(await fateOf(c)).toEqual({ served: 0, waste: 0, variance: 4 });
      // what comes after it is there
      const d = await arrive(place, 2, '2026-11-25T11:00:00Z');
      expect(await stockAt(place)).toEqual({ [a]: 5, [d]: 2 });
      await undo(told.entryId);
      expect(await stockAt(place)).toEqual({ [a]: 5, [b]: 3, [c]: 4, [d]: 2 });
      const late = await arrive(place, 1, '2026-11-25T08:00:00Z');
      expect(await stockAt(place)).toMatchObject({ [late]: 1 });
    });

    test('told late, sees what has gone since and what was short', async () => {
      const place = await chiller(true);
      const store = await chiller(false);
      const gone = await arrive(place, 4, '2026-11-25T07:00:00Z');
      await moveTo(gone, place, store, 4, '2026-11-25T11:00:00Z');
      const short = await arrive(store, 9, '2026-11-25T07:00:00Z');
      await use(short, place, 2, '2026-11-25T08:00:00Z');
      const told = await count(place, '2026-11-25T10:00:00Z', {}, { complete: true });
      const line = (lotId: string) => told.lines.find((one: Json) => one.lotId === lotId);
      expect(told.lines).toHaveLength(2);
      expect(line(gone)).toMatchObject({ counted: 0, booked: 4, used: 4, variance: 0, named: false });
      // below zero by two: nothing was used, two more than booked must have come
      expect(line(short)).toMatchObject({ counted: 0, booked: -2, used: 0, variance: 2, named: false });
      expect(told.derivedUse).toMatchObject([{ lotId: gone, quantity: 4 }]);
      await undo(told.entryId);
      expect(await usesAt(place)).toEqual([]);
      expect(await fateOf(short)).toEqual({ served: 2, waste: 0, variance: 0 });
    });

    test('of an empty place, before anything was there', async () => {
      const place = await chiller(false);
      const told = await count(place, '2026-11-25T10:00:00Z', {}, { complete: true });
      expect(told.lines).toEqual([]);
      const ahead = await count(place, '2026-11-25T14:00:00Z', {}, { complete: true });
      expect(ahead.findings).toMatchObject([{ kind: 'time-ahead', lotId: null }]);
      await undo(ahead.entryId);
      const soup = await arrive(place, 3, '2026-11-25T09:00:00Z');
      expect(await stockAt(place)).toEqual({});
      expect(await fateOf(soup)).toEqual({ served: 0, waste: 0, variance: 3 });
    });

    test('and late put-aways at the same moment: whichever is first, nothing is left over', async () => {
      const place = await chiller(false);
      const store = await chiller(false);
      const lots = [];
      for (let n = 0; n < 6; n += 1) lots.push(await arrive(store, 1, '2026-11-25T07:00:00Z'));
      const puts = lots.map((lot) => moveTo(lot, store, place, 1, '2026-11-25T09:00:00Z'));
      const middle = count(place, '2026-11-25T10:00:00Z', {}, { complete: true });
      await Promise.all([...puts.slice(0, 3), middle, ...puts.slice(3)]);
      expect(await stockAt(place)).toEqual({});
      for (const lot of lots) expect(await fateOf(lot)).toEqual({ served: 0, waste: 0, variance: 1 });
    });
  });

  test('what is refused: a lot named twice, nothing named, a place of others', async () => {
    const place = await chiller(false);
    const soup = await arrive(place, 3, '2026-11-25T09:00:00Z');
    const line = { lotId: soup, quantity: 1, unit: 'piece' };
    const occurredAt = '2026-11-25T10:00:00Z';
    const refused = (body: object, status: number, role = 'operations') =>
      kitchen.post(role, '/v1/stock-counts', { placeId: place, occurredAt, lines: [line], ...body }, status);
    expect((await refused({ lines: [line, line] }, 422)).code).toBe('rule-broken');
    expect((await refused({ lines: [line, line], complete: true }, 422)).code).toBe('rule-broken');
    expect((await refused({ lines: [] }, 422)).code).toBe('rule-broken');
    expect((await refused({ placeId: randomUUID(), complete: true }, 404)).code).toBe('not-found');
    const ward = service.as('receiver', world.w3Id);
    for (const complete of [true, false]) {
      const body = { id: randomUUID(), placeId: place, occurredAt, lines: [], complete };
      expect((await ward.post('/v1/stock-counts', body)).status).toBe(404);
    }
    expect(await stockAt(place)).toEqual({ [soup]: 3 });
  });

  describe('likely swaps', () => {
    let place: string;
    let a: string;
    let b: string;
    let c: string;
    const swaps = async (query: string = `siteId=${world.w3Id}`) =>
      await kitchen.get('operations', `/v1/likely-swaps?${query}`);

    beforeAll(async () => {
      place = await chiller(false, world.w3Id);
      a = await arrive(place, 5, '2026-11-24T07:00:00Z', world.w3Id);
      b = await arrive(place, 5, '2026-11-24T07:00:00Z', world.w3Id);
      c = await arrive(place, 1, '2026-11-24T07:00:00Z', world.w3Id);
    });

    test('one lot found missing and another of the same item found over', async () => {
      expect((await swaps()).items).toEqual([]);
      await use(a, place, 3, '2026-11-24T12:00:00Z');
      const told = await count(place, '2026-11-24T20:00:00Z', { [a]: 5, [b]: 2 });
      const seen = { countId: told.entryId, occurredAt: '2026-11-24T20:00:00.000Z' };
      expect((await swaps()).items).toMatchObject([
        {
          placeId: place,
          itemId: soupId,
          unit: 'piece',
          short: { lotId: b, quantity: 3, shortfall: null, counts: [{ ...seen, difference: -3 }] },
          surplus: { lotId: a, quantity: 3, counts: [{ ...seen, difference: 3 }] },
          seenAt: seen.occurredAt,
        },
      ]);
    });

    test('a lot of which more left than was there, until and after a count of none settles it; newest first, by pages', async () => {
      const taken = await use(c, place, 3, '2026-11-25T09:00:00Z');
      const shortfall = { quantity: 2, factId: taken.entryId, occurredAt: '2026-11-25T09:00:00.000Z' };
      const both = (await swaps()).items;
      expect(both).toHaveLength(2);
      expect(both[0]).toMatchObject({ short: { lotId: c, quantity: 2, shortfall }, surplus: { lotId: a } });
      const page = await swaps(`siteId=${world.w3Id}&limit=1`);
      expect(page.items).toEqual([both[0]]);
      const next = await swaps(`siteId=${world.w3Id}&limit=1&cursor=${page.nextCursor}`);
      expect(next).toEqual({ items: [both[1]], nextCursor: null });
      await count(place, '2026-11-25T10:00:00Z', { [c]: 0 });
      expect((await swaps()).items[0]).toMatchObject({ short: { lotId: c, quantity: 2, shortfall: null } });
    });

    test('not where use is counted, not of other items or sites, and not for ever', async () => {
      const hotel = await chiller(true);
      const x = await arrive(hotel, 5, '2026-11-24T07:00:00Z');
      const y = await arrive(hotel, 5, '2026-11-24T07:00:00Z');
      await count(hotel, '2026-11-24T20:00:00Z', { [x]: 7, [y]: 2 });
      expect((await swaps(`siteId=${hotelId}`)).items).toEqual([]);
      const elsewhere = await service.as('receiver', hotelId).get(`/v1/likely-swaps?siteId=${world.w3Id}`);
      expect(elsewhere.body.items).toEqual([]);
      service.clock.set(Date.parse('2026-12-12T12:00:00Z'));
      expect((await swaps()).items).toEqual([]);
      service.clock.set(Date.parse('2026-11-25T12:00:00Z'));
    });
  });
});
