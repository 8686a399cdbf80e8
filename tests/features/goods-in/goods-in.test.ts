/** Goods in as it happens: in cases, several lots on a line, a part refused at the door, cash, nobody says where it was put. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const AT = '2026-11-25T06:10:00+00:00';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let tomatoesId: string;
let breadId: string;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  const item = { kind: 'ingredient', unit: 'g', handling: 'ready-to-eat', storageInstruction: 'Keep dry' };
  const tomatoes = await kitchen.post('admin', '/v1/items', {
    ...item,
    code: 'TOMATOES',
    name: 'Chopped tomatoes, tinned',
    allergens: [],
    storage: 'ambient',
    entryUnits: [
      { code: 'tin', quantity: 400 },
      { code: 'case', quantity: 4_800 },
    ],
  });
  tomatoesId = tomatoes.itemId;
  const bread = {
    ...item,
    code: 'BREAD',
    name: 'Bread',
    allergens: ['gluten-cereals:wheat', 'milk'],
    mayContain: ['sesame'],
  };
  breadId = (await kitchen.post('admin', '/v1/items', bread)).itemId;
  const site = await service.as('admin').get(`/v1/sites/${world.ckId}`);
  const etag = { 'if-match': site.headers['etag'] ?? '' };
  const putAway = { chilled: world.ckChillerId, frozen: null, ambient: world.ckDryId };
  const changed = await service.as('admin').patch(`/v1/sites/${world.ckId}`, { putAway }, etag);
  expect(changed.status, changed.text).toBe(200);
});
afterAll(() => service.stop());

const head = () => ({ siteId: world.ckId, supplierId: world.supplierId, occurredAt: AT });
const take = (lines: object[], status = 201, more: object = {}): Promise<Json> =>
  kitchen.post('kitchen', '/v1/goods-receipts', { ...head(), lines, ...more }, status);
const shin = (more: object = {}) => ({ itemId: world.beefShinId, quantity: 5_000, unit: 'g', ...more });
const kinds = (answer: Json): string[] => answer.findings.map((finding: Json) => finding.kind);

describe('in entry units', () => {
  test('it is converted exactly, and what was said stays with the line', async () => {
    const answer = await take([{ itemId: tomatoesId, entryUnit: 'case', entryQuantity: 2.5 }]);
    // 2.5 cases of 12 tins of 400 g: 12 kg
    const line = { quantity: 12_000, unit: 'g', entryUnit: 'case', entryQuantity: 2.5 };
    expect(answer.lines).toMatchObject([line]);
    expect((await kitchen.get('kitchen', `/v1/goods-receipts/${answer.goodsReceiptId}`)).lines).toMatchObject([line]);
    expect(await kitchen.get('kitchen', `/v1/lots/${answer.lines[0].lotId}`)).toMatchObject({ quantity: 12_000 });
  });

  test('one that the item does not have is refused, naming those that it has', async () => {
    const problem = await take([{ itemId: tomatoesId, entryUnit: 'barrel', entryQuantity: 1 }], 422);
    expect(problem).toMatchObject({ code: 'entry-unit-unknown', entryUnits: ['tin', 'case'] });
    expect(problem.detail).toContain('tin, case');
  });

  test('a quantity needs its unit, and one way of saying it', async () => {
    expect(await take([{ itemId: tomatoesId, quantity: 5 }], 422)).toMatchObject({ code: 'rule-broken' });
    expect(await take([{ itemId: tomatoesId }], 422)).toMatchObject({ code: 'rule-broken' });
    const both = { itemId: tomatoesId, quantity: 400, unit: 'g', entryUnit: 'tin', entryQuantity: 1 };
    expect(await take([both], 422)).toMatchObject({ code: 'rule-broken' });
  });
});

describe('lots and lines', () => {
  test('several lots on one line of the delivery note; one supplier lot over several deliveries is found', async () => {
    const first = await take([
      shin({ deliveryLineNo: 3, supplierLotCode: 'S-1', useByDate: '2026-11-29' }),
      shin({ deliveryLineNo: 3, supplierLotCode: 'S-2', useByDate: '2026-11-30' }),
    ]);
    expect(first.lines.map((line: Json) => line.deliveryLineNo)).toEqual([3, 3]);
    expect(new Set(first.lines.map((line: Json) => line.lotId)).size).toBe(2);
    const second = await take([shin({ supplierLotCode: 'S-1' })]);
    const found = await kitchen.get('quality', `/v1/lots?supplierLotCode=S-1&supplierId=${world.supplierId}`);
    expect(found.items.map((lot: Json) => lot.lotId).sort()).toEqual(
      [first.lines[0].lotId, second.lines[0].lotId].sort(),
    );
    const other = await kitchen.get('quality', `/v1/lots?supplierLotCode=S-1&supplierId=${randomUUID()}`);
    expect(other.items).toEqual([]);
  });

  test('best-before is kept apart and blocks nothing', async () => {
    const { lotId } = (await take([shin({ placeId: world.ckChillerId, bestBeforeDate: '2026-11-20' })])).lines[0];
    const lot = await kitchen.get('kitchen', `/v1/lots/${lotId}`);
    expect(lot).toMatchObject({ bestBeforeDate: '2026-11-20', useByDate: null, useByAt: null });
    const stock = await kitchen.get('kitchen', `/v1/stock?placeId=${world.ckChillerId}`);
    expect(stock.items.find((one: Json) => one.lotId === lotId)).toMatchObject({ mayUse: true, whyNot: null });
    expect(await take([shin({ bestBeforeDate: '2026-02-30' })], 422)).toMatchObject({ code: 'rule-broken' });
  });

  test('where nobody says, it is presumed to be where such food is put, and the record says that', async () => {
    const answer = await take([
      shin(),
      { itemId: tomatoesId, quantity: 400, unit: 'g' },
      shin({ placeId: world.ckPrepId }),
    ]);
    expect(answer.lines.map((line: Json) => [line.placeId, line.placePresumed])).toEqual([
      [world.ckChillerId, true],
      [world.ckDryId, true],
      [world.ckPrepId, false],
    ]);
    const entry = await kitchen.get('kitchen', `/v1/entries/${answer.goodsReceiptId}`);
    expect(entry.note).toEqual({
      presumed: [
        { lotId: answer.lines[0].lotId, placeId: world.ckChillerId },
        { lotId: answer.lines[1].lotId, placeId: world.ckDryId },
      ],
    });
  });
});

describe('refused at the door', () => {
  test('a part never enters stock, and is kept on the line', async () => {
    const rejected = { rejectedQuantity: 2_000, rejectedReason: 'Pack blown' };
    const answer = await take([shin({ placeId: world.ckPrepId, ...rejected })]);
    expect(answer.lines).toMatchObject([{ quantity: 5_000, ...rejected }]);
    expect(answer.findings).toMatchObject([
      { kind: 'rejected-at-door', lotId: answer.lines[0].lotId, quantity: 2_000, detail: { reason: 'Pack blown' } },
    ]);
    const { lotId } = answer.lines[0];
    const stock = await kitchen.get('kitchen', `/v1/stock?placeId=${world.ckPrepId}`);
    expect(stock.items.find((one: Json) => one.lotId === lotId)).toMatchObject({ quantity: 5_000 });
  });

  test('a whole line has no lot, and says what it was all the same', async () => {
    const line = {
      itemId: tomatoesId,
      entryUnit: 'tin',
      entryQuantity: 0,
      rejectedQuantity: 6,
      supplierLotCode: 'T-9',
    };
    const answer = await take([{ ...line, rejectedReason: 'Dented', useByDate: '2027-01-31' }]);
    expect(answer.lines).toMatchObject([
      {
        lotId: null,
        lotCode: null,
        placeId: null,
        itemId: tomatoesId,
        quantity: 0,
        rejectedQuantity: 2_400,
        supplierLotCode: 'T-9',
        useByDate: '2027-01-31',
      },
    ]);
    expect(kinds(answer)).toEqual(['rejected-at-door']);
    expect((await kitchen.get('kitchen', `/v1/entries/${answer.goodsReceiptId}`)).lines).toEqual([]);
    const open = await kitchen.get('quality', '/v1/findings?kind=rejected-at-door');
    expect(open.items).toContainEqual(expect.objectContaining({ lotId: null, quantity: 2_400 }));
  });

  test('needs a quantity and a reason, and something must have come', async () => {
    for (const more of [
      { rejectedQuantity: 5 },
      { rejectedReason: 'Late' },
      { quantity: 0 },
      { rejectedQuantity: 0.5, rejectedReason: 'x' },
    ]) {
      expect(await take([shin(more)], 422), JSON.stringify(more)).toMatchObject({ code: 'rule-broken' });
    }
  });

  test('a receipt that is undone takes its findings with it', async () => {
    const answer = await take([shin({ rejectedQuantity: 1, rejectedReason: 'Torn' })]);
    const open = async () =>
      (await kitchen.get('quality', `/v1/findings?kind=rejected-at-door&lotId=${answer.lines[0].lotId}`)).items.length;
    expect(await open()).toBe(1);
    await kitchen.post('kitchen', '/v1/reversals', { entryId: answer.goodsReceiptId, reason: 'Entered twice' });
    expect(await open()).toBe(0);
  });
});

describe('bought for cash', () => {
  test('by a receiver at a satellite: no supplier, but the shop', async () => {
    const receiver = service.as('receiver', world.w3Id);
    const line = shin({ supplierLotCode: 'L8' });
    const cash = { siteId: world.w3Id, occurredAt: AT, cashPurchase: { shopName: 'Corner shop, Mill Lane' } };
    const answer = await receiver.post('/v1/goods-receipts', { id: randomUUID(), ...cash, lines: [line] });
    expect(answer.status, answer.text).toBe(201);
    expect(answer.body).toMatchObject({
      supplierId: null,
      cashPurchase: { shopName: 'Corner shop, Mill Lane', receiptNumber: null },
      lines: [{ placeId: world.w3ReceivingId, placePresumed: true }],
    });
    const path = `/v1/lots/${answer.body.lines[0].lotId}`;
    const origin = { origin: 'supplied', supplierId: null, shopName: 'Corner shop, Mill Lane' };
    expect(await kitchen.get('receiver', path)).toMatchObject(origin);
    const trace = await kitchen.get('quality', `${path}/trace?direction=back`);
    expect(trace.lots).toMatchObject([{ supplierId: null, supplierName: 'Corner shop, Mill Lane' }]);
  });

  test('a supplier or a shop: one of them', async () => {
    const cash = { cashPurchase: { shopName: 'Corner shop' } };
    expect(await take([shin()], 422, cash)).toMatchObject({ code: 'rule-broken' });
    expect(await take([shin()], 422, { supplierId: undefined })).toMatchObject({ code: 'rule-broken' });
  });
});

describe('the label', () => {
  const bread = (more: object) => ({ itemId: breadId, quantity: 1_000, unit: 'g', ...more });
  const lotOf = async (answer: Json): Promise<Json> => kitchen.get('kitchen', `/v1/lots/${answer.lines[0].lotId}`);

  test.each([
    ['was not read', {}, false],
    ['was read', { allergensConfirmed: true }, true],
    ['was copied', { allergens: ['gluten-cereals:wheat', 'milk'] }, true],
  ])('%s', async (_what, more, allergensConfirmed) => {
    const answer = await take([bread(more)]);
    expect(answer.lines).toMatchObject([{ allergensConfirmed }]);
    expect(answer.findings).toEqual([]);
  });

  test('that declares more is a substitution: the lot gets both', async () => {
    const answer = await take([
      bread({ allergens: ['gluten-cereals:wheat', 'milk', 'soybeans'], mayContain: ['lupin', 'sesame'] }),
    ]);
    expect(answer.findings).toMatchObject([
      { kind: 'allergens-differ', detail: { declaresMore: ['soybeans'], mayContainMore: ['lupin'] } },
    ]);
    expect(await lotOf(answer)).toMatchObject({
      allergens: ['gluten-cereals:wheat', 'soybeans', 'milk'],
      mayContain: ['sesame', 'lupin'],
    });
  });

  test('that declares fewer: the lot keeps what the item has', async () => {
    const answer = await take([bread({ allergens: ['gluten-cereals:wheat'] })]);
    expect(answer.findings).toMatchObject([{ kind: 'label-understates', detail: { leftUnsaid: ['milk'] } }]);
    expect(await lotOf(answer)).toMatchObject({ allergens: ['gluten-cereals:wheat', 'milk'] });
  });

  test('that names no cereal is taken, because vague is better than unknown', async () => {
    const answer = await take([bread({ allergens: ['gluten-cereals', 'milk'] })]);
    // "cereals" may be another than wheat, so it is more than the item says as well
    expect(kinds(answer)).toEqual(['allergens-differ', 'allergen-not-named']);
    expect(await lotOf(answer)).toMatchObject({ allergens: ['gluten-cereals', 'gluten-cereals:wheat', 'milk'] });
    const settle = await kitchen.get('quality', `/v1/findings?kind=allergen-not-named&lotId=${answer.lines[0].lotId}`);
    expect(settle.items).toMatchObject([{ detail: { codes: ['gluten-cereals'] } }]);
  });
});
