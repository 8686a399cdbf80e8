/** Rules 9 to 13 and 16: counts, presumed places, what comes back, packs, likely swaps, and where food goes besides the plate. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { derivedId } from '../../src/platform/ids.ts';
import type { Json } from '../support/kitchen.ts';
import { startKit, type Kit } from './kit.ts';

let kit: Kit;
let packItem: string;
let shelf: string;
beforeAll(async () => {
  kit = await startKit();
  packItem = await kit.item('SOUP');
  const place = { siteId: kit.world.w3Id, code: 'UBC', name: 'UBC', kind: 'chiller', usedByCount: true };
  shelf = (await kit.post('admin', '/v1/places', place)).placeId as string;
});
afterAll(() => kit.stop());

const stock = (quantity: number, placeId = kit.world.w3ChillerId) =>
  kit.deliver([{ itemId: packItem, placeId, quantity, unit: 'piece', useByDate: '2027-01-31' }], kit.world.w3Id);
const count = (placeId: string, lines: [string, number][], complete = false): Promise<Json> =>
  kit.post('receiver', '/v1/stock-counts', {
    placeId,
    occurredAt: kit.now(),
    complete,
    lines: lines.map(([lotId, quantity]) => ({ lotId, quantity, unit: 'piece' })),
  });

describe('rule 9: a place used by count', () => {
  test('what is gone was used, within its window; a late fact corrects it; only what is over is variance', async () => {
    const [lotId = ''] = await stock(20, shelf);
    const arrivedAt = kit.now();
    kit.after(10);
    const usedAt = kit.now();
    kit.after(60);
    const first = await count(shelf, [[lotId, 12]]);
    // 20 - 12 = 8
    expect(first.lines).toMatchObject([{ counted: 12, booked: 20, used: 8, variance: 0 }]);
    expect(first.derivedUse).toMatchObject([{ lotId, quantity: 8 }]);
    expect(Date.parse(first.derivedUse[0].fromAt)).toBe(Date.parse(arrivedAt));
    const waste = { lotId, placeId: shelf, quantity: 3, unit: 'piece', occurredAt: usedAt, reason: 'damaged' };
    await kit.post('receiver', '/v1/discards', { ...waste, destination: 'landfill' });
    // 3 of the 8 were thrown away: 5 were used; 12 stand as counted
    const list = await kit.get('receiver', `/v1/derived-uses?siteId=${kit.world.w3Id}`);
    expect(list.items.find((one: Json) => one.lotId === lotId).quantity).toBe(5);
    expect(await kit.have(lotId, shelf)).toBe(12);
    kit.after(60);
    const over = await count(shelf, [[lotId, 14]]);
    expect(over.lines).toMatchObject([{ booked: 12, used: 0, variance: 2 }]);
  });

  test('a complete count says zero of what it does not name; another one does not', async () => {
    const [a = ''] = await stock(5, shelf);
    const [b = ''] = await stock(4, shelf);
    kit.after(5);
    await count(shelf, [[a, 5]]);
    expect(await kit.have(b, shelf)).toBe(4);
    kit.after(5);
    const all = await count(shelf, [[a, 5]], true);
    expect(all.lines.find((one: Json) => one.lotId === b)).toMatchObject({ named: false, counted: 0, used: 4 });
    expect(await kit.have(b, shelf)).toBe(0);
  });

  test('elsewhere the difference is variance', async () => {
    const [lotId = ''] = await stock(10);
    kit.after(5);
    const answer = await count(kit.world.w3ChillerId, [[lotId, 7]]);
    expect(answer.lines).toMatchObject([{ booked: 10, variance: -3, used: 0 }]);
  });

  test('a place that is not at the site of the counter is not there', async () => {
    const [lotId = ''] = await stock(2);
    const lines = [{ lotId, quantity: 1, unit: 'piece' }];
    const body = { id: crypto.randomUUID(), placeId: kit.world.ckChillerId, occurredAt: kit.now(), lines };
    const answer = await kit.service.as('receiver', kit.world.w3Id).post('/v1/stock-counts', body);
    expect([answer.status, answer.body.code]).toEqual([404, 'not-found']);
    expect(await kit.have(lotId, kit.world.w3ChillerId)).toBe(2);
  });
});

describe('rule 10: presumed places', () => {
  test('what nobody put away is presumed: a finding, never a hold', async () => {
    const { w3Id, w3ChillerId } = kit.world;
    const { headers } = await kit.service.as('admin').get(`/v1/sites/${w3Id}`);
    const putAway = { chilled: w3ChillerId, frozen: null, ambient: null };
    const match = { 'if-match': headers.etag ?? '' };
    const set = await kit.service.as('admin').patch(`/v1/sites/${w3Id}`, { putAway }, match);
    expect(set.status).toBe(200);
    const { packsId } = await kit.packs(5);
    const dispatchId = await kit.send(packsId, 5);
    await kit.arrive(dispatchId, packsId, 5, { placeId: undefined });
    expect(await kit.have(packsId, w3ChillerId)).toBe(5);
    expect(await kit.holdsOf(packsId)).toEqual([]);
    expect(await kit.findings(packsId)).toEqual(['place-presumed']);
  });
});

describe('rule 11: what comes back', () => {
  test('from a ward: into quarantine, and the others stay free', async () => {
    const { packsId } = await kit.packs(10);
    await kit.arrive(await kit.send(packsId, 10), packsId, 10);
    const part = { lotId: packsId, placeId: kit.world.w3ChillerId, unit: 'piece', occurredAt: kit.now() };
    await kit.post('receiver', '/v1/uses', { ...part, quantity: 3 });
    const back = { ...part, quantity: 1, direction: 'from-service', reason: 'Bed was empty' };
    await kit.post('receiver', '/v1/returns', back);
    const list = await kit.get('receiver', `/v1/stock?siteId=${kit.world.w3Id}&limit=500`);
    const parts = list.items.filter((one: Json) => one.lotId === packsId);
    // 10 - 3 on the shelf, one set aside
    expect(parts.map((one: Json) => [one.quarantine, one.quantity, one.mayUse]).sort()).toEqual([
      [false, 7, true],
      [true, 1, false],
    ]);
  });

  test('a return of a pack that never left is recorded, with a finding', async () => {
    const { packsId } = await kit.packs(4);
    const part = { lotId: packsId, placeId: kit.world.w3ChillerId, quantity: 1, unit: 'piece' };
    const back = { ...part, occurredAt: kit.now(), direction: 'from-service', reason: 'Found on a trolley' };
    const answer = await kit.post('receiver', '/v1/returns', back);
    expect(answer.findings.length).toBeGreaterThan(0);
    expect(await kit.have(packsId, derivedId('quarantine-place', kit.world.w3Id))).toBe(1);
    const trace = await kit.get('quality', `/v1/lots/${packsId}/trace`);
    expect(trace.lots[0].balanced).toBe(true);
  });

  test('back to the supplier, and borrowing in one call', async () => {
    const [lotId = ''] = await kit.deliver([
      { itemId: packItem, placeId: kit.world.ckChillerId, quantity: 9, unit: 'piece', useByDate: '2027-01-31' },
    ]);
    const part = { lotId, unit: 'piece' };
    const back = { ...part, placeId: kit.world.ckChillerId, quantity: 2, occurredAt: kit.now(), reason: 'Blown' };
    await kit.post('kitchen', '/v1/returns', { ...back, direction: 'to-supplier' });
    const lines = [{ ...part, quantity: 3, fromPlaceId: kit.world.ckChillerId }];
    const sites = { fromSiteId: kit.world.ckId, toSiteId: kit.world.w3Id, toPlaceId: kit.world.w3ChillerId };
    const borrowed = await kit.post('receiver', '/v1/borrowings', { ...sites, occurredAt: kit.now(), lines });
    expect(borrowed.lines).toMatchObject([{ quantity: 3, mayUse: true }]);
    // 9 - 2 - 3
    expect([await kit.have(lotId, kit.world.ckChillerId), await kit.have(lotId, kit.world.w3ChillerId)]).toEqual([
      4, 3,
    ]);
  });
});

describe('rule 12: serials, totals', () => {
  const scan = async (scans: object[]): Promise<Json[]> => {
    const named = scans.map((one) => ({ id: crypto.randomUUID(), occurredAt: kit.now(), ...one }));
    const answer = await kit.service.as('receiver').post('/v1/scans', { siteId: kit.world.w3Id, scans: named });
    expect([answer.status, answer.body.refused]).toEqual([207, 0]);
    return answer.body.results as Json[];
  };
  test('two beeps of one counted label are one pack; a later total stands', async () => {
    const { packsId } = await kit.packs(12, { serialised: false });
    const code = (await kit.lot(packsId)).code as string;
    const dispatchId = await kit.send(packsId, 12);
    const arrival = { kind: 'arrival', code, dispatchId };
    const beeps = await scan([arrival, arrival]);
    expect(beeps.map((one) => [one.total, one.expected])).toEqual([
      [1, 12],
      [1, 12],
    ]);
    kit.after(1);
    expect((await scan([{ ...arrival, quantity: 11, occurredAt: kit.now() }]))[0].total).toBe(11);
    const sent = await kit.get('receiver', `/v1/dispatches/${dispatchId}`);
    expect(sent.lots).toMatchObject([{ sent: 12, accepted: 11, inTransit: 1 }]);
  });

  test('a serial used twice is one pack gone and a finding', async () => {
    const { packsId } = await kit.packs(3);
    expect((await kit.lot(packsId)).serialised).toBe(true);
    await kit.arrive(await kit.send(packsId, 3), packsId, 3);
    const use = { kind: 'use', code: `${(await kit.lot(packsId)).code}/1`, placeId: kit.world.w3ChillerId };
    await scan([use]);
    await scan([{ ...use, occurredAt: kit.after(5) }]);
    expect(await kit.have(packsId, kit.world.w3ChillerId)).toBe(2);
    expect(await kit.findings(packsId)).toContain('ended-twice');
  });
});

describe('rule 13: likely swaps', () => {
  test.each([
    // counted of 10 and of 10: short, over, paired
    [7, 13, 3],
    [6, 12, 2],
    [9, 10, 0],
  ])('A found %i, B found %i of ten each: %i are likely swapped', async (a, b, paired) => {
    const place = { siteId: kit.world.w3Id, code: `S${a}`, name: `S${a}`, kind: 'chiller' };
    const { placeId } = await kit.post('admin', '/v1/places', place);
    const [lotA = ''] = await stock(10, placeId);
    const [lotB = ''] = await stock(10, placeId);
    kit.after(5);
    await count(placeId, [
      [lotA, a],
      [lotB, b],
    ]);
    const list = await kit.get('quality', `/v1/likely-swaps?siteId=${kit.world.w3Id}&limit=500`);
    const found = list.items.filter((one: Json) => one.placeId === placeId);
    if (paired === 0) expect(found).toEqual([]);
    else {
      expect(found).toMatchObject([{ short: { lotId: lotA, quantity: 10 - a }, surplus: { lotId: lotB } }]);
      expect(found[0].surplus.quantity).toBe(b - 10);
    }
  });
});

describe('rule 16: besides the plate', () => {
  test.each(['staff-meal', 'tasting', 'donation', 'laboratory'])('%s is told in who was served', async (purpose) => {
    const [lotId = ''] = await stock(4);
    const recipient = purpose === 'donation' ? { recipient: 'Harbour kitchen' } : {};
    const part = { lotId, placeId: kit.world.w3ChillerId, quantity: 2, unit: 'piece', occurredAt: kit.now() };
    await kit.post('receiver', '/v1/uses', { ...part, purpose, ...recipient });
    const { servings } = await kit.get('quality', `/v1/lots/${lotId}/servings`);
    expect(servings).toMatchObject([{ purpose, quantity: 2 }]);
  });

  test('no readable label: in quarantine until a person says what it is; then decided once', async () => {
    const { w3Id, w3ChillerId, w3QuarantineId } = kit.world;
    const found = { siteId: w3Id, placeId: w3ChillerId, description: 'No label', quantity: 1, foundAt: kit.now() };
    const { unidentifiedPackId, state } = await kit.post('receiver', '/v1/unidentified-packs', found);
    expect(state).toBe('open');
    const [lotId = ''] = await stock(4);
    const path = `/v1/unidentified-packs/${unidentifiedPackId}`;
    const named = { lotId, fromPlaceId: w3ChillerId, note: 'Case next to it' };
    const answer = await kit.post('quality', `${path}/identification`, named);
    expect([answer.moved, answer.mayUse]).toEqual([1, false]);
    expect([await kit.have(lotId, w3ChillerId), await kit.have(lotId, w3QuarantineId)]).toEqual([3, 1]);
    const waste = { reason: 'other', destination: 'landfill', note: 'x' };
    const late = await kit.try('quality', `${path}/disposal`, waste);
    expect([late.status, late.body.code]).toEqual([409, 'wrong-state']);
  });

  test('a retained sample is a lot of its own with a last day', async () => {
    const [lotId = ''] = await stock(4);
    const sample = { lotId, placeId: kit.world.w3ChillerId, quantity: 1, unit: 'piece', kind: 'sample' };
    const told = { ...sample, occurredAt: kit.now(), disposeAfter: '2026-12-02' };
    const answer = await kit.post('receiver', '/v1/conversions', told);
    expect([answer.lot.quantity, answer.lot.useByDate]).toEqual([1, '2026-12-02']);
    const trace = await kit.get('quality', `/v1/lots/${lotId}/trace`);
    expect(trace.lots.map((one: Json) => one.lotId)).toContain(answer.lot.lotId);
  });
});
