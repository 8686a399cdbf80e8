/** What sites need: said, replaced, read as CSV, picked, made, sent and compared. Numbers are worked out by hand beside each test. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { NOON_MS, startService, type Answer, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const DAY_MS = 86_400_000;
const TODAY = '2026-11-25';

let service: TestService;
let world: World;
let kitchen: Kitchen;
/** level 7, two portions a pack, opened as beef stew */
let regular: string;
/** level 4 */
let pureed: string;
/** level 4, of another dish, vegan */
let pureedDal: string;

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  regular = await packItem('STEW-7', { textureLevel: 7, portionsPerUnit: 2, openedItemId: world.beefStewId });
  pureed = await packItem('STEW-4', { textureLevel: 4 });
  pureedDal = await packItem('DAL-4', { textureLevel: 4, dietCodes: ['vegan', 'vegetarian'] });
});
afterAll(() => service.stop());

async function packItem(code: string, more: object): Promise<string> {
  const life = { lifeDays: 5, anchor: 'end-of-cooking', dayOne: 'anchor-day-is-day-one' };
  const item = {
    code,
    name: `Pack ${code}`,
    kind: 'packed',
    unit: 'piece',
    unitMassMg: 300_000,
    allergens: ['gluten-cereals:wheat', 'celery'],
    life,
  };
  const kept = { handling: 'ready-to-eat', storageInstruction: 'Keep at 3 °C or below' };
  return (await kitchen.post('operations', '/v1/items', { ...item, ...kept, ...more })).itemId as string;
}

/** Packs of an item, cooked a number of days ago; released unless told otherwise. */
async function packs(
  itemId: string,
  count: number,
  daysAgo: number,
  packLotCode: string,
  released = true,
): Promise<string> {
  service.clock.set(NOON_MS - daysAgo * DAY_MS);
  const shin = await kitchen.shin(10_000);
  const { batchId, lotId } = await kitchen.stew(shin, 10_000, 9_000);
  const lot = await kitchen.pack(batchId, lotId, count * 300, count, { packItemId: itemId, packLotCode });
  if (released) await kitchen.release(batchId);
  service.clock.set(NOON_MS);
  return lot;
}

const line = (itemId: string, portions: number, more: object = {}) => ({
  serviceDate: TODAY,
  meal: 'lunch',
  itemId,
  portions,
  ...more,
});
const ask = async (lines: object[], siteId = world.w3Id): Promise<Json[]> =>
  (await kitchen.post('operations', '/v1/requirements', { siteId, lines })).requirements;
const send = (csv: string, more: object = {}): Promise<Answer> =>
  service.as('operations').post('/v1/requirements', { id: randomUUID(), csv, ...more });
const planned = (lotId: string, quantity: number, requirementId?: string): Promise<Answer> =>
  service.as('operations').post('/v1/dispatches', {
    id: randomUUID(),
    fromSiteId: world.ckId,
    toSiteId: world.w3Id,
    lines: [{ lotId, placeId: world.ckChillerId, quantity, unit: 'piece', ...(requirementId && { requirementId }) }],
  });
const coverage = async (serviceDate: string): Promise<Json[]> =>
  (await kitchen.get('receiver', `/v1/requirement-coverage?siteId=${world.w3Id}&serviceDate=${serviceDate}`))
    .requirements;

