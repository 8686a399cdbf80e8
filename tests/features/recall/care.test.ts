/**
 * The life of a case on a kitchen and four wards. 10 kg of shin become 8.4 kg of stew; 7.5 kg of it go into 25 packs of 300 g, 900 g are
 * left. To account for are therefore 900 g + 25 x 300 g = 8,400 g; all figures are worked by hand from that.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { derivedId } from '../../../src/platform/ids.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { NOON_MS, startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

interface Ward {
  readonly siteId: string;
  readonly chillerId: string;
}

let service: TestService;
let world: World;
let kitchen: Kitchen;
let wards: Ward[];
let shin: string;
let stew: string;
let packs: string;
let onTheRoad: string;
let recallId: string;
let discardId: string;

const minutes = (count: number) => service.clock.set(NOON_MS + count * 60_000);
const at = () => new Date(service.clock.nowMs()).toISOString();
const fresh = (fields: object) => ({ id: randomUUID(), ...fields });
const ward = (index: number): Ward => wards[index] as Ward;

async function deliver(to: Ward, count: number, arrives = true): Promise<string> {
  const lines = [{ lotId: packs, placeId: world.ckChillerId, quantity: count, unit: 'piece' }];
  const plan = { fromSiteId: world.ckId, toSiteId: to.siteId, lines };
  const { dispatchId } = await kitchen.post('kitchen', '/v1/dispatches', plan);
  await kitchen.post('driver', `/v1/dispatches/${dispatchId}/departure`, {});
  if (arrives) await receive(dispatchId, to, count);
  return dispatchId;
}
async function receive(dispatchId: string, to: Ward, count: number): Promise<void> {
  const line = { lotId: packs, quantity: count, unit: 'piece', condition: 'accepted', placeId: to.chillerId };
  await kitchen.post('receiver', `/v1/dispatches/${dispatchId}/receipts`, {
    occurredAt: at(),
    closes: true,
    lines: [line],
  });
}
const say = (siteId: string, lines: object[], more: object = {}) =>
  service
    .as('receiver', siteId)
    .post(`/v1/recalls/${recallId}/responses`, fresh({ siteId, signedBy: 'Nadia Frost', lines, ...more }));
const ofPacks = (outcome: string, quantity: number, more: object = {}) => ({
  lotId: packs,
  outcome,
  quantity,
  unit: 'piece',
  ...more,
});
const account = (): Promise<Json> => kitchen.get('quality', `/v1/recalls/${recallId}/account`);
const wastedAndServed = async (): Promise<number[]> => {
  const { totals } = await kitchen.get('quality', `/v1/lots/${packs}/trace`);
  return [totals[0].wasted, totals[0].served];
};

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  const others: Ward[] = [];
  for (const code of ['W5', 'W7', 'W9']) {
    const site = { code, name: `Ward ${code}`, kind: 'satellite', timeZone: 'Europe/London', jurisdiction: 'GB-ENG' };
    const { siteId } = await kitchen.post('admin', '/v1/sites', site);
    const chiller = { siteId, code: 'CHILL', name: 'Chiller', kind: 'chiller' };
    others.push({ siteId, chillerId: (await kitchen.post('admin', '/v1/places', chiller)).placeId });
  }
  wards = [{ siteId: world.w3Id, chillerId: world.w3ChillerId }, ...others];
  minutes(-60);
  shin = await kitchen.shin(10_000, { supplierLotCode: 'BRK-77' });
  const batch = await kitchen.stew(shin, 10_000, 8_400);
  stew = batch.lotId;
  packs = await kitchen.pack(batch.batchId, stew, 7_500, 25);
  await kitchen.release(batch.batchId);
  await deliver(ward(0), 4);
  await deliver(ward(1), 5);
  onTheRoad = await deliver(ward(2), 6, false);
  await deliver(ward(3), 7);
  const use = { lotId: packs, placeId: ward(3).chillerId, quantity: 2, unit: 'piece', occurredAt: at() };
  await kitchen.post('receiver', '/v1/uses', use);
  minutes(0);
});
afterAll(() => service.stop());

const START = { kind: 'supplier-lot', supplier: 'BROOK', supplierLotCode: 'brk 77' };

test('opening tells five sites, each its own lots, in words; once', async () => {
  const statement = {
    class: 'I',
    action: 'recall',
    reason: 'supplier-warning',
    checkLevel: 'A',
    leadName: 'Nora Pell',
  };
  const opened = await kitchen.post('quality', '/v1/recalls', { title: 'Metal in shin', starts: [START], statement });
  recallId = opened.recallId;
  expect(opened.lotCount).toBe(3);
  const { items } = await kitchen.get('quality', `/v1/recall-notices?recallId=${recallId}`);
  expect(items.map((one: Json) => [one.siteName, one.noticeNo, one.lotCount]).sort()).toEqual([
    ['Central kitchen', 1, 3],
    ['Ward 3 pantry', 1, 1],
    ['Ward W5', 1, 1],
    ['Ward W7', 1, 1],
    ['Ward W9', 1, 1],
  ]);
  // 21 CFR 7.49(c)(1): urgent, the product with size and lot code, stop, what to do, how to answer
  const w3 = derivedId(`recall-notice-1-${world.w3Id}`, recallId);
  const told = await service.as('receiver', world.w3Id).get(`/v1/recall-notices/${w3}?format=text`);
  const lines = told.text.split('\n');
  expect(lines[0]).toBe('URGENT: FOOD RECALL, class I');
  for (const words of [
    /Metal in shin/,
    /Stop\. Do not use/,
    /pack of 300 g/,
    /4 pieces with you/,
    /could not find/,
    /Nora Pell/,
  ])
    expect(told.text).toMatch(words);
  const pdf = await service.as('receiver', world.w3Id).get(`/v1/recall-notices/${w3}?format=pdf`);
  expect(pdf.raw.subarray(0, 5).toString()).toBe('%PDF-');
  // a site's people see their own only
  const own = (await service.as('receiver', ward(1).siteId).get('/v1/recall-notices')).body.items;
  expect(own.map((one: Json) => one.siteName)).toEqual(['Ward W5']);
  expect((await service.as('receiver', ward(1).siteId).get(`/v1/recall-notices/${w3}`)).status).toBe(404);
});

test('before any answer the records explain two served packs of 28: 1 in 14', async () => {
  const { figures, byUnit, openLines } = await account();
  expect(figures).toMatchObject({ toAccountForG: '8400.000', answeredG: '600.000', openG: '7800.000' });
  expect(figures.answeredShare).toEqual({ numerator: '1', denominator: '14', percent: 7.1 });
  expect(byUnit).toMatchObject([
    { unit: 'g', produced: 18_400, consumedInScope: 17_500, inProcess: 0, onHand: 900, open: 900 },
    { unit: 'piece', produced: 25, onHand: 17, inTransit: 6, served: 2, open: 23 },
  ]);
  // stew and packs in the kitchen, packs on four wards
  expect(openLines).toBe(6);
});

test('acknowledged once, by the site alone; the others are chased, the longest waiting first', async () => {
  minutes(10);
  const notice = (index: number) =>
    `/v1/recall-notices/${derivedId(`recall-notice-1-${ward(index).siteId}`, recallId)}`;
  const read = (index: number, siteId: string) =>
    service.as('receiver', siteId).post(`${notice(index)}/acknowledgement`, fresh({ name: 'Nadia Frost' }));
  expect((await read(0, ward(1).siteId)).status).toBe(404);
  expect((await read(0, ward(0).siteId)).body).toMatchObject({ siteId: world.w3Id, minutesSinceSent: 10 });
  const again = await read(0, ward(0).siteId);
  expect([again.status, again.body.code]).toEqual([409, 'wrong-state']);
  const { sites } = await kitchen.get('quality', `/v1/recalls/${recallId}/chasing`);
  expect(sites).toHaveLength(5);
  expect(sites[0]).toMatchObject({ waitingMinutes: 10 });
  expect(sites.find((one: Json) => one.siteId === ward(0).siteId)).toMatchObject({
    acknowledgedAt: at(),
    openLots: 1,
    openQuantityText: '4 pieces',
  });
});

test('each outcome: what was done is recorded in the ledger, what was found is said', async () => {
  minutes(20);
  const here = { placeId: ward(0).chillerId };
  const noWitness = await say(ward(0).siteId, [ofPacks('destroyed', 4, here)]);
  expect([noWitness.status, noWitness.body.errors[0].pointer]).toEqual([422, '#/lines/0/witness']);
  const elsewhere = await service
    .as('receiver', ward(1).siteId)
    .post(
      `/v1/recalls/${recallId}/responses`,
      fresh({ siteId: ward(0).siteId, signedBy: 'X', lines: [ofPacks('found', 4)] }),
    );
  expect(elsewhere.status).toBe(404);
  expect(await wastedAndServed()).toEqual([0, 2]);

  const id = randomUUID();
  const destroyed = await say(ward(0).siteId, [ofPacks('destroyed', 4, { ...here, witness: 'Omar Bell' })], { id });
  expect(destroyed.body.account).toMatchObject({
    accounted: true,
    lines: [{ onHand: 0, typed: { destroyed: 4 }, open: 0 }],
  });
  discardId = destroyed.body.lines[0].entryId;
  const entry = await kitchen.get('quality', `/v1/entries/${discardId}`);
  expect(entry.kind).toBe('discard');
  expect(await wastedAndServed()).toEqual([4, 2]);
  // sent again it changes nothing
  const repeated = await say(ward(0).siteId, [ofPacks('destroyed', 4, { ...here, witness: 'Omar Bell' })], { id });
  expect(repeated.body).toEqual(destroyed.body);
  expect(await wastedAndServed()).toEqual([4, 2]);

  const aside = ofPacks('quarantined', 3, { placeId: ward(1).chillerId });
  const second = await say(ward(1).siteId, [aside, ofPacks('not-found', 2)]);
  expect(second.body.account.lines[0]).toMatchObject({ onHand: 5, typed: { quarantined: 3, notFound: 2 }, open: 0 });

  await receive(onTheRoad, ward(2), 6);
  const third = await say(ward(2).siteId, [ofPacks('returned', 6)]);
  expect(third.body.account.lines[0]).toMatchObject({ onHand: 6, inTransit: 0, open: 0 });

  const fourth = await say(ward(3).siteId, [
    ofPacks('already-served', 1, { placeId: ward(3).chillerId }),
    ofPacks('found', 4),
  ]);
  expect(fourth.body.account.lines[0]).toMatchObject({ onHand: 4, typed: { alreadyServed: 1, found: 4 }, open: 0 });
  expect(await wastedAndServed()).toEqual([4, 3]);
});

test('closing needs the last line; not found stays below 100 %', async () => {
  minutes(30);
  const path = `/v1/recalls/${recallId}`;
  const early = await service.as('quality').post(`${path}/closing`, fresh({ note: 'Too early' }));
  expect([early.status, early.body.code, early.body.openLineCount]).toEqual([409, 'quantities-open', 2]);
  const ck = [
    { lotId: stew, outcome: 'found', quantity: 900, unit: 'g' },
    ofPacks('found', 3),
    { lotId: shin, outcome: 'not-found', quantity: 0, unit: 'g' },
  ];
  expect((await say(world.ckId, ck)).body.account.accounted).toBe(true);
  const check = { siteId: world.w3Id, method: 'telephone', effective: true };
  const checked = await kitchen.post('quality', `${path}/checks`, check);
  expect(checked.checks).toEqual({ level: 'A', neededSites: 5, checkedSites: 1, effectiveSites: 1 });
  const oneSite = await service.as('quality', world.ckId).post(`${path}/closing`, fresh({ note: 'Mine' }));
  expect([oneSite.status, oneSite.body.code]).toEqual([422, 'rule-broken']);
  const closed = await kitchen.post('quality', `${path}/closing`, { note: 'Every pack is answered for' });
  expect(closed).toMatchObject({ state: 'closed', figures: { answeredShare: { percent: 100 }, notFoundG: '600.000' } });
  // two packs of 300 g: 7,800 of 8,400 g = 13/14 = 92.85...%
  expect(closed.figures.accountedShare).toEqual({ numerator: '13', denominator: '14', percent: 92.8 });
  const late = await say(ward(1).siteId, [ofPacks('found', 2)]);
  expect([late.status, late.body.code]).toEqual([409, 'wrong-state']);
  // closed is not released: what is left may not be used
  const holds = await kitchen.get('quality', `/v1/holds?lotId=${packs}&open=true`);
  expect(holds.items.map((one: Json) => one.kind)).toContain('recall');
});

test('opened again: the newest answer takes the place of what was said, what was recorded stays until it is reversed', async () => {
  minutes(40);
  await kitchen.post('quality', `/v1/recalls/${recallId}/reopening`, { note: 'Two packs turned up' });
  const found = await say(ward(1).siteId, [ofPacks('found', 2)]);
  expect(found.body.account.lines[0]).toMatchObject({ typed: { quarantined: 3, found: 2, notFound: 0 }, open: 0 });
  expect((await account()).figures.accountedShare.percent).toBe(100);
  await kitchen.post('operations', '/v1/reversals', { entryId: discardId, reason: 'It was another bag' });
  const { figures, openLines } = await account();
  // 4 packs of 300 g are open again
  expect([openLines, figures.openG]).toEqual([1, '1200.000']);
  const { events } = await kitchen.get('quality', `/v1/recalls/${recallId}/timeline`);
  const kinds = events.map((one: Json) => one.kind);
  expect(kinds.filter((kind: string) => kind !== 'notice')).toEqual([
    ...['opened', 'statement', 'acknowledgement', 'response', 'response', 'response', 'response'],
    ...['response', 'check', 'closed', 'reopened', 'response'],
  ]);
  expect(kinds.filter((kind: string) => kind === 'notice')).toHaveLength(5);
});

test('food that moves on: what went back covers nothing else, what is in a pot is open, what was done in spite of the hold is told', async () => {
  minutes(43);
  const lines = [{ lotId: packs, placeId: ward(2).chillerId, quantity: 2, unit: 'piece' }];
  const back = { fromSiteId: ward(2).siteId, toSiteId: world.ckId, purpose: 'return', lines };
  const { dispatchId } = await kitchen.post('operations', '/v1/dispatches', back);
  await kitchen.post('driver', `/v1/dispatches/${dispatchId}/departure`, {});
  const { batchId } = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: world.recipeId });
  const pot = { lotId: stew, placeId: world.ckChillerId, quantity: 100, unit: 'g', occurredAt: at() };
  await kitchen.post('kitchen', `/v1/batches/${batchId}/recorded-inputs`, pot);
  const { sites, byUnit } = await account();
  const lineOf = (siteId: string, lotId: string): Json =>
    sites.find((site: Json) => site.siteId === siteId).lines.find((line: Json) => line.lotId === lotId);
  // six were said to go back, two have left: the four that stand there are covered, and no more
  expect(lineOf(ward(2).siteId, packs)).toMatchObject({ onHand: 4, typed: { returned: 6 }, open: 0 });
  // three found in the kitchen; the two on the road to it are not
  expect(lineOf(world.ckId, packs)).toMatchObject({ onHand: 3, inTransit: 2, open: 2 });
  expect(lineOf(world.ckId, stew)).toMatchObject({ onHand: 800, inProcess: 100, toType: 900, open: 0 });
  expect(byUnit[0]).toMatchObject({
    unit: 'g',
    produced: 18_400,
    consumedInScope: 17_500,
    inProcess: 100,
    onHand: 800,
  });
  const { events } = await kitchen.get('quality', `/v1/recalls/${recallId}/timeline`);
  expect(events.at(-1)).toMatchObject({ kind: 'exception', siteId: world.ckId });
  // in the pot it is in no place: the answer about it is a statement, and moves nothing
  const gone = { lotId: stew, outcome: 'destroyed', quantity: 100, unit: 'g', witness: 'Tilda Rowe' };
  const said = await say(world.ckId, [gone, { lotId: stew, outcome: 'found', quantity: 800, unit: 'g' }]);
  expect(said.body.lines[0].entryId).toBeNull();
  expect(said.body.account.lines.find((line: Json) => line.lotId === stew)).toMatchObject({ onHand: 800, open: 0 });
});

test('a case whose hold was lifted is not opened again: it would freeze nothing', async () => {
  const lotId = await kitchen.shin(1_000);
  const opened = await kitchen.post('quality', '/v1/recalls', {
    title: 'False alarm',
    starts: [{ kind: 'lot', lotId }],
  });
  const path = `/v1/recalls/${opened.recallId}`;
  const lines = [{ lotId, outcome: 'found', quantity: 1_000, unit: 'g' }];
  await kitchen.post('kitchen', `${path}/responses`, { siteId: world.ckId, signedBy: 'Sam Dale', lines });
  await kitchen.post('quality', `${path}/closing`, { note: 'It was another supplier', liftHold: true });
  expect((await kitchen.get('quality', `/v1/holds?lotId=${lotId}&open=true`)).items).toEqual([]);
  const again = await service.as('quality').post(`${path}/reopening`, fresh({ note: 'Or was it?' }));
  expect([again.status, again.body.code]).toEqual([409, 'wrong-state']);
});

test('a drill records nothing, and is in the history with its times', async () => {
  minutes(50);
  const drill = await kitchen.post('quality', '/v1/recalls', { title: 'Spring drill', drill: true, starts: [START] });
  const before = await kitchen.get('quality', `/v1/lots/${packs}/history`);
  const path = `/v1/recalls/${drill.recallId}`;
  const noticeId = derivedId(`recall-notice-1-${world.w3Id}`, drill.recallId);
  const { text } = (await service.as('receiver', world.w3Id).get(`/v1/recall-notices/${noticeId}`)).body;
  expect(text).toMatch(/^DRILL\./);
  minutes(57);
  await kitchen.post('receiver', `/v1/recall-notices/${noticeId}/acknowledgement`, { name: 'Nadia Frost' });
  const lines = [ofPacks('destroyed', 4, { placeId: ward(0).chillerId, witness: 'Omar Bell' })];
  const said = await kitchen.post('receiver', `${path}/responses`, {
    siteId: world.w3Id,
    signedBy: 'Nadia Frost',
    lines,
  });
  expect(said).toMatchObject({ lines: [{ entryId: null }], account: { lines: [{ onHand: 4, open: 0 }] } });
  expect(await kitchen.get('quality', `/v1/lots/${packs}/history`)).toEqual(before);
  const { drills } = await kitchen.get('quality', '/v1/recall-drills');
  expect(drills).toHaveLength(1);
  expect(drills[0]).toMatchObject({
    code: 'DR-0001',
    sites: 5,
    lotCount: 3,
    slowestAcknowledgementMinutes: null,
    closedAt: null,
  });
  expect(drills[0].acknowledgements.find((one: Json) => one.siteId === world.w3Id).minutes).toBe(7);
});
