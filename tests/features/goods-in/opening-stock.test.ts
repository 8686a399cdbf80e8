/** Going live: what is there on the first day, by lines or as a table out of a spreadsheet. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { contentOfTables } from '../../support/tables.ts';
import { buildWorld, type World } from '../../support/world.ts';

const AT = '2026-11-25T05:00:00+00:00';
const HEADING = 'item,place,quantity,unit,use-by';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let milkId: string;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  const milk = await kitchen.post('admin', '/v1/items', {
    code: 'MILK',
    name: 'Whole milk',
    kind: 'ingredient',
    unit: 'ml',
    unitMassMg: 1_030,
    allergens: ['milk'],
    handling: 'ready-to-eat',
    storageInstruction: 'Keep cold',
    entryUnits: [{ code: 'crate', quantity: 20_000 }],
  });
  milkId = milk.itemId;
});
afterAll(() => service.stop());

const head = () => ({ siteId: world.ckId, occurredAt: AT });
const open = (more: object, status = 201): Promise<Json> =>
  kitchen.post('kitchen', '/v1/opening-stock', { ...head(), ...more }, status);
const check = async (more: object, status = 200): Promise<Json> => {
  const answer = await service.as('kitchen').post('/v1/opening-stock-checks', { ...head(), ...more });
  expect(answer.status, answer.text).toBe(status);
  return answer.body;
};
const table = (...rows: string[]) => ({ csv: [HEADING, ...rows].join('\n') });
const milk = (more: object = {}) => ({ itemId: milkId, placeId: world.ckChillerId, useByDate: '2026-11-29', ...more });

describe('by lines', () => {
  test('a lot of unknown origin stands where it was counted, and says that nobody knows', async () => {
    const answer = await open({ lines: [milk({ entryUnit: 'crate', entryQuantity: 1.5, lotCode: 'M-77' })] });
    expect(answer).toMatchObject({ rows: 1, doubtful: [], refused: [], findings: [] });
    expect(answer.taken).toMatchObject([
      { row: 1, lotCode: 'M-77', quantity: 30_000, entryUnit: 'crate', entryQuantity: 1.5 },
    ]);
    const { lotId } = answer.taken[0];
    const lot = await kitchen.get('kitchen', `/v1/lots/${lotId}`);
    // 30 l at 1.03 kg/l
    expect(lot).toMatchObject({ origin: 'opening', supplierId: null, goodsReceiptId: null, massMg: 30_900_000 });
    expect(lot).toMatchObject({ allergens: ['milk'], useByDate: '2026-11-29', printedUseByDate: '2026-11-29' });
    const entry = await kitchen.get('kitchen', `/v1/entries/${answer.entryId}`);
    expect(entry).toMatchObject({
      kind: 'opening-stock',
      note: { said: [{ lotId, entryUnit: 'crate', entryQuantity: 1.5 }] },
    });
    const trace = await kitchen.get('quality', `/v1/lots/${lotId}/trace?direction=back`);
    expect(trace.lots).toMatchObject([{ origin: 'opening', produced: 30_000, balanced: true, supplierId: null }]);
    const picture = await service.as('quality').get(`/v1/lots/${lotId}/trace?format=svg`);
    expect(picture.status).toBe(200);
    const label = await service.as('quality').get(`/v1/lots/${lotId}/label`);
    expect(label.status).toBe(200);
  });

  test('one lot code in two places is one lot', async () => {
    const line = { ...milk({ lotCode: 'M-80' }), unit: 'ml' };
    const lines = [
      { ...line, quantity: 4_000 },
      { ...line, quantity: 1_000, placeId: world.ckPrepId },
    ];
    const { taken } = await open({ lines });
    expect(taken[0].lotId).toBe(taken[1].lotId);
    expect(await kitchen.get('kitchen', `/v1/lots/${taken[0].lotId}`)).toMatchObject({ quantity: 5_000 });
    const stock = await kitchen.get('kitchen', `/v1/stock?itemId=${milkId}&placeId=${world.ckPrepId}`);
    expect(stock.items).toMatchObject([{ lotCode: 'M-80', quantity: 1_000 }]);
  });

  test('it counts as received in the month', async () => {
    const before = (await kitchen.get('finance', '/v1/reports/waste-and-yield?month=2026-11')).items;
    await open({ lines: [{ itemId: world.beefShinId, quantity: 9_000, unit: 'g', useByDate: '2026-11-28' }] });
    const after = (await kitchen.get('finance', '/v1/reports/waste-and-yield?month=2026-11')).items;
    const received = (items: Json[]) => items.find((one) => one.itemCode === 'BEEF-SHIN')?.inUnits.received ?? 0;
    expect(received(after) - received(before)).toBe(9_000);
  });

  test('the same fact again answers the same; an item of nobody is not found', async () => {
    const fact = { id: randomUUID(), ...head(), lines: [milk({ quantity: 250, unit: 'ml' })] };
    const first = await service.as('kitchen').post('/v1/opening-stock', fact);
    const again = await service.as('kitchen').post('/v1/opening-stock', fact);
    expect([first.status, again.status]).toEqual([201, 201]);
    expect(again.body).toEqual(first.body);
    expect(await open({ lines: [{ ...milk(), itemId: randomUUID(), quantity: 1, unit: 'ml' }] }, 404)).toMatchObject({
      code: 'not-found',
    });
    expect(await open({ lines: [milk({ placeId: world.w3ChillerId, quantity: 1, unit: 'ml' })] }, 404)).toMatchObject({
      code: 'not-found',
    });
    expect(await open({}, 422)).toMatchObject({ code: 'rule-broken' });
  });
});

describe('as a table', () => {
  test('columns in any order, semicolons, a mark before the first, entry units, an empty place', async () => {
    const csv =
      '\ufeffUse-by;Unit;Quantity;Item code;Place;Lot code;Supplier lot;Allergens\r\n' +
      '2026-11-30;crate;0.5;MILK;CHILL-1;M-90;D-4;milk soybeans\r\n' +
      ';;;;;;;\r\n' +
      '2026-12-01;g;700;BEEF-SHIN;;;;\r\n';
    const answer = await open({ csv });
    expect(answer).toMatchObject({ rows: 2, doubtful: [], refused: [] });
    expect(answer.taken).toMatchObject([
      { row: 2, itemCode: 'MILK', placeId: world.ckChillerId, quantity: 10_000, lotCode: 'M-90', placePresumed: false },
      { row: 4, itemCode: 'BEEF-SHIN', placeId: world.ckReceivingId, quantity: 700, placePresumed: true },
    ]);
    expect(answer.findings).toMatchObject([{ kind: 'allergens-differ', detail: { declaresMore: ['soybeans'] } }]);
    const lot = await kitchen.get('kitchen', `/v1/lots/${answer.taken[0].lotId}`);
    expect(lot).toMatchObject({ allergens: ['soybeans', 'milk'], supplierLotCode: 'D-4' });
  });

  test.each([
    ['a column that there is not', 'item,place,quantity,unit,use-by,colour', 'Column 6 is "colour"'],
    ['a column that is missing', 'item,place,quantity,use-by', 'The column unit is missing'],
    ['a column twice', 'item,place,quantity,unit,use-by,item-code', 'The column item is there twice'],
    ['a column without a name', 'item,place,,quantity,unit,use-by', 'Column 3 is without a name'],
  ])('%s is named, with what is expected', async (_what, heading, words) => {
    const problem = await open({ csv: `${heading}\nMILK,CHILL-1,5,ml,\n` }, 422);
    expect(problem).toMatchObject({ code: 'csv-unreadable' });
    expect(problem.detail).toContain(words);
    expect(problem.detail).toMatch(/expected/);
    expect(problem.columns).toContainEqual({
      name: 'use-by',
      required: true,
      expected: 'a date such as 2026-11-30, or nothing',
    });
  });

  test('an open quotation mark, no rows, too many rows', async () => {
    for (const rows of [['MILK,"CHILL-1,5,ml,'], [], Array.from({ length: 501 }, () => 'MILK,CHILL-1,5,ml,')]) {
      expect(await open(table(...rows), 422)).toMatchObject({ code: 'csv-unreadable' });
    }
  });

  const bad = [
    'MOONCHEESE,CHILL-1,5,g,2026-11-30',
    'MILK,CELLAR,5,ml,2026-11-30',
    'MILK,CHILL-1,"1,500",ml,2026-11-30',
    'MILK,CHILL-1,2.5,ml,2026-11-30',
    'MILK,CHILL-1,5,barrel,2026-11-30',
    'MILK,CHILL-1,5,ml,30/11/2026',
    'MILK,CHILL-1,5,ml,2026-02-30',
    'MILK,CHILL-1,5',
  ];
  const words = [
    'there is no item MOONCHEESE',
    'there is no place CELLAR at this site',
    'quantity: "1,500" is not a number such as 12 or 2.5',
    'A whole number of ml',
    'not counted in barrel, but in ml, crate',
    'use-by: "30/11/2026" is not a date such as 2026-11-30',
    '2026-02-30 is not on the calendar',
    'The row has 3 cells, the heading has 5',
  ];

  test('rows that cannot be recorded are refused one by one, and then none is taken', async () => {
    const before = await contentOfTables(service.databaseUrl);
    const problem = await open(table('MILK,CHILL-1,55,ml,2026-11-30', ...bad), 422);
    expect(problem).toMatchObject({ code: 'atomic-refused' });
    expect(problem.results.map((one: Json) => one.row)).toEqual([3, 4, 5, 6, 7, 8, 9, 10]);
    for (const [at, said] of words.entries()) expect(problem.results[at].reasons.join(' ')).toContain(said);
    expect(await contentOfTables(service.databaseUrl)).toEqual(before);
  });

  test('or the others are, when that is wanted', async () => {
    const answer = await open({ ...table('MILK,CHILL-1,55,ml,2026-11-30', ...bad), takeGood: true });
    expect(answer.taken).toMatchObject([{ row: 2, quantity: 55 }]);
    expect(answer.refused).toHaveLength(bad.length);
    expect(await open({ ...table(...bad), takeGood: true }, 422)).toMatchObject({ code: 'atomic-refused' });
  });

  test('what is refused is shown by its beginning, in whole signs, and can be kept', async () => {
    const face = '\u{1f642}';
    const csv = `${HEADING},allergens\nMILK,CHILL-1,56,ml,2026-11-30,\nx${face.repeat(30)},CHILL-1,5,ml,,x${face.repeat(70)}\n`;
    const answer = await open({ csv, takeGood: true });
    expect(answer.refused).toMatchObject([{ row: 3 }]);
    expect(answer.refused[0].reasons[1]).toBe(`x${face.repeat(59)} is not an allergen code.`);
    expect(answer.refused[0].reasons[0]).toBe(`item: there is no item x${face.repeat(20)}.`);
  });

  test('doubts are listed and taken, an exact repeat is recorded once', async () => {
    const answer = await open(
      table(
        'MILK,CHILL-1,301,ml,2026-11-30',
        'MILK,CHILL-1,301,ml,2026-11-30',
        'MILK,CHILL-1,302,ml,2026-11-30',
        'MILK,CHILL-1,303,ml,2026-11-23',
        'MILK,CHILL-1,304,ml,',
        'MILK,CHILL-1,11,crate,2026-12-02',
        'MILK,CHILL-1,10,crate,2026-12-03',
      ),
    );
    expect(answer.taken.map((one: Json) => one.row)).toEqual([2, 4, 5, 6, 7, 8]);
    expect(answer.doubtful).toEqual([
      { row: 3, taken: false, reasons: ['The same as row 2; recorded once.'] },
      { row: 4, taken: true, reasons: ['The same food in the same place as row 2, another quantity.'] },
      { row: 5, taken: true, reasons: ['The use-by 2026-11-23 has passed.'] },
      { row: 6, taken: true, reasons: ['A chilled item without a date.'] },
      { row: 7, taken: true, reasons: ['More than 10 crate of 20000 ml.'] },
    ]);
    expect(answer.findings).toMatchObject([
      { kind: 'past-use-by', detail: { useByDate: '2026-11-23', atOpening: true } },
    ]);
  });

  test('a lot code is one food and one lot, for ever', async () => {
    const heading = `${HEADING},lot-code`;
    const first = `MILK,CHILL-1,5,ml,2026-11-30,M-99`;
    const problem = await open({ csv: `${heading}\n${first}\nMILK,PREP,5,ml,2026-12-30,M-99\n` }, 422);
    expect(problem.results[0].reasons).toEqual(['Lot M-99 is another item or has another date in row 2.']);
    await open({ csv: `${heading}\n${first}\n` });
    const again = await open({ csv: `${heading}\n${first}\nMILK,CHILL-1,5,ml,,A/B\n` }, 422);
    expect(again.results[0].reasons).toEqual(['There is a lot M-99 already.']);
    expect(again.results[1].reasons.join(' ')).toContain('lot-code: "A/B" is not a lot code');
  });

  test('a check says the same, writes nothing and uses up no id', async () => {
    const before = await contentOfTables(service.databaseUrl);
    const stock = table('MILK,CHILL-1,401,ml,2026-11-30', 'MOONCHEESE,CHILL-1,5,g,');
    const answer = await check(stock);
    expect(answer.taken).toMatchObject([{ row: 2, lotId: null, lotCode: null, quantity: 401 }]);
    expect(answer.refused).toMatchObject([{ row: 3 }]);
    expect(await contentOfTables(service.databaseUrl)).toEqual(before);
    expect(await check({ csv: 'item\n' }, 422)).toMatchObject({ code: 'csv-unreadable' });
    expect(await check({ ...stock, siteId: randomUUID() }, 404)).toMatchObject({ code: 'not-found' });
  });
});
