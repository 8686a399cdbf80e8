/** Webhooks against a receiver of the test's own; signatures are computed by the specification's own library. */
import { randomUUID } from 'node:crypto';
import { createServer, type IncomingHttpHeaders, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { Webhook as Standard } from 'standardwebhooks';
import { afterAll, beforeAll, beforeEach, expect, test } from 'vitest';
import { webhookJobs } from '../../../src/features/exchange/webhooks/deliver.ts';
import { createLog } from '../../../src/platform/log.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { NOON_MS, startService, type TestService } from '../../support/service.ts';
import { asAdmin } from '../../support/test-server.ts';
import { buildWorld, type World } from '../../support/world.ts';

interface Got {
  readonly path: string;
  readonly headers: IncomingHttpHeaders;
  readonly body: string;
}

let service: TestService;
let world: World;
let kitchen: Kitchen;
let receiver: Server;
let base: string;
let got: Got[] = [];
/** what the receiver answers, by path; nothing: it never answers */
const answers = new Map<string, number | null>();

beforeAll(async () => {
  service = await startService({ webhookAllowPrivate: true });
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  receiver = createServer((req, res) => {
    let body = '';
    req.setEncoding('utf8').on('data', (piece: string) => (body += piece));
    req.on('end', () => {
      const path = req.url ?? '';
      got.push({ path, headers: req.headers, body });
      const status = answers.get(path);
      if (status === null) return;
      res.writeHead(status ?? 204, status === 302 ? { location: `${base}/elsewhere` } : {}).end();
    });
  });
  await new Promise<void>((resolve) => receiver.listen(0, '127.0.0.1', resolve));
  base = `http://127.0.0.1:${(receiver.address() as AddressInfo).port}`;
});
afterAll(async () => {
  receiver.closeAllConnections();
  receiver.close();
  await service.stop();
});
beforeEach(() => {
  got = [];
  answers.clear();
  service.clock.set(NOON_MS);
});

const job = (name: string) =>
  webhookJobs({ ...service, log: createLog('silent'), webhookAllowPrivate: true })
    .find((one) => one.name === name)
    ?.run({ groupId: service.groupId });
const deliver = () => job('deliver-webhooks');
const operations = () => service.as('operations');

async function webhook(path: string, types: string[] | undefined): Promise<{ id: string; secret: string }> {
  const body = { url: base + path, description: 'A receiver', ...(types && { types }) };
  const { webhookId: id } = await kitchen.post('operations', '/v1/webhooks', body);
  const answer = await operations().post(`/v1/webhooks/${id}/secret-rotations`, {});
  if (answer.status !== 200) throw new Error(answer.text);
  const { secret } = answer.body as { secret: string };
  return { id, secret };
}
const off = async (id: string) => {
  const answer = await operations().patch(`/v1/webhooks/${id}`, { enabled: false }, { 'if-match': '*' });
  expect(answer.status, answer.text).toBe(200);
};
const deliveries = async (id: string, query = ''): Promise<Json> =>
  (await operations().get(`/v1/webhooks/${id}/deliveries${query}`)).body.items;
const signed = (one: Got, secret: string) =>
  new Standard(secret).sign(
    String(one.headers['webhook-id']),
    new Date(Number(one.headers['webhook-timestamp']) * 1000),
    one.body,
  );

test('an event arrives as it is in the feed, signed; what is sent again is the same message', async () => {
  const { next } = (await operations().get('/v1/events?after=newest')).body;
  const { id, secret } = await webhook('/first', ['goods-received', 'hold-placed']);
  answers.set('/first', 500);
  const lotId = await kitchen.shin(5_000);
  await deliver();
  service.clock.set(NOON_MS + 5_000);
  answers.set('/first', 200);
  await deliver();
  const { items } = (await operations().get(`/v1/events?after=${next}&types=goods-received`)).body;
  expect(got).toHaveLength(2);
  for (const [at, one] of got.entries()) {
    expect(one.headers['webhook-id']).toBe(items[0].eventId);
    expect(one.headers['webhook-timestamp']).toBe(String(NOON_MS / 1000 + 5 * at));
    expect(one.headers['webhook-signature']).toBe(signed(one, secret));
    const { type, recordedAt: timestamp, data, ...more } = items[0];
    expect(JSON.parse(one.body)).toEqual({ type, timestamp, data: { ...more, ...data } });
    expect(JSON.parse(one.body).data.lotIds).toEqual([lotId]);
  }
  const [told] = await deliveries(id);
  expect(told).toMatchObject({ state: 'delivered', nextAttemptAt: null, eventNo: items[0].eventNo });
  expect(told.attempts.map((one: Json) => [one.attemptNo, one.status])).toEqual([
    [1, 500],
    [2, 200],
  ]);
  await off(id);
});

test('while a secret is changed, both sign; later the new one alone. None is kept in the clear', async () => {
  const { id, secret } = await webhook('/rotating', ['goods-received']);
  const { body } = await operations().post(`/v1/webhooks/${id}/secret-rotations`, { overlapH: 2 });
  expect(body.previousEndsAt).toBe(new Date(NOON_MS + 7_200_000).toISOString());
  await kitchen.shin(1_000);
  await deliver();
  const first = got[0] as Got;
  expect(first.headers['webhook-signature']).toBe(`${signed(first, body.secret)} ${signed(first, secret)}`);
  service.clock.set(NOON_MS + 7_200_001);
  await kitchen.shin(1_000);
  await deliver();
  const second = got[1] as Got;
  expect(second.headers['webhook-signature']).toBe(signed(second, body.secret));
  const kept = await asAdmin(service.databaseUrl, (client) =>
    client.query(
      `select (select string_agg(encode(sealed, 'hex'), ' ') from webhook_secret) as sealed,
              (select string_agg(answer::text || content::text, ' ') from fact) as facts`,
    ),
  );
  for (const one of [secret, body.secret as string]) {
    expect(one).toMatch(/^whsec_[A-Za-z0-9+/]{43}=$/);
    const raw = Buffer.from(one.slice(6), 'base64').toString('hex');
    expect(kept.rows[0].sealed).not.toContain(raw);
    expect(kept.rows[0].sealed).not.toContain(Buffer.from(one.slice(6)).toString('hex'));
    expect(kept.rows[0].facts).not.toContain(one.slice(6));
  }
  await off(id);
});

test('what is not taken is tried by the schedule of the specification, then the webhook is off, and the feed says so', async () => {
  const { id } = await webhook('/down', ['goods-received']);
  answers.set('/down', 302);
  await kitchen.shin(1_000);
  const { next } = (await operations().get('/v1/events?after=newest')).body;
  // The example schedule of the specification, in seconds: 5 s, 5 min, 30 min, 2, 5, 10, 14, 20 and 24 h.
  const waits = [5, 300, 1_800, 7_200, 18_000, 36_000, 50_400, 72_000, 86_400];
  let atMs = NOON_MS;
  await deliver();
  for (const [at, waitS] of waits.entries()) {
    expect(got).toHaveLength(at + 1);
    expect((await deliveries(id))[0].nextAttemptAt).toBe(new Date(atMs + waitS * 1000).toISOString());
    service.clock.set(atMs + waitS * 1000 - 1);
    await deliver();
    expect(got).toHaveLength(at + 1);
    atMs += waitS * 1000;
    service.clock.set(atMs);
    await deliver();
  }
  expect(got.map((one) => one.path)).toEqual(Array.from({ length: 10 }, () => '/down'));
  expect((atMs - NOON_MS) / 86_400_000).toBeGreaterThan(3);
  expect((await deliveries(id))[0]).toMatchObject({ state: 'given-up', nextAttemptAt: null });
  const now = (await operations().get(`/v1/webhooks/${id}`)).body;
  expect(now).toMatchObject({ state: 'disabled', disabledReason: expect.stringMatching(/10 attempts/) });
  const { items } = (await operations().get(`/v1/events?after=${next}&types=webhook-disabled`)).body;
  expect(items).toMatchObject([{ href: `/v1/webhooks/${id}`, data: { webhookId: id, reason: now.disabledReason } }]);
});

test('410 ends it at once; switched on again it goes on where it was, and nothing is lost', async () => {
  const { id } = await webhook('/gone', ['goods-received']);
  answers.set('/gone', 410);
  await kitchen.shin(1_000);
  await deliver();
  const stopped = (await operations().get(`/v1/webhooks/${id}`)).body;
  expect(stopped).toMatchObject({ state: 'disabled', disabledReason: expect.stringMatching(/410/) });
  await kitchen.shin(2_000);
  await kitchen.shin(3_000);
  await deliver();
  expect(got).toHaveLength(1);
  answers.set('/gone', 202);
  const changed = await operations().patch(`/v1/webhooks/${id}`, { enabled: true }, { 'if-match': '*' });
  expect(changed.body).toMatchObject({ state: 'enabled', disabledReason: null });
  await deliver();
  expect(got).toHaveLength(3);
  // All three again, the one that was refused as well, under the ids that they had.
  const before = got.map((one) => one.headers['webhook-id']);
  got = [];
  const replay = await operations().post(`/v1/webhooks/${id}/replays`, {
    id: randomUUID(),
    after: stopped.upTo - 3 + '',
  });
  expect(replay.status, replay.text).toBe(201);
  await deliver();
  expect(got.map((one) => one.headers['webhook-id'])).toEqual(expect.arrayContaining(before.slice(1)));
  expect(got).toHaveLength(replay.body.deliveries);
  await off(id);
});

test('one that never answers keeps no other waiting, and two processes send nothing twice', async () => {
  const slow = await webhook('/slow', ['goods-received']);
  const quick = await webhook('/quick', ['goods-received']);
  answers.set('/slow', null);
  for (let n = 1; n <= 12; n += 1) await kitchen.shin(n);
  const running = Promise.all([deliver(), deliver()]);
  await expect.poll(() => got.filter((one) => one.path === '/quick').length, { timeout: 5_000 }).toBe(12);
  const ids = got.filter((one) => one.path === '/quick').map((one) => one.headers['webhook-id']);
  expect(new Set(ids).size).toBe(12);
  receiver.closeAllConnections();
  answers.set('/slow', 200);
  await running;
  const [first] = (await deliveries(slow.id)).slice(-1);
  expect(first.attempts[0]).toMatchObject({ status: null, problem: 'no connection' });
  await off(slow.id);
  await off(quick.id);
}, 30_000);

test('a test is sent once, also when the webhook is off; who sees what', async () => {
  const { id, secret } = await webhook('/test', undefined);
  await off(id);
  answers.set('/test', 500);
  const sent = await operations().post(`/v1/webhooks/${id}/tests`, { id: randomUUID() });
  expect(sent.status, sent.text).toBe(201);
  await deliver();
  const one = got[0] as Got;
  expect(JSON.parse(one.body)).toEqual({
    type: 'webhook-test',
    timestamp: new Date(NOON_MS).toISOString(),
    data: { webhookId: id },
  });
  expect(one.headers['webhook-signature']).toBe(signed(one, secret));
  expect((await deliveries(id))[0]).toMatchObject({ eventNo: null, state: 'given-up' });
  // One of a site tells of that site alone, and its people do not see that of the whole group.
  const ward = service.as('operations', world.w3Id);
  expect((await ward.get(`/v1/webhooks/${id}`)).status).toBe(404);
  expect((await ward.post(`/v1/webhooks/${id}/secret-rotations`, {})).status).toBe(404);
  const own = await ward.post('/v1/webhooks', { id: randomUUID(), url: `${base}/ward`, description: 'Ward' });
  expect(own.body.siteIds).toEqual([world.w3Id]);
  await ward.post(`/v1/webhooks/${own.body.webhookId}/secret-rotations`, {});
  await kitchen.shin(4_000);
  await deliver();
  expect(got.filter((other) => other.path === '/ward')).toEqual([]);
  expect((await service.as('kitchen').get('/v1/webhooks')).status).toBe(403);
  await off(own.body.webhookId);
});
