/** Closing a month, its checks and its reopening over HTTP. Every number follows from what the test records here. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type Answer, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let openBatchId: string;
let lotId: string;

const ALL = ['open-batches', 'unreceived-dispatches', 'negative-balances', 'uncosted-lots'].map((check) => ({
  check,
  reason: 'Talked through',
}));

beforeAll(async () => {
  service = await startService({ nowMs: Date.parse('2026-09-10T08:00:00Z') });
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  await kitchen.shin(5_000);
  service.clock.set(Date.parse('2026-10-05T08:00:00Z'));
  lotId = await kitchen.shin(10_000);
  const batch = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: world.recipeId });
  openBatchId = batch.batchId;
  const used = { lotId, placeId: world.ckChillerId, quantity: 12_000, unit: 'g' };
  await kitchen.post('kitchen', '/v1/uses', { ...used, occurredAt: '2026-10-05T07:00:00Z' });
  const line = { lotId: await kitchen.shin(4_000), placeId: world.ckChillerId, quantity: 1_000, unit: 'g' };
  const plan = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines: [line] };
  const dispatch = await kitchen.post('kitchen', '/v1/dispatches', plan);
  await kitchen.post('kitchen', `/v1/dispatches/${dispatch.dispatchId}/departure`, {});
  const counted = { lotId: line.lotId, quantity: 2_900, unit: 'g' };
  const count = { placeId: world.ckChillerId, occurredAt: '2026-10-06T07:00:00Z', lines: [counted] };
  service.clock.set(Date.parse('2026-10-06T08:00:00Z'));
  await kitchen.post('kitchen', '/v1/stock-counts', count);
});
afterAll(() => service.stop());

const finance = () => service.as('finance');
const close = (month: string, more: object = {}): Promise<Answer> =>
  finance().post('/v1/month-closes', { id: randomUUID(), month, ...more });
const said = (answer: Answer) => [answer.status, answer.body.code ?? null];
const checksOf = async (month: string): Promise<Map<string, Json>> => {
  const { checks } = await kitchen.get('finance', `/v1/months/${month}/checks`);
  return new Map(checks.map((check: Json) => [check.check, check]));
};

test('the month has to have ended at every site, by its own clock', async () => {
  // London is at summer time until 25 October, so the end of September there is 23:00 UTC.
  service.clock.set(Date.parse('2026-09-30T22:59:59Z'));
  expect(said(await close('2026-09'))).toEqual([409, 'month-not-ended']);
  service.clock.set(Date.parse('2026-10-31T23:59:59Z'));
  expect(said(await close('2026-10', { accept: ALL }))).toEqual([409, 'month-not-ended']);
  service.clock.set(Date.parse('2026-11-01T00:00:00Z'));
});

test('checks of a month say what to do, and only about what was there by its end', async () => {
  const october = await checksOf('2026-10');
  expect(october.get('open-batches')).toMatchObject({ count: 1, blocking: true });
  expect(october.get('open-batches').list[0]).toMatchObject({ href: `/v1/batches/${openBatchId}`, siteId: world.ckId });
  expect(october.get('unreceived-dispatches')).toMatchObject({ count: 1, blocking: true });
  // 12 kg used of 10 kg
  expect(october.get('negative-balances')).toMatchObject({
    count: 1,
    blocking: true,
    list: [{ quantity: -2_000, unit: 'g', href: `/v1/findings?kind=shortfall&lotId=${lotId}` }],
  });
  // 4 kg less 1 kg sent is 3 kg; 2.9 kg were counted
  expect(october.get('unexplained')).toMatchObject({
    count: 1,
    blocking: false,
    list: [{ quantity: -100, unit: 'g' }],
  });
  // two lots of shin in October and one of September that stands, each without a price
  expect(october.get('uncosted-lots')).toMatchObject({ count: 3, blocking: true });
  const september = await checksOf('2026-09');
  for (const check of ['open-batches', 'unreceived-dispatches', 'negative-balances', 'unexplained']) {
    expect(september.get(check), check).toMatchObject({ count: 0, blocking: false, list: [] });
  }
});

test('open checks stop the close until each is accepted with a reason', async () => {
  const refused = await close('2026-10', { accept: ALL.slice(0, 2) });
  expect(said(refused)).toEqual([409, 'checks-open']);
  expect(refused.body.checks.map((check: Json) => check.check)).toContain('negative-balances');
  expect(refused.body.checks.map((check: Json) => check.check)).not.toContain('open-batches');
  expect(said(await close('2026-10', { accept: [{ check: 'open-batches' }] }))).toEqual([400, 'invalid-request']);
});

test('months are closed one after the other, once, and reopened by two people', async () => {
  expect(said(await close('2026-07', { accept: ALL }))).toEqual([422, 'rule-broken']);
  const first = await close('2026-09', { accept: ALL, note: 'The first' });
  expect(first.status, first.text).toBe(201);
  expect(first.body).toMatchObject({ month: '2026-09', version: 1, counts: true, note: 'The first' });
  expect(said(await close('2026-09', { accept: ALL }))).toEqual([409, 'month-closed']);
  expect(said(await close('2026-08', { accept: ALL }))).toEqual([409, 'month-closed']);
  service.clock.set(Date.parse('2026-12-01T00:00:00Z'));
  expect(said(await close('2026-11', { accept: ALL }))).toEqual([409, 'month-not-oldest']);
  const second = await close('2026-10', { accept: ALL });
  expect(second.status, second.text).toBe(201);
  expect(second.body.accepted.map((one: Json) => one.check).slice(0, 3)).toEqual(
    ALL.slice(0, 3).map((one) => one.check),
  );
  expect(second.body.cut.moneyNo).toBe(first.body.cut.moneyNo + 1);

  const ask = (closeId: string) =>
    finance().post(`/v1/month-closes/${closeId}/reopenings`, {
      id: randomUUID(),
      reason: 'The dairy sent one invoice',
    });
  expect(said(await ask(first.body.closeId))).toEqual([409, 'wrong-state']);
  const asked = await ask(second.body.closeId);
  expect(asked.body).toMatchObject({ state: 'asked', month: '2026-10', confirmedBy: null });
  const confirm = (role: string) =>
    service.as(role).post(`/v1/month-reopenings/${asked.body.reopeningId}/confirmations`, { id: randomUUID() });
  expect(said(await confirm('finance'))).toEqual([403, 'two-people-needed']);
  expect((await kitchen.get('finance', `/v1/month-closes/${second.body.closeId}`)).counts).toBe(true);
  expect((await confirm('operations')).body).toMatchObject({ state: 'confirmed' });
  expect(said(await confirm('operations'))).toEqual([409, 'wrong-state']);
  expect(said(await ask(second.body.closeId))).toEqual([409, 'wrong-state']);

  const again = await close('2026-10', { accept: ALL });
  expect(again.body).toMatchObject({ version: 2, counts: true });
  const { items } = await kitchen.get('finance', '/v1/month-closes');
  expect(items.map((one: Json) => [one.month, one.version, one.counts])).toEqual([
    ['2026-10', 2, true],
    ['2026-10', 1, false],
    ['2026-09', 1, true],
  ]);
  const pages = await kitchen.get('finance', '/v1/month-closes?limit=2');
  const rest = await kitchen.get('finance', `/v1/month-closes?limit=2&cursor=${pages.nextCursor}`);
  expect([...pages.items, ...rest.items]).toEqual(items);
});

test('a month is for those who act for the whole group', async () => {
  const chef = service.as('finance', world.ckId);
  expect(said(await chef.get('/v1/month-closes'))).toEqual([403, 'forbidden']);
  expect(said(await chef.get('/v1/months/2026-10/checks'))).toEqual([403, 'forbidden']);
  const asked = await chef.post('/v1/month-closes', { id: randomUUID(), month: '2026-11' });
  expect(said(asked)).toEqual([403, 'forbidden']);
});
