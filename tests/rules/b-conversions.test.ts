/** Rules 3, 4, 5, 7 and 8: steps and yields, anchors and instants over both changes of the clock, what a site makes of a pack. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Json } from '../support/kitchen.ts';
import { kindsOf, startKit, type Kit } from './kit.ts';

let kit: Kit;
beforeAll(async () => {
  kit = await startKit(Date.parse('2026-10-20T08:00:00Z'));
});
afterAll(() => kit.stop());

const set = (time: string) => kit.service.clock.set(Date.parse(time));

/** cooks g of an item from as much shin */
async function cook(itemId: string, inG: number, outG: number, load: object, killStep = true): Promise<Json> {
  const { world } = kit;
  const inputs = [{ itemId: world.beefShinId, quantity: 1_000, unit: 'g' }];
  const recipe = { itemId, name: 'A dish', expectedYieldPpm: 1_000_000, steps: ['cook'], killStep, inputs };
  const { recipeId } = await kit.post('admin', '/v1/recipes', { ...recipe, code: crypto.randomUUID().slice(0, 8) });
  const batch = await kit.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId });
  const path = `/v1/batches/${batch.batchId}`;
  const lotId = await kit.shin(inG, 'useByDate' in load ? { useByDate: load.useByDate } : {});
  const input = { lotId, placeId: world.ckChillerId, quantity: inG, unit: 'g' };
  await kit.post('kitchen', `${path}/inputs`, input);
  const made = { placeId: world.ckChillerId, quantity: outG, unit: 'g', cookEndedAt: kit.now() };
  const out = await kit.post('kitchen', `${path}/outputs`, { loads: [made] });
  return { path, lotId: out.lots[0].lotId };
}

describe('rule 3: gains, yields above 100 % and a signed unexplained', () => {
  test.each([
    // in, out, water taken up, lost: unexplained = in + gain - out - lost
    [1_000, 2_400, 1_500, 100, 0, 240],
    [1_000, 2_400, 1_300, 0, -100, 240],
    [1_000, 850, 0, 100, 50, 85],
  ])('%i g in, %i g out, %i g gained, %i g lost', async (inG, outG, gain, loss, unexplainedG, percent) => {
    const rice = await kit.item(`RICE-${outG}-${gain}`, { kind: 'prepared', unit: 'g' });
    const { path } = await cook(rice, inG, outG, {});
    const gains = gain === 0 ? [] : [{ kind: 'water-uptake', massG: gain }];
    const losses = loss === 0 ? [] : [{ kind: 'cooking-loss', massG: loss }];
    const done = await kit.post('kitchen', `${path}/completion`, { gains, losses });
    expect(done.yield).toMatchObject({ consumedG: inG, outputsG: outG, unexplainedG, percent });
  });
});

