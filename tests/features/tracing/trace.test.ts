import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { exampleId } from '../../../src/platform/ids.ts';
import type { Json } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { tellStewMonth, type StewMonth } from '../../support/stew-month.ts';

describe('a trace', () => {
  let service: TestService;
  let month: StewMonth;
  beforeAll(async () => {
    service = await startService();
    month = await tellStewMonth(service);
  });
  afterAll(() => service.stop());

  const trace = async (lotId: string, query = ''): Promise<Json> => {
    const answer = await service.as('quality').get(`/v1/lots/${lotId}/trace${query}`);
    expect(answer.status).toBe(200);
    return answer.body;
  };
  const lotOf = (body: Json, lotId: string): Json => body.lots.find((lot: Json) => lot.lotId === lotId);
  const where = (lot: Json) =>
    Object.fromEntries(lot.whereNow.map((one: Json) => [`${one.kind} ${one.placeName ?? one.siteName}`, one.quantity]));
  const edge = (body: Json, parentLotId: string, childLotId: string): Json =>
    body.edges.find((one: Json) => one.parentLotId === parentLotId && one.childLotId === childLotId);

  test('forward: every lot once, and where all of it is, to the last pack', async () => {
    const body = await trace(month.shinB);
    expect(body.direction).toBe('forward');
    expect(body.lots.map((lot: Json) => lot.lotId).sort()).toEqual(
      [month.shinB, month.load1, month.load2, month.packs1, month.packs2].sort(),
    );
    expect(lotOf(body, month.shinB)).toMatchObject({
      produced: 30_000,
      supplierName: 'Brook Farm Meats',
      supplierLotCode: 'BRK-2',
      held: false,
      notLotTracked: false,
    });
    // 30 000 - 24 000 cooked - 1 000 trimmed - 700 sent back; what was undone is not there
    expect(where(lotOf(body, month.shinB))).toEqual({
      'place CHILL-1': 4_300,
      'consumed Central kitchen': 24_000,
      'waste Central kitchen': 1_000,
      'supplier-return Central kitchen': 700,
    });
    const packs = lotOf(body, month.packs1);
    const at = (kind: string, placeId: string | null) =>
      packs.whereNow.find((one: Json) => one.kind === kind && one.placeId === placeId)?.quantity;
    // 28 arrived - 20 - 3 - 1 not found by the count - 1 in December
    expect(at('place', month.world.w3ChillerId)).toBe(3);
    expect(at('place', month.world.w3QuarantineId)).toBe(1);
    expect(at('place', month.world.ckChillerId)).toBe(10);
    expect(at('served', null)).toBe(20);
    expect(at('waste', null)).toBe(3);
    expect(at('variance', null)).toBe(1);
    expect(packs.whereNow.find((one: Json) => one.kind === 'transit')).toMatchObject({
      dispatchId: month.dispatchId,
      toSiteId: month.world.w3Id,
      quantity: 2,
    });
    // served at the ward, where none had arrived: what is short is shown as below zero
    const short = lotOf(body, month.packs2).whereNow.find((one: Json) => one.placeId === month.world.w3ChillerId);
    expect(short.quantity).toBe(-2);
    for (const lot of body.lots) {
      expect(lot.balanced).toBe(true);
      expect(lot.whereNow.reduce((sum: number, one: Json) => sum + one.quantity, 0)).toBe(lot.produced);
    }
  });

  test('shares of a batch are apportioned by output mass and sum to what went in', async () => {
    const body = await trace(month.shinA);
    // 8 000 g over loads of 15 000 and 12 600 g: 100 000/23 and 84 000/23
    expect(edge(body, month.shinA, month.load1)).toMatchObject({
      kind: 'batch',
      consumedQuantity: 8_000,
      apportioned: { note: 'apportioned by output mass', numerator: '100000', denominator: '23', rounded: 4_348 },
    });
    expect(edge(body, month.shinA, month.load2).apportioned).toMatchObject({ numerator: '84000', rounded: 3_652 });
    expect(edge(body, month.load1, month.packs1)).toMatchObject({
      kind: 'packing-run',
      consumedQuantity: 12_100,
      apportioned: { numerator: '12100', denominator: '1', rounded: 12_100 },
    });
  });

  test('totals and sites', async () => {
    const body = await trace(month.shinB);
    const total = (itemId: string) => body.totals.find((one: Json) => one.itemId === itemId);
    expect(total(month.world.beefStewPackId)).toMatchObject({
      unit: 'piece',
      lotCount: 2,
      produced: 50,
      onHand: 22,
      inTransit: 2,
      served: 22,
      wasted: 3,
      returned: 0,
      consumed: 0,
      unexplained: 1,
      balanced: true,
    });
    expect(total(month.world.beefStewId)).toMatchObject({ produced: 27_600, consumed: 15_100, onHand: 12_500 });
    expect(total(month.world.beefShinId)).toMatchObject({ produced: 30_000, returned: 700, wasted: 1_000 });
    const ward = body.sites.find((site: Json) => site.siteId === month.world.w3Id);
    expect(ward.siteName).toBe('Ward 3 pantry');
    expect(ward.reachedBy.sort()).toEqual([month.packs1, month.packs2].sort());
    expect(ward.quantities).toEqual([
      expect.objectContaining({ itemId: month.world.beefStewPackId, onHand: 2, inTransit: 2, served: 22, wasted: 3 }),
    ]);
  });

  test('back: deliveries that went in, with the same shares', async () => {
    const body = await trace(month.packs1, '?direction=back');
    expect(body.lots.map((lot: Json) => lot.lotId).sort()).toEqual(
      [month.packs1, month.load1, month.shinA, month.shinB].sort(),
    );
    expect(edge(body, month.shinA, month.load1).apportioned).toMatchObject({ numerator: '100000', rounded: 4_348 });
    expect(edge(body, month.shinB, month.load1)).toMatchObject({
      consumedQuantity: 24_000,
      apportioned: { numerator: '300000', denominator: '23', rounded: 13_043 },
    });
  });

  test('a hold shows on every lot that it reaches, and in the picture', async () => {
    const post = { id: exampleId('hold/trace'), kind: 'safety', lotId: month.shinA, note: 'Supplier wrote' };
    expect((await service.as('quality').post('/v1/holds', post)).status).toBe(201);
    const body = await trace(month.shinA);
    expect(
      body.lots.every((lot: Json) => lot.held && lot.holds.some((hold: Json) => hold.rootLotId === month.shinA)),
    ).toBe(true);
    const picture = await service.as('quality').get(`/v1/lots/${month.shinA}/trace?format=svg`);
    expect(picture.headers['content-type']).toMatch(/^image\/svg\+xml/);
    expect(picture.text).toContain('ON HOLD');
    expect(picture.text).toContain('On the road: 2');
    expect(picture.text).toContain('Their lot BRK-1');
    expect(picture.text).toContain('≈ 4,348 g');
    expect(picture.text).toContain('Short: Ward 3 pantry, CHILL-1: 2');
    const asked = await service.as('quality').get(`/v1/lots/${month.shinA}/trace`, { accept: 'image/svg+xml' });
    expect(asked.text).toBe(picture.text);
  });

  test('a lot of a site that one has nothing to do with is not there; a relative at other sites is shown', async () => {
    const ward = service.as('receiver', month.world.w3Id);
    expect((await ward.get(`/v1/lots/${month.shinA}/trace`)).status).toBe(404);
    expect((await ward.get(`/v1/lots/${exampleId('lot/nowhere')}/trace`)).status).toBe(404);
    const back = await ward.get(`/v1/lots/${month.packs1}/trace?direction=back`);
    expect(back.body.lots).toHaveLength(4);
  });

  test('an item that is not kept by lot says so, and still adds up', async () => {
    const kitchen = service.as('kitchen');
    const waterId = exampleId('item/water');
    const water = {
      id: waterId,
      code: 'WATER',
      name: 'Water',
      kind: 'ingredient',
      unit: 'g',
      allergens: [],
      handling: 'ready-to-eat',
      storageInstruction: 'From the tap',
      lotTracked: false,
    };
    expect((await service.as('admin').post('/v1/items', water)).status).toBe(201);
    const batch = await kitchen.post('/v1/batches', {
      id: exampleId('batch/soup'),
      siteId: month.world.ckId,
      recipeId: month.world.recipeId,
    });
    const path = `/v1/batches/${batch.body.batchId}`;
    const input = { id: exampleId('input/water'), itemId: waterId, quantity: 900, unit: 'g' };
    expect((await kitchen.post(`${path}/inputs`, input)).status).toBe(201);
    const soup = exampleId('lot/soup');
    const load = { lotId: soup, placeId: month.world.ckChillerId, quantity: 900, unit: 'g' };
    const out = { id: exampleId('outputs/soup'), loads: [{ ...load, cookEndedAt: '2026-12-02T11:00:00Z' }] };
    expect((await kitchen.post(`${path}/outputs`, out)).status).toBe(201);
    const body = await trace(soup, '?direction=back');
    const standing = body.lots.find((lot: Json) => lot.itemId === waterId);
    expect(standing).toMatchObject({ origin: 'pseudo', notLotTracked: true, produced: 900, balanced: true });
    expect(standing.remark).toMatch(/^Not kept by lot/);
    expect(lotOf(body, soup).remark).toBeNull();
    const picture = await service.as('quality').get(`/v1/lots/${soup}/trace?direction=back&format=svg`);
    expect(picture.text).toContain('Not tracked by lot');
    expect(edge(body, standing.lotId, soup)).toMatchObject({ consumedQuantity: 900, apportioned: { rounded: 900 } });
  });
});

