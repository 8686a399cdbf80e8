import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { getCutNow, takeMoneyNo } from '../../../../src/features/ledger/index.ts';
import {
  findUnitCosts,
  listChangedLots,
  loadCosts,
  refreshCosts,
} from '../../../../src/features/reporting/costs/index.ts';
import { exampleId } from '../../../../src/platform/ids.ts';
import { kitchenOf, type Json, type Kitchen } from '../../../support/kitchen.ts';
import { startService, type TestService } from '../../../support/service.ts';
import { buildWorld, type World } from '../../../support/world.ts';

const FINE = 10n ** 18n;
/** 30,000 minor units planned over 34,000 g of stew, in fine units, rounded down once */
const GRAM = (30n * FINE) / 34n;

describe('what lots cost, from shin to pack', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  let shin: string;
  let batchId: string;
  let load: string;
  let packs: string;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
    // 40 kg for 300.00; 34 kg of stew are planned (85 %), 32 kg come out
    shin = await kitchen.shin(40_000, { priceMinor: 30_000 });
    ({ batchId, lotId: load } = await kitchen.stew(shin, 40_000, 32_000));
    packs = await kitchen.pack(batchId, load, 30_000, 100);
  });
  afterAll(() => service.stop());

  const unitsOf = (lotIds: string[]) =>
    service.db.inGroup(service.groupId, 'read', async (tx) => {
      const costs = await findUnitCosts(tx, await loadCosts(tx, await getCutNow(tx)), lotIds);
      return lotIds.map((lotId) => costs.get(lotId));
    });
  const refresh = () => service.db.inGroup(service.groupId, 'write', (tx) => refreshCosts(tx, service.clock.nowMs()));
  const costOf = (lotId: string, query = '') => kitchen.get('finance', `/v1/lots/${lotId}/cost${query}`);
  const say = (path: string, body: object, role = 'finance') =>
    service.as(role).post(path, { id: randomUUID(), ...body });

  test('by hand: 300.00 x 32/34 is carried by the stew, and a pack holds 300 g of it', async () => {
    const before = await unitsOf([shin, load, packs]);
    expect(before).toMatchObject([
      { unitFine: (3n * FINE) / 4n, uncosted: false, boughtUgPerUnit: 1_000_000n },
      { unitFine: GRAM, uncosted: false },
      { unitFine: 300n * GRAM },
    ]);
    await refresh();
    expect(await unitsOf([shin, load, packs])).toEqual(before);
    const more = await kitchen.pack(batchId, load, 1_500, 5);
    expect(await unitsOf([shin, load, packs, more])).toMatchObject([...before, { unitFine: 300n * GRAM }]);
  });

  test('over HTTP: an exact decimal, and tables that add up', async () => {
    const ofLoad = await costOf(load);
    // 30,000/34,000 = 0.882352941176470588(2...); 32,000 of it: 28,235.29 minor
    expect(ofLoad).toMatchObject({
      quantity: 32_000,
      unit: 'g',
      currency: 'GBP',
      minorDigits: 2,
      unitCostMinor: '0.882352941176470588',
      totalMinor: 28_235,
      uncosted: false,
      uncostedReason: null,
      // all of the shin, x 32/40
      boughtMassG: 32_000,
      prices: [],
    });
    expect(ofLoad.madeBy).toMatchObject({
      processId: batchId,
      kind: 'batch',
      state: 'open',
      poolMinor: 30_000,
      addedMinor: 0,
      carriedMinor: 28_235,
      abnormalLossMinor: 0,
      workInProcessMinor: 1_765,
      inputs: [{ lotId: shin, quantity: 40_000, unitCostMinor: '0.75', valueMinor: 30_000 }],
      outputs: [{ lotId: load, quantity: 32_000, valueMinor: 28_235 }],
    });
    await kitchen.post('kitchen', `/v1/batches/${batchId}/completion`, {
      losses: [{ kind: 'cooking-loss', massG: 8_000 }],
    });
    const done = (await costOf(load)).madeBy;
    expect(done).toMatchObject({ state: 'completed', abnormalLossMinor: 1_765, workInProcessMinor: 0 });
    const bought = await costOf(shin);
    expect(bought).toMatchObject({ unitCostMinor: '0.75', totalMinor: 30_000, madeBy: null, boughtMassG: 40_000 });
    expect(bought.prices).toMatchObject([{ priceId: null, priceMinor: 30_000, perQuantity: 40_000 }]);
  });

  test('a corrected price flows down, and what was known before stays readable', async () => {
    await refresh();
    const before = await service.db.inGroup(service.groupId, 'read', getCutNow);
    service.clock.set(service.clock.nowMs() + 60_000);
    const first = await say('/v1/prices', { lotId: shin, priceMinor: 36_000, reason: 'The invoice' }, 'operations');
    expect(first.status).toBe(201);
    expect(first.body).toMatchObject({
      supersedesPriceId: null,
      adjustsMonth: null,
      currency: 'GBP',
      perQuantity: null,
    });
    const second = await say('/v1/prices', {
      lotId: shin,
      priceMinor: 850,
      perQuantity: 1_000,
      unit: 'g',
      currency: 'GBP',
    });
    expect(second.body.supersedesPriceId).toBe(first.body.priceId);
    // 0.85 a gram: 34,000 for all, / 34,000 g planned: exactly 1 a gram
    expect(await costOf(load)).toMatchObject({ unitCostMinor: '1', totalMinor: 32_000 });
    expect(await costOf(packs)).toMatchObject({ unitCostMinor: '300', totalMinor: 30_000 });
    const past = new Date(before.recordedAtMs).toISOString();
    expect(await costOf(packs, `?recordedAt=${past}`)).toMatchObject({
      totalMinor: 26_471,
      cut: { moneyNo: before.moneyNo },
    });
    const changed = await service.db.inGroup(service.groupId, 'read', async (tx) =>
      listChangedLots(tx, before, await loadCosts(tx, await getCutNow(tx))),
    );
    expect(changed).toHaveLength(4);
    expect(changed).toContainEqual({ lotId: packs, beforeFine: 300n * GRAM, afterFine: 300n * FINE });
    await refresh();
    const { versions, prices } = await costOf(shin);
    expect(versions.map((one: Json) => one.unitCostMinor)).toEqual(['0.85', '0.75']);
    expect(prices.map((one: Json) => one.priceMinor)).toEqual([850, 36_000, 30_000]);
    const listed = await kitchen.get('finance', `/v1/prices?lotId=${shin}&limit=1`);
    expect(listed.items).toMatchObject([{ priceId: second.body.priceId, lotCode: expect.any(String) }]);
    expect((await kitchen.get('finance', `/v1/prices?lotId=${shin}&cursor=${listed.nextCursor}`)).items).toHaveLength(
      1,
    );
  });

  test('rates: the most specific of a kind on the day the batch began, said again it is replaced', async () => {
    const rate = async (body: object) => {
      const answer = await say('/v1/cost-rates', { kind: 'labour', fromDate: '2026-11-01', ...body });
      expect(answer.status).toBe(201);
    };
    await rate({ perBatchMinor: 99_999 });
    await rate({ perKgMinor: 10, kind: 'energy', siteId: world.ckId });
    await rate({ perKgMinor: 999, recipeId: world.recipeId });
    await rate({ perBatchMinor: 3_400, recipeId: world.recipeId });
    await rate({ perBatchMinor: 1, siteId: world.ckId });
    await rate({ perBatchMinor: 1, siteId: world.w3Id, recipeId: world.recipeId });
    await rate({ perBatchMinor: 1, recipeId: world.recipeId, fromDate: '2026-12-01' });
    // labour 34.00 shared over 34,000 g planned: 0.1 a gram; energy 10 a kg: 0.01 a gram
    const cost = await costOf(load);
    expect(cost.unitCostMinor).toBe('1.11');
    expect(cost.madeBy).toMatchObject({
      poolMinor: 34_000 + 3_400 + 320,
      addedMinor: 3_720,
      carriedMinor: 35_520,
      abnormalLossMinor: 2_200,
      rates: [
        { kind: 'energy', amountMinor: 320 },
        { kind: 'labour', amountMinor: 3_400 },
      ],
    });
    const { items } = await kitchen.get('finance', `/v1/cost-rates?kind=labour&recipeId=${world.recipeId}`);
    expect(items.map((item: Json) => item.replaced)).toEqual([false, false, false, true]);
  });

  test('what nobody said a price of is listed with all that was made of it, until somebody does', async () => {
    const unpriced = await kitchen.shin(10_000);
    const zero = await kitchen.shin(1_000, { priceMinor: 0 });
    const stew = await kitchen.stew(unpriced, 10_000, 8_500);
    const list = async () => {
      const body = await kitchen.get('finance', '/v1/reports/uncosted-lots?month=2026-11&site=CK');
      return body.items.map((lot: Json) => [lot.lotId, lot.reason, lot.unpricedPercent]);
    };
    const all = await list();
    expect(all).toHaveLength(3);
    expect(all).toContainEqual([unpriced, 'no-price', 100]);
    expect(all).toContainEqual([zero, 'price-zero', 100]);
    expect(all[2]).toEqual([stew.lotId, 'uncosted-input', 100]);
    await refresh();
    expect(await list()).toEqual(all);
    expect((await say('/v1/prices', { lotId: zero, priceMinor: 0, freeOfCharge: true })).status).toBe(201);
    expect((await say('/v1/prices', { lotId: unpriced, priceMinor: 8_500 })).status).toBe(201);
    expect(await list()).toEqual([]);
    // 1 minor a gram, with 34.00 for the batch (0.4) and 10 a kg (0.01)
    expect(await costOf(stew.lotId)).toMatchObject({ unitCostMinor: '1.41', uncosted: false });
  });

  test.each([
    ['nothing for it', { priceMinor: 0 }, 422, 'price-unusable'],
    ['something for what is free', { priceMinor: 5, freeOfCharge: true }, 422, 'price-unusable'],
    ['more than a month can add up', { priceMinor: 100_000_000, perQuantity: 1 }, 422, 'price-unusable'],
    ['less than nothing', { priceMinor: -5 }, 400, 'invalid-request'],
    ['no price', {}, 400, 'invalid-request'],
    ['part of a penny', { priceMinor: 5.5 }, 400, 'invalid-request'],
    ['another currency', { priceMinor: 5, currency: 'EUR' }, 422, 'currency-differs'],
    ['a unit that does not convert', { priceMinor: 5, perQuantity: 1, unit: 'piece' }, 422, 'unit-mismatch'],
    ['a unit of nothing', { priceMinor: 5, unit: 'g' }, 422, 'rule-broken'],
    ['a lot that nobody knows', { priceMinor: 5, lotId: randomUUID() }, 404, 'not-found'],
  ])('a price: %s', async (_what, body, status, code) => {
    const answer = await say('/v1/prices', { lotId: shin, ...body });
    expect([answer.status, answer.body.code]).toEqual([status, code]);
  });

  test('what was made here has no price', async () => {
    expect((await say('/v1/prices', { lotId: packs, priceMinor: 5 })).body.code).toBe('rule-broken');
  });

  test.each([
    ['for a batch and a kg', { perBatchMinor: 1, perKgMinor: 1 }, 'rule-broken'],
    ['for neither', {}, 'rule-broken'],
    ['ends before it begins', { perKgMinor: 1, throughDate: '2026-10-31' }, 'rule-broken'],
    ['a day that is not on the calendar', { perKgMinor: 1, fromDate: '2026-02-30' }, 'rule-broken'],
    ['in another currency', { perKgMinor: 1, currency: 'JPY' }, 'currency-differs'],
    ['of a site that nobody knows', { perKgMinor: 1, siteId: randomUUID() }, 'not-found'],
    ['of a recipe that nobody knows', { perKgMinor: 1, recipeId: randomUUID() }, 'not-found'],
  ])('a rate %s', async (_what, body, code) => {
    const answer = await say('/v1/cost-rates', { kind: 'overhead', fromDate: '2026-11-01', ...body });
    expect(answer.body.code).toBe(code);
  });

  test('before the lot was known, and ahead of now, there is no cost of it', async () => {
    const finance = service.as('finance');
    const at = (when: string) => finance.get(`/v1/lots/${packs}/cost?recordedAt=${when}`);
    expect((await at('2026-11-25T11:00:00Z')).body.code).toBe('not-found');
    expect((await at('2027-11-25T11:00:00Z')).body.code).toBe('rule-broken');
    expect((await service.as('kitchen').get(`/v1/lots/${packs}/cost`)).status).toBe(403);
  });

  test('a closed month is left alone: its correction shows in the open one, its rates stay', async () => {
    const late = await kitchen.shin(1_000, { priceMinor: 500 });
    await service.db.inGroup(service.groupId, 'write', async (tx) => {
      const closeId = randomUUID();
      const actorId = exampleId('person/finance');
      const nowMs = service.clock.nowMs();
      const moneyNo = await takeMoneyNo(
        tx,
        { kind: 'month-close', subjectId: closeId, factId: closeId, actorId },
        nowMs,
      );
      await tx.query(
        `insert into month_close (group_id, close_id, month, version, cut_seq, cut_money_no, cut_recorded_at, money_no, closed_by, closed_at,
                checks, accepted)
         values ($1::uuid, $2::uuid, '2026-11-01', 1, (select last_seq from group_head where group_id = $1::uuid), $3::int8, now(),
                $3::int8, $4::uuid, now(), '[]', '[]')`,
        [tx.groupId, closeId, moneyNo, actorId],
      );
    });
    const price = await say('/v1/prices', { lotId: late, priceMinor: 600 });
    expect(price.body.adjustsMonth).toBe('2026-12');
    const next = await kitchen.shin(1_000);
    expect((await say('/v1/prices', { lotId: next, priceMinor: 600 })).body.adjustsMonth).toBeNull();
    const rate = { kind: 'energy', perKgMinor: 1 };
    expect((await say('/v1/cost-rates', { ...rate, fromDate: '2026-11-30' })).body.code).toBe('month-closed');
    expect((await say('/v1/cost-rates', { ...rate, fromDate: '2026-12-01' })).status).toBe(201);
  });
});