describe('rule 4 and 5: the anchor, day one, and the instant', () => {
  test.each([
    // Cooked at noon on Friday 23 October with 3 days: 23, 24, 25; midnight after it is winter time, 00:00Z.
    ['2026-10-23T11:00:00Z', 3, 'anchor-day-is-day-one', '2026-10-25', '2026-10-26T00:00:00Z'],
    // Day one is the 24th: 24, 25, 26.
    ['2026-10-23T11:00:00Z', 3, 'day-after-is-day-one', '2026-10-26', '2026-10-27T00:00:00Z'],
    // One day, the 24th; midnight after it is summer time still: 23:00Z.
    ['2026-10-24T11:00:00Z', 1, 'anchor-day-is-day-one', '2026-10-24', '2026-10-24T23:00:00Z'],
    // 00:30 summer time on the 24th is 23:30Z on the 23rd: the local day counts.
    ['2026-10-23T23:30:00Z', 1, 'anchor-day-is-day-one', '2026-10-24', '2026-10-24T23:00:00Z'],
    // 26, 27, 28 March; midnight after the 28th is summer time, 23:00Z.
    ['2027-03-26T12:00:00Z', 3, 'anchor-day-is-day-one', '2027-03-28', '2027-03-28T23:00:00Z'],
    // 27 March; midnight after it is winter time.
    ['2027-03-27T12:00:00Z', 1, 'anchor-day-is-day-one', '2027-03-27', '2027-03-28T00:00:00Z'],
  ])('cooked %s, %i days, %s: last day %s', async (at, lifeDays, dayOne, date, instant) => {
    set(at);
    const life = { lifeDays, anchor: 'end-of-cooking', dayOne };
    const itemId = await kit.item(`DISH-${crypto.randomUUID().slice(0, 8)}`, { kind: 'prepared', unit: 'g', life });
    const lot = await kit.lot((await cook(itemId, 1_000, 900, {})).lotId);
    expect([lot.useByDate, Date.parse(lot.useByAt)]).toEqual([date, Date.parse(instant)]);
  });

  test.each([
    [true, '2026-11-14'],
    [false, '2026-11-11'],
  ])('an input good until 11 November, kill step %s: the output is good until %s', async (killStep, date) => {
    set('2026-11-10T10:00:00Z');
    // 5 days from the 10th, that day included: the 14th
    const life = { lifeDays: 5, anchor: 'end-of-cooking', dayOne: 'anchor-day-is-day-one' };
    const itemId = await kit.item(`CAP-${killStep}`, { kind: 'prepared', unit: 'g', life });
    const { lotId } = await cook(itemId, 1_000, 900, { useByDate: '2026-11-11' }, killStep);
    expect((await kit.lot(lotId)).useByDate).toBe(date);
  });

  test.each([
    // 24 hours of elapsed time: 16:00 summer time is 15:00Z; 25 October 15:00Z is 15:00 winter time.
    ['2026-10-24T15:00:00Z', '2026-10-25T15:00:00Z'],
    // 14:00Z on 27 March is 14:00; 14:00Z on the 28th is 15:00 summer time.
    ['2027-03-27T14:00:00Z', '2027-03-28T14:00:00Z'],
    ['2026-11-10T15:00:00Z', '2026-11-11T15:00:00Z'],
  ])('thawing started %s ends 24 hours later, at 15:00 on the clock of the kitchen', async (at, instant) => {
    set(at);
    const fields = { storage: 'frozen', thawedLifeH: 24 };
    const itemId = await kit.item(`FROZEN-${crypto.randomUUID().slice(0, 8)}`, fields);
    const lotId = await kit.stocked(itemId, kit.world.ckFreezerId, 10, 'piece', { useByDate: '2027-12-31' });
    const from = { lotId, placeId: kit.world.ckFreezerId, quantity: 4, unit: 'piece' };
    const to = { kind: 'thaw', occurredAt: at, toPlaceId: kit.world.ckChillerId };
    const answer = await kit.post('kitchen', '/v1/conversions', { ...from, ...to });
    expect(Date.parse(answer.lot.useByAt)).toBe(Date.parse(instant));
    expect([answer.limits[0].why, answer.label.printTime]).toEqual(['thawed-life', true]);
    expect(answer.label.text).toContain('15:00');
    expect([await kit.have(lotId, from.placeId), await kit.have(answer.lot.lotId, to.toPlaceId)]).toEqual([6, 4]);
  });
});