describe('a trace that is too large', () => {
  let service: TestService;
  let month: StewMonth;
  beforeAll(async () => {
    service = await startService();
    month = await tellStewMonth(service);
  });
  afterAll(() => service.stop());

  /** More packs out of one load, written straight into the tables: only their number matters here. */
  const addChildren = (from: number, to: number) =>
    service.db.inGroup(service.groupId, 'write', async (tx) => {
      await tx.query(
        `insert into lot (group_id, lot_id, code, item_id, unit, quantity, mass_mg, origin, site_id, born_at, handling,
                storage_instruction, use_by_basis, allergens, may_contain)
         select l.group_id, ('00000000-0000-4000-8000-' || lpad(n::text, 12, '0'))::uuid, 'MANY-' || n, l.item_id, l.unit, 1, 1000,
                'packed', l.site_id, l.born_at, l.handling, l.storage_instruction, 'null', '{}', '{}'
           from lot l, generate_series($3::int, $4::int) as n
          where l.group_id = $1::uuid and l.lot_id = $2::uuid`,
        [tx.groupId, month.load2, from, to],
      );
      await tx.query(
        `insert into lot_edge (group_id, parent_lot_id, child_lot_id, process_id, caps_use_by, recorded_at)
         select $1::uuid, $2::uuid, ('00000000-0000-4000-8000-' || lpad(n::text, 12, '0'))::uuid, $2::uuid, true, now()
           from generate_series($3::int, $4::int) as n`,
        [tx.groupId, month.load2, from, to],
      );
    });

  test('to draw: refused as a picture only; to walk: refused', async () => {
    const path = `/v1/lots/${month.load2}/trace`;
    // the load and its packs are two of the 300 that a picture may have
    await addChildren(1, 299);
    expect((await service.as('quality').get(`${path}?format=svg`)).body).toMatchObject({ code: 'too-large-to-draw' });
    expect((await service.as('quality').get(path)).body.lots).toHaveLength(301);
    await addChildren(300, 19_998);
    expect((await service.as('quality').get(path)).body.lots).toHaveLength(20_000);
    await addChildren(19_999, 19_999);
    const refused = await service.as('quality').get(path);
    expect(refused.body).toMatchObject({ status: 422, code: 'trace-too-large' });
  });
});