describe('recording', () => {
  test('the last number stands, the earlier ones are kept, and 0 takes it off the list', async () => {
    const day = '2026-12-01';
    const [first] = await ask([line(regular, 20, { serviceDate: day, note: 'Two more than last week' })]);
    expect(first).toMatchObject({
      portions: 20,
      revision: 1,
      itemCode: 'STEW-7',
      textureLevel: null,
      whyUnsuitable: null,
    });
    const [second] = await ask([line(regular, 22, { serviceDate: day })]);
    expect(second).toMatchObject({ requirementId: first.requirementId, portions: 22, revision: 2, note: null });
    const read = await kitchen.get('kitchen', `/v1/requirements/${first.requirementId}`);
    expect(read.numbers.map((one: Json) => [one.revision, one.portions])).toEqual([
      [2, 22],
      [1, 20],
    ]);
    const list = `/v1/requirements?siteId=${world.w3Id}&serviceDate=${day}`;
    expect((await kitchen.get('quality', list)).items).toMatchObject([{ portions: 22 }]);
    await ask([line(regular, 0, { serviceDate: day })]);
    expect((await kitchen.get('quality', list)).items).toEqual([]);
    expect((await kitchen.get('quality', `${list}&cancelled=true`)).items).toMatchObject([
      { portions: 0, revision: 3 },
    ]);
  });

  test('another texture, diet or meal is another requirement; diets in any order are the same one', async () => {
    const at = { serviceDate: '2026-12-02' };
    const asked = await ask([
      line(pureedDal, 1, at),
      line(pureedDal, 2, { ...at, textureLevel: 4 }),
      line(pureedDal, 3, { ...at, textureLevel: 4, dietCodes: ['vegan', 'vegetarian'] }),
      line(pureedDal, 4, { ...at, meal: 'dinner' }),
    ]);
    expect(new Set(asked.map((one) => one.requirementId)).size).toBe(4);
    const [again] = await ask([line(pureedDal, 9, { ...at, textureLevel: 4, dietCodes: ['vegetarian', 'vegan'] })]);
    expect(again).toMatchObject({ requirementId: asked[2]?.requirementId, portions: 9, revision: 2 });
    const first = await kitchen.get('kitchen', `/v1/requirements?serviceDate=2026-12-02&limit=3`);
    expect(first.items).toHaveLength(3);
    const rest = await kitchen.get(
      'kitchen',
      `/v1/requirements?serviceDate=2026-12-02&limit=3&cursor=${first.nextCursor}`,
    );
    expect(rest.items).toHaveLength(1);
  });

  test('one fact is one fact: sent twice it counts once', async () => {
    const body = { id: randomUUID(), siteId: world.w3Id, lines: [line(regular, 5, { serviceDate: '2026-12-03' })] };
    const first = await service.as('receiver', world.w3Id).post('/v1/requirements', body);
    const again = await service.as('receiver', world.w3Id).post('/v1/requirements', body);
    expect([first.status, again.body]).toEqual([201, first.body]);
  });

  test('two at once: both numbers are kept, one of them stands', async () => {
    const lines = [line(regular, 7, { serviceDate: '2026-12-04' })];
    const answers = await Promise.all(
      [1, 2, 3].map(() =>
        service.as('operations').post('/v1/requirements', { id: randomUUID(), siteId: world.w3Id, lines }),
      ),
    );
    expect(answers.map((one) => one.status)).toEqual([201, 201, 201]);
    const id = answers[0]?.body.requirements[0].requirementId as string;
    expect((await kitchen.get('kitchen', `/v1/requirements/${id}`)).numbers).toHaveLength(3);
  });

  test('what cannot be counted in portions, no such day, no site, both forms: refused', async () => {
    const post = (body: object) => service.as('operations').post('/v1/requirements', { id: randomUUID(), ...body });
    const siteId = world.w3Id;
    expect((await post({ siteId, lines: [line(world.beefStewId, 5)] })).body).toMatchObject({
      code: 'item-unsuitable',
    });
    expect((await post({ siteId, lines: [line(regular, 5, { serviceDate: '2026-02-30' })] })).status).toBe(400);
    expect((await post({ lines: [line(regular, 5)] })).body).toMatchObject({ code: 'rule-broken' });
    expect((await post({ siteId, lines: [line(regular, 5)], csv: 'x' })).body).toMatchObject({ code: 'rule-broken' });
    expect((await post({ siteId })).body).toMatchObject({ code: 'rule-broken' });
    const same = [line(regular, 5), line(pureed, 1), line(regular, 6)];
    expect((await post({ siteId, lines: same })).body).toMatchObject({
      code: 'rule-broken',
      detail: 'Line 3 asks for the same as line 1: which number is meant.',
    });
  });
});