describe('rule 7: one light conversion', () => {
  test('opening needs one beep: no release, an hour limit, grams', async () => {
    set('2026-11-20T09:00:00Z');
    const { world } = kit;
    const loose = await kit.item('LOOSE', { kind: 'prepared', unit: 'g', openedLifeH: 6 });
    const pack = await kit.item('SEALED', { openedItemId: loose, openedLifeH: 6, portionsPerUnit: 3 });
    const lotId = await kit.stocked(pack, world.w3ChillerId, 5, 'piece', { useByDate: '2026-12-01' });
    const opened = { lotId, placeId: world.w3ChillerId, kind: 'open', occurredAt: kit.now() };
    const answer = await kit.post('receiver', '/v1/conversions', opened);
    // one pack of 300 g; 09:00 and 6 hours
    expect([answer.lot.quantity, answer.lot.unit, answer.mayUse]).toEqual([300, 'g', true]);
    expect(Date.parse(answer.lot.useByAt)).toBe(Date.parse('2026-11-20T15:00:00Z'));
    expect(await kit.holdsOf(answer.lot.lotId)).toEqual([]);
    // What was opened stays opened: decanted at 12:00 it still ends at 15:00.
    set('2026-11-20T12:00:00Z');
    const decant = { ...opened, lotId: answer.lot.lotId, kind: 'decant', quantity: 200, unit: 'g' };
    const second = await kit.post('receiver', '/v1/conversions', { ...decant, occurredAt: kit.now() });
    expect(Date.parse(second.lot.useByAt)).toBe(Date.parse('2026-11-20T15:00:00Z'));
  });

  test('more than is there is converted: posted, with the shortfall', async () => {
    const { world } = kit;
    const pack = await kit.item('FEW', { openedLifeH: 6 });
    const lotId = await kit.stocked(pack, world.w3ChillerId, 2, 'piece', { useByDate: '2027-06-01' });
    const from = { lotId, placeId: world.w3ChillerId, quantity: 5, unit: 'piece' };
    const answer = await kit.post('receiver', '/v1/conversions', { ...from, kind: 'open', occurredAt: kit.now() });
    // 5 of 2
    expect(answer.findings).toMatchObject([{ kind: 'shortfall', lotId, quantity: 3 }]);
    expect(await kit.have(lotId, world.w3ChillerId)).toBe(0);
  });

  test('portions that do not divide are refused and nothing changes; counted ones leave the rest unexplained', async () => {
    set('2026-11-21T10:00:00Z');
    const { world } = kit;
    const bulk = await kit.item('BULK', { kind: 'prepared', unit: 'g', openedLifeH: 6 });
    const portion = await kit.item('PORTION', { openedLifeH: 6 });
    const lotId = await kit.stocked(bulk, world.ckChillerId, 2_000, 'g', { useByDate: '2026-12-01' });
    const from = { lotId, placeId: world.ckChillerId, quantity: 1_000, unit: 'g', kind: 'portion' };
    const told = { ...from, toItemId: portion, occurredAt: kit.now() };
    const odd = await kit.try('kitchen', '/v1/conversions', told);
    expect([odd.status, odd.body.code]).toEqual([422, 'portions-do-not-divide']);
    expect(await kit.have(lotId, world.ckChillerId)).toBe(2_000);
    const answer = await kit.post('kitchen', '/v1/conversions', { ...told, toQuantity: 3, toUnit: 'piece' });
    // 1000 g - 3 x 300 g = 100 g
    const { numerator, denominator } = answer.unexplainedG;
    expect([answer.lot.quantity, Number(numerator) / Number(denominator)]).toEqual([3, 100]);
    expect(await kit.have(lotId, world.ckChillerId)).toBe(1_000);
  });

  test('regenerated food is served or discarded, never sent', async () => {
    set('2026-11-21T10:00:00Z');
    const { world } = kit;
    const pack = await kit.item('REGEN', { regeneratedLifeH: 2 });
    const lotId = await kit.stocked(pack, world.ckChillerId, 4, 'piece', { useByDate: '2026-12-01' });
    const from = { lotId, placeId: world.ckChillerId, quantity: 2, unit: 'piece' };
    const hot = await kit.post('kitchen', '/v1/conversions', { ...from, kind: 'regenerate', occurredAt: kit.now() });
    expect(Date.parse(hot.lot.useByAt)).toBe(Date.parse('2026-11-21T12:00:00Z'));
    const { lotId: _source, ...line } = from;
    const lines = [{ ...line, lotId: hot.lot.lotId, unit: hot.lot.unit, quantity: 1 }];
    const plan = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines };
    const planned = await kit.try('kitchen', '/v1/dispatches', plan);
    const path = `/v1/dispatches/${planned.body.dispatchId}/departure`;
    const answer = planned.status === 201 ? await kit.try('kitchen', path, {}) : planned;
    expect([answer.status, answer.body.code]).toEqual([409, 'regenerated-stays']);
    expect(await kit.have(hot.lot.lotId, world.ckChillerId)).toBe(2);
  });
});

describe('rule 8: freezing and thawing keep the days left', () => {
  test('three and a half days were left: no more come back; frozen again it is held', async () => {
    set('2026-12-01T12:00:00Z');
    const { world } = kit;
    const itemId = await kit.item('FREEZABLE', { frozenLifeDays: 90, thawedLifeH: 240 });
    // until the end of the 4th: 84 hours from noon on the 1st
    const lotId = await kit.stocked(itemId, world.ckChillerId, 6, 'piece', { useByDate: '2026-12-04' });
    const put = { quantity: 4, unit: 'piece', kind: 'freeze' };
    const cold = { ...put, lotId, placeId: world.ckChillerId, toPlaceId: world.ckFreezerId };
    const frozen = await kit.post('kitchen', '/v1/conversions', { ...cold, occurredAt: kit.now() });
    expect([frozen.lot.lotId === lotId, frozen.findings]).toEqual([false, []]);
    set('2026-12-20T12:00:00Z');
    const source = { lotId: frozen.lot.lotId, placeId: world.ckFreezerId, toPlaceId: world.ckChillerId };
    const thaw = { ...put, ...source, kind: 'thaw', occurredAt: kit.now() };
    const thawed = await kit.post('kitchen', '/v1/conversions', thaw);
    // 84 hours from noon on the 20th is the first moment of the 24th
    const ends = Date.parse(thawed.lot.useByAt);
    expect(ends).toBeLessThanOrEqual(Date.parse('2026-12-24T00:00:00Z'));
    expect(ends).toBeGreaterThan(Date.parse('2026-12-22T12:00:00Z'));
    const back = { ...cold, lotId: thawed.lot.lotId, quantity: 2, occurredAt: kit.now() };
    const again = await kit.post('kitchen', '/v1/conversions', back);
    expect([kindsOf(again), again.mayUse]).toEqual([['refrozen'], false]);
    expect(await kit.holdsOf(again.lot.lotId)).not.toEqual([]);
    expect(await kit.have(again.lot.lotId, world.ckFreezerId)).toBe(2);
  });
});
