/**
 * The feed under real writers: whoever reads on from a cursor gets every committed fact once. What is right is counted in the tables by
 * SQL of the test's own: the entries and rows of the outbox that are committed.
 */
import { randomUUID } from 'node:crypto';
import { setTimeout as pause } from 'node:timers/promises';
import pg from 'pg';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { feedJobsOf, readFeed, sourcesOf, readStream } from './readers.ts';
import { kitchenOf, type Kitchen } from '../../support/kitchen.ts';
import { NOON_MS, startService, type TestService } from '../../support/service.ts';
import { asAdmin } from '../../support/test-server.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
});
afterAll(() => service.stop());

const insertRow = (client: pg.Client, topic: string) =>
  client.query<{ id: string }>(
    `insert into outbox (group_id, topic, payload, created_at) values ($1, $2, $3, now()) returning outbox_id as id`,
    [service.groupId, topic, JSON.stringify({ webhookId: randomUUID(), reason: 'a test' })],
  );

test('what is inserted first and committed last is not missed, as it would be by numbers taken at insert', async () => {
  const slow = new pg.Client(service.databaseUrl);
  const quick = new pg.Client(service.databaseUrl);
  await Promise.all([slow.connect(), quick.connect()]);
  try {
    await slow.query('begin');
    const early = Number((await insertRow(slow, 'webhook-disabled')).rows[0]?.id);
    const late = Number((await insertRow(quick, 'webhook-disabled')).rows[0]?.id);
    expect(late).toBeGreaterThan(early);
    const operations = service.as('operations');
    const first = (await operations.get('/v1/events?types=webhook-disabled')).body;
    expect(first.items).toHaveLength(1);
    // A reader by the number of the insert goes on from the highest it saw ...
    const seen = await quick.query('select max(outbox_id) as id from outbox where group_id = $1', [service.groupId]);
    await slow.query('commit');
    const naive = await quick.query('select from outbox where group_id = $1 and outbox_id > $2', [
      service.groupId,
      seen.rows[0].id,
    ]);
    // ... and never sees this one. A reader of the feed does.
    expect(naive.rowCount).toBe(0);
    const second = (await operations.get(`/v1/events?types=webhook-disabled&after=${first.next}`)).body;
    expect(second.items).toHaveLength(1);
    expect(second.items[0].eventNo).toBeGreaterThan(first.items[0].eventNo);
    const third = (await operations.get(`/v1/events?after=${second.next}`)).body;
    expect(third).toMatchObject({ items: [], next: second.next, more: false, newest: second.next });
  } finally {
    await Promise.all([slow.end(), quick.end()]);
  }
});

test('readers of three kinds under concurrent writers miss nothing and get nothing twice', async () => {
  const lotId = await kitchen.shin(900_000);
  const stop = { writing: true };
  const operations = service.as('operations');
  const token = service.tokens.sign(
    { groupId: service.groupId, kind: 'person', actorId: randomUUID(), grants: [{ role: 'operations', siteId: null }] },
    service.clock.nowMs(),
  );
  const done = () => !stop.writing;
  const readers = [
    readFeed(operations, 'limit=7', done),
    readFeed(operations, 'limit=500', done),
    readFeed(operations, 'limit=100&waitS=1', done),
    readStream(service.url, token, done),
    readStream(service.url, token, done),
  ];
  // Transactions that insert at once and commit, or not, in an order of their own ...
  const odd = async (seed: number) => {
    const client = new pg.Client(service.databaseUrl);
    await client.connect();
    for (let n = 0; n < 25; n += 1) {
      await client.query('begin');
      await insertRow(client, 'webhook-disabled');
      await client.query('select pg_sleep($1)', [((n * 7 + seed * 13) % 11) / 200]);
      await client.query(n % 6 === 5 ? 'rollback' : 'commit');
    }
    await client.end();
  };
  // ... and the service's own: entries and what goes with them.
  const cook = async () => {
    for (let n = 0; n < 6; n += 1) {
      await kitchen.shin(1_000 + n);
      const hold = await kitchen.post('quality', '/v1/holds', { lotId, kind: 'quality', note: 'Smells' });
      await kitchen.post('quality', `/v1/holds/${hold.holdId}/lift`, { note: 'It was the drain' });
    }
  };
  await Promise.all([odd(1), odd(2), odd(3), odd(4), cook(), cook(), cook()]);
  stop.writing = false;
  const read = await Promise.all(readers);

  const sources = await sourcesOf(service);
  expect(sources.length).toBeGreaterThan(150);
  const nos = sources.map((row) => row.eventNo);
  expect(nos, 'gapless').toEqual(nos.map((_, at) => at + 1));
  for (const one of read) expect(one, 'each once, in order').toEqual(nos);
  // Held against the tables: every committed entry, every row of the outbox; a row of holds has an event for each.
  const wanted = await asAdmin(service.databaseUrl, (client) =>
    client.query<{ source: string }>(
      `select 'entry|' || seq as source from entry where group_id = $1
       union all
       select 'outbox|' || o.outbox_id || '|' || part
         from outbox o
         cross join generate_series(0, case when o.payload ? 'holdIds' then jsonb_array_length(o.payload->'holdIds') else 1 end - 1) part
        where o.group_id = $1`,
      [service.groupId],
    ),
  );
  expect(sources.map((row) => row.source).sort()).toEqual(wanted.rows.map((row) => row.source).sort());
}, 60_000);