describe('as CSV', () => {
  test('columns in any order, quotes, several sites, blank lines, a mark at the start', async () => {
    const answer = await send(
      [
        '\ufeffportions,diets,texture,item code,meal,date,site code,note',
        '6,"vegan; vegetarian",4,DAL-4,dinner,2026-12-10,W3,"Bay C, by the window"',
        '',
        '12,,,STEW-7,dinner,2026-12-10,CK,',
      ].join('\r\n'),
    );
    expect(answer.status, answer.text).toBe(201);
    expect(answer.body.requirements).toMatchObject([
      {
        siteId: world.w3Id,
        portions: 6,
        textureLevel: 4,
        dietCodes: ['vegan', 'vegetarian'],
        note: 'Bay C, by the window',
      },
      { siteId: world.ckId, portions: 12, textureLevel: null, dietCodes: [], note: null },
    ]);
  });

  const HEADING = 'site code,date,meal,item code,portions,texture,diets';
  const refused = async (csv: string): Promise<Json> => (await send(csv)).body;

  test('a wrong column, a missing one and one that is there twice are named', async () => {
    const wrong = await refused('site code,date,meal,item code,portions,texture,diet\nW3,2026-12-11,lunch,STEW-7,5,,');
    expect(wrong).toMatchObject({ code: 'csv-unreadable', status: 422 });
    expect(wrong.detail).toContain('"diet"');
    // Without its column every texture would silently be none.
    const missing = await refused('site code,date,meal,item code,portions,diets\nW3,2026-12-11,lunch,STEW-7,5,');
    expect(missing).toMatchObject({ code: 'csv-unreadable', detail: 'Missing: "texture".' });
    expect((await refused(`${HEADING},meal\nx`)).detail).toContain('"meal" is there twice');
    expect((await refused('date,meal,item code,portions,texture,diets\nx')).detail).toContain('"site code"');
  });

  test('with a site given its column may be left out', async () => {
    const csv = 'date,meal,item code,portions,texture,diets\n2026-12-12,lunch,STEW-7,5,,';
    expect((await send(csv, { siteId: world.w3Id })).body.requirements).toMatchObject([{ siteId: world.w3Id }]);
  });

  test('too few cells, open quotes, nothing but a heading', async () => {
    expect((await refused(`${HEADING}\nW3,2026-12-11`)).detail).toBe('Row 2 has 2 cells, the heading has 7.');
    expect(await refused(`${HEADING}\n"W3,2026-12-11`)).toMatchObject({ code: 'csv-unreadable' });
    expect(await refused(HEADING)).toMatchObject({ code: 'csv-unreadable' });
  });

  test('a repeated row refuses all, and both rows are named', async () => {
    const day = '2026-12-13';
    const rows = [`W3,${day},lunch,STEW-7,5,,`, `W3,${day},lunch,STEW-4,2,4,`, `W3,${day},lunch,STEW-7,6,,`];
    expect(await refused([HEADING, ...rows].join('\n'))).toMatchObject({
      code: 'rule-broken',
      detail: 'Row 4 asks for the same as row 2: which number is meant.',
    });
    expect((await kitchen.get('kitchen', `/v1/requirements?serviceDate=${day}`)).items).toEqual([]);
  });

  test('an unknown diet, unknown codes and what does not fit a cell are named by their row', async () => {
    const row = (cells: string) => refused(`${HEADING}\nW3,2026-12-14,lunch,STEW-4,1,4,\n${cells}`);
    expect(await row('W3,2026-12-14,lunch,STEW-7,5,,vegan;moonlight')).toMatchObject({
      code: 'diet-unknown',
      detail: 'Row 3: moonlight is not in the list of diets.',
    });
    const noSite = await row('W33,2026-12-14,lunch,STEW-7,5,,\nW34,2026-12-14,lunch,STEW-7,5,,');
    expect(noSite).toMatchObject({ code: 'not-found' });
    expect(noSite.errors.map((one: Json) => one.detail)).toEqual([
      'Row 3: no site W33 is known here',
      'Row 4: no site W34 is known here',
    ]);
    expect(await row('W3,2026-12-14,lunch,STEW-99,5,,')).toMatchObject({
      code: 'not-found',
      detail: 'Row 3: no item STEW-99 is known here.',
    });
    expect(await row('W3,2026-12-14,lunch,BEEF-STEW,5,,')).toMatchObject({ code: 'item-unsuitable' });
    const cells = await row('W3,2026-02-30,brunch,STEW-7,many,8,');
    expect(cells).toMatchObject({ code: 'invalid-request' });
    expect(cells.errors.map((one: Json) => one.detail)).toEqual([
      'Row 3: date is "2026-02-30"; a day such as 2026-11-25 is wanted',
      'Row 3: meal is "brunch"; one of breakfast, lunch, dinner, other is wanted',
      'Row 3: portions is "many"; a number from 0 to 100000 is wanted',
      'Row 3: texture is "8"; a level from 0 to 7 or nothing is wanted',
    ]);
  });

  test("a site that is not the actor's is not known to him", async () => {
    const csv = `${HEADING}\nCK,2026-12-15,lunch,STEW-7,5,,`;
    const answer = await service.as('receiver', world.w3Id).post('/v1/requirements', { id: randomUUID(), csv });
    expect(answer.body).toMatchObject({ code: 'not-found', detail: 'Row 2: no site CK is known here.' });
  });

  test('a thousand rows are one fact, and one more is too many', async () => {
    const rows = Array.from({ length: 1_001 }, (_, at) => {
      const day = new Date(Date.UTC(2027, 0, 1 + Math.floor(at / 4))).toISOString().slice(0, 10);
      return `W3,${day},${['breakfast', 'lunch', 'dinner', 'other'][at % 4]},STEW-7,${at},,`;
    });
    expect(await refused([HEADING, ...rows].join('\n'))).toMatchObject({ code: 'csv-unreadable' });
    const answer = await send([HEADING, ...rows.slice(0, 1_000)].join('\n'));
    expect(answer.status, answer.text.slice(0, 300)).toBe(201);
    expect(answer.body.requirements).toHaveLength(1_000);
  });
});