test('an event says what and where, never who; a filter moves on past what it leaves out', async () => {
  const start = (await service.as('operations').get('/v1/events?after=newest')).body;
  expect(start.items).toEqual([]);
  const lotId = await kitchen.shin(5_000);
  const held = await kitchen.post('quality', '/v1/holds', { lotId, kind: 'quality', note: 'Asked Sam Dale' });
  const { body } = await service.as('operations').get(`/v1/events?after=${start.next}`);
  const types = body.items.map((one: { type: string }) => one.type);
  expect(types).toEqual(['goods-received', 'lots-born', 'hold-placed']);
  const lot = await kitchen.get('quality', `/v1/lots/${lotId}`);
  expect(body.items[2]).toMatchObject({
    siteIds: [world.ckId],
    href: `/v1/holds/${held.holdId}`,
    data: { holdId: held.holdId, holdKind: 'quality', lotId, lotCode: lot.code, propagates: true },
  });
  expect(JSON.stringify(body)).not.toContain('Sam Dale');
  expect((await service.as('quality').get(body.items[0].href)).status).toBe(200);

  const filtered = (await service.as('operations').get(`/v1/events?after=${start.next}&types=recall-opened`)).body;
  expect(filtered).toMatchObject({ items: [], next: body.next });
  // At the ward nothing of this happened; at the kitchen all of it did.
  const ward = (await service.as('quality', world.w3Id).get(`/v1/events?after=${start.next}`)).body;
  expect(ward).toMatchObject({ items: [], next: body.next });
  const here = (await service.as('quality', world.ckId).get(`/v1/events?after=${start.next}`)).body;
  expect(here.items).toEqual(body.items);
});

test('a long poll answers as soon as there is something, and says so when there is nothing', async () => {
  const operations = service.as('operations');
  const { next } = (await operations.get('/v1/events?after=newest')).body;
  const waiting = operations.get(`/v1/events?after=${next}&waitS=20`);
  await pause(300);
  await kitchen.shin(2_000);
  expect((await waiting).body.items[0].type).toBe('goods-received');
  const head = await operations.request('HEAD', '/v1/events');
  expect([head.status, head.text]).toEqual([200, '']);
});

test('a stream goes on from Last-Event-ID, whatever its address says', async () => {
  const operations = service.as('operations');
  const headers = { accept: 'text/event-stream', 'last-event-id': '999999999' };
  const refused = await operations.get('/v1/events?after=0', headers);
  expect([refused.status, refused.body.code]).toEqual([400, 'bad-cursor']);
  const odd = await operations.get('/v1/events', { ...headers, 'last-event-id': 'abc' });
  expect(odd.body.code).toBe('bad-cursor');
  const { newest } = (await operations.get('/v1/events?limit=1')).body;
  const token = service.tokens.sign(
    { groupId: service.groupId, kind: 'person', actorId: randomUUID(), grants: [{ role: 'operations', siteId: null }] },
    service.clock.nowMs(),
  );
  const from = String(Number(newest) - 2);
  const nos = await readStream(service.url, token, () => true, { 'last-event-id': from });
  expect(nos).toEqual([Number(newest) - 1, Number(newest)]);
});

test('bad questions are refused', async () => {
  const operations = service.as('operations');
  for (const [query, code] of [
    ['after=-1', 'invalid-request'],
    ['after=1e3', 'invalid-request'],
    ['waitS=26', 'invalid-request'],
    ['limit=0', 'invalid-request'],
    ['types=nothing-like-it', 'rule-broken'],
    ['types=toString', 'rule-broken'],
    ['after=123456789012345', 'bad-cursor'],
    ['since=0', 'invalid-request'],
  ])
    expect((await operations.get(`/v1/events?${query}`)).body.code, query).toBe(code);
  expect((await service.as('kitchen').get('/v1/events')).status).toBe(403);
});

test('events are kept for 400 days; a reader who comes later is told so', async () => {
  const operations = service.as('operations');
  const { newest } = (await operations.get('/v1/events?limit=1')).body;
  service.clock.set(NOON_MS + 401 * 86_400_000);
  await feedJobsOf(service, 'trim-events');
  const gone = await operations.get('/v1/events?after=0');
  expect([gone.status, gone.body.code, gone.body.oldest]).toEqual([410, 'events-gone', newest]);
  expect((await operations.get('/v1/events')).body).toMatchObject({ items: [], next: newest, oldest: newest });
  await kitchen.shin(3_000);
  await feedJobsOf(service, 'number-events');
  const after = (await operations.get(`/v1/events?after=${newest}`)).body;
  expect(after.items[0].eventNo).toBe(Number(newest) + 1);
  service.clock.set(NOON_MS);
});