describe('texture and diet', () => {
  test('level 7 is refused for level 4, when planned, when changed, and when it departs', async () => {
    const at = { serviceDate: '2026-11-27', textureLevel: 4 };
    const [soft] = await ask([line(pureed, 4, at)]);
    const stew = await packs(regular, 4, 0, 'TX-7');
    const puree = await packs(pureed, 4, 0, 'TX-4');
    const wrong = await planned(stew, 2, soft.requirementId);
    expect(wrong.status).toBe(409);
    expect(wrong.body).toMatchObject({ code: 'diet-mismatch', errors: [{ pointer: '#/lines/0/requirementId' }] });
    expect(wrong.body.detail).toContain('level 7 (Regular); level 4 (Pureed / Extremely Thick) was asked for');
    const right = await planned(puree, 2, soft.requirementId);
    expect(right.status, right.text).toBe(201);
    expect(right.body.lines).toMatchObject([{ requirementId: soft.requirementId }]);
    const path = `/v1/dispatches/${right.body.dispatchId}`;
    const lines = [
      { lotId: stew, placeId: world.ckChillerId, quantity: 1, unit: 'piece', requirementId: soft.requirementId },
    ];
    const changed = await service.as('operations').patch(path, { lines }, { 'if-match': '*' });
    expect(changed.body).toMatchObject({ code: 'diet-mismatch' });
    // Somebody finds out that the packs are not level 4 after all.
    const mark = (textureLevel: number) =>
      service.as('operations').patch(`/v1/items/${pureed}`, { textureLevel }, { 'if-match': '*' });
    expect((await mark(5)).status).toBe(200);
    const departure = await service.as('driver').post(`${path}/departure`, { id: randomUUID() });
    expect(departure.body).toMatchObject({ code: 'diet-mismatch' });
    expect((await mark(4)).status).toBe(200);
    expect((await service.as('driver').post(`${path}/departure`, { id: randomUUID() })).status).toBe(201);
  });

  test('a diet that the item is not marked with is refused; another dish of the same marks may go, and shows', async () => {
    const day = '2026-11-28';
    const at = { serviceDate: day, textureLevel: 4 };
    const [soft, vegan] = await ask([line(pureed, 4, at), line(pureedDal, 3, { ...at, dietCodes: ['vegan'] })]);
    const puree = await packs(pureed, 4, 0, 'DT-4');
    const dal = await packs(pureedDal, 4, 0, 'DT-DAL');
    expect((await planned(puree, 1, vegan.requirementId)).body).toMatchObject({ code: 'diet-mismatch' });
    expect((await planned(dal, 3, soft.requirementId)).status).toBe(201);
    const [first] = (await coverage(day)).filter((one) => one.requirementId === soft.requirementId);
    expect(first).toMatchObject({
      plannedPortions: 3,
      shortPortions: 1,
      otherItems: [{ itemId: pureedDal, portions: 3 }],
    });
  });

  test('a requirement of another site, and one that nobody made, are not found', async () => {
    const [own] = await ask([line(regular, 3, { serviceDate: '2026-11-29' })], world.ckId);
    const stew = await packs(regular, 1, 0, 'NF-1');
    const [foreign, unknown] = [await planned(stew, 1, own.requirementId), await planned(stew, 1, randomUUID())];
    expect([foreign.status, foreign.body.detail]).toEqual([404, unknown.body.detail]);
  });

  test('an item that is not itself what is asked for is recorded with the reason, and nothing of it is picked', async () => {
    const day = '2026-11-27';
    await packs(regular, 3, 0, 'UN-1');
    const [odd] = await ask([line(regular, 2, { serviceDate: day, meal: 'breakfast', textureLevel: 4 })]);
    expect(odd.whyUnsuitable).toContain('level 7 (Regular)');
    const list = `/v1/pick-list?fromSiteId=${world.ckId}&toSiteId=${world.w3Id}&serviceDate=${day}&meal=breakfast`;
    expect((await kitchen.get('kitchen', list)).lines).toMatchObject([
      { picks: [], shortPortions: 2, whyShort: odd.whyUnsuitable },
    ]);
    const sheet = `/v1/production-sheet?siteId=${world.ckId}&serviceDate=${day}&meal=breakfast`;
    expect((await kitchen.get('kitchen', sheet)).items).toMatchObject([
      { requiredPortions: 0, toMakePacks: 0, unsuitable: [{ portions: 2, why: odd.whyUnsuitable }] },
    ]);
  });
});
