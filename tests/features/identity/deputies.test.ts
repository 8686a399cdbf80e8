import { randomUUID } from 'node:crypto';
import jwt from 'jsonwebtoken';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { deputyOf, type Actor } from '../../../src/platform/auth/actor.ts';
import { exampleId } from '../../../src/platform/ids.ts';
import { kitchenOf, type Kitchen } from '../../support/kitchen.ts';
import {
  NOON_MS,
  startService,
  TOKEN_ISSUER,
  TOKEN_SECRET,
  type Client,
  type TestService,
} from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const DAY_MS = 24 * HOUR_MS;
const PASSWORD = 'onions-in-the-morning';
const PIN = '2719';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let admin: Client;

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  admin = service.as('admin');
});
afterAll(() => service.stop());
beforeEach(() => service.clock.set(NOON_MS));

const at = (ms: number) => new Date(ms).toISOString();

async function addPerson(signInName: string, more: readonly object[] = []): Promise<string> {
  const id = exampleId(`deputies/${signInName}`);
  const grants = [{ role: 'kitchen', siteId: world.ckId }, ...more];
  const person = { id, name: signInName, signInName, password: PASSWORD, grants };
  expect((await admin.post('/v1/people', person)).status).toBe(201);
  return id;
}

const appointment = (personId: string, more: object = {}) => ({
  id: randomUUID(),
  personId,
  role: 'quality',
  siteId: world.ckId,
  from: at(NOON_MS),
  to: at(NOON_MS + DAY_MS),
  reason: 'The lead is away',
  ...more,
});

async function appoint(personId: string, more: object = {}): Promise<string> {
  const answer = await service.as('quality').post('/v1/deputies', appointment(personId, more));
  expect(answer.status, answer.text).toBe(201);
  return answer.body.deputyId;
}

async function signIn(signInName: string) {
  const answer = await service.anonymous.post('/v1/sign-ins', { group: 'ostermere', signInName, password: PASSWORD });
  expect(answer.status).toBe(200);
  return { ...answer.body, client: service.bearer(answer.body.accessToken) };
}

const batch = async () => (await kitchen.stew(await kitchen.shin(2_000), 1_000, 800)).batchId;
const release = async (client: Client) => client.post(`/v1/batches/${await batch()}/release`, { id: randomUUID() });

describe('appointing', () => {
  test('is answered, read, listed and ended', async () => {
    const personId = await addPerson('listed');
    const deputyId = await appoint(personId);
    const path = `/v1/deputies/${deputyId}`;
    const seen = await service.as('operations').get(path);
    expect(seen.body).toEqual({
      deputyId,
      personId,
      personName: 'listed',
      role: 'quality',
      siteId: world.ckId,
      from: '2026-11-25T12:00:00.000Z',
      to: '2026-11-26T12:00:00.000Z',
      reason: 'The lead is away',
      appointedBy: exampleId('person/quality'),
      appointedAt: '2026-11-25T12:00:00.000Z',
      endedAt: null,
      endedBy: null,
    });
    const everywhere = await appoint(personId, { siteId: null });
    const idsSeen = async (client: Client, query: string) =>
      (await client.get(`/v1/deputies?${query}`)).body.items.map((one: { deputyId: string }) => one.deputyId).sort();
    const both = [deputyId, everywhere].sort();
    expect(await idsSeen(admin, `personId=${personId}`)).toEqual(both);
    expect(await idsSeen(service.as('quality', world.w3Id), `personId=${personId}`)).toEqual([everywhere]);
    expect((await service.as('quality', world.w3Id).get(path)).status).toBe(404);
    const end = { id: randomUUID() };
    const atW3 = service.as('quality', world.w3Id);
    expect((await atW3.post(`${path}/end`, end)).status).toBe(404);
    expect((await atW3.post(`/v1/deputies/${everywhere}/end`, end)).status).toBe(404);
    const ended = await admin.post(`${path}/end`, end);
    expect(ended.body).toMatchObject({ endedAt: '2026-11-25T12:00:00.000Z', endedBy: exampleId('person/admin') });
    expect((await admin.post(`${path}/end`, end)).body).toEqual(ended.body);
    expect((await admin.post(`${path}/end`, { id: randomUUID() })).body.code).toBe('wrong-state');
    expect(await idsSeen(admin, `personId=${personId}&open=true`)).toEqual([everywhere]);
    expect(await idsSeen(admin, `personId=${personId}&open=false`)).toEqual([deputyId]);
    const page = await admin.get(`/v1/deputies?personId=${personId}&limit=1`);
    const next = /<(.*)>; rel="next"/.exec(page.headers.link ?? '')?.[1] ?? '';
    const second = (await admin.get(next)).body;
    expect([page.body.items[0].deputyId, second.items[0].deputyId].sort()).toEqual(both);
    expect(second.nextCursor).toBeNull();
  });

  test('is refused for a bad period, oneself, sites that are not one’s own, and people let in no more', async () => {
    const personId = await addPerson('refused');
    const quality = service.as('quality');
    const code = async (more: object, client = quality) =>
      (await client.post('/v1/deputies', appointment(personId, more))).body.code;
    expect(await code({ to: at(NOON_MS) })).toBe('rule-broken');
    expect(await code({ to: at(NOON_MS + 31 * DAY_MS + 1) })).toBe('rule-broken');
    expect(await code({ from: at(NOON_MS - 6 * MINUTE_MS) })).toBe('rule-broken');
    expect(await code({ to: at(NOON_MS + 31 * DAY_MS) })).toBeUndefined();
    const selfMade = appointment(exampleId('person/admin'));
    expect((await admin.post('/v1/deputies', selfMade)).body.code).toBe('rule-broken');
    const atW3 = service.as('quality', world.w3Id);
    expect(await code({}, atW3)).toBe('not-found');
    expect(await code({ siteId: null }, atW3)).toBe('rule-broken');
    expect(await code({ siteId: world.w3Id }, atW3)).toBeUndefined();
    expect(await code({ siteId: randomUUID() })).toBe('not-found');
    expect(await code({ personId: randomUUID() })).toBe('not-found');
    expect(await code({}, service.as('operations'))).toBe('forbidden');
    await admin.patch(`/v1/people/${personId}`, { active: false }, { 'if-match': '*' });
    expect(await code({})).toBe('rule-broken');
  });
});

describe('the right', () => {
  test('begins with the next sign-in after the start and ends at the end, the token too', async () => {
    const personId = await addPerson('timed');
    const deputyId = await appoint(personId, { from: at(NOON_MS + 10 * MINUTE_MS), to: at(NOON_MS + HOUR_MS) });
    const before = await signIn('timed');
    expect(before.person.grants).toEqual([{ role: 'kitchen', siteId: world.ckId }]);
    service.clock.set(NOON_MS + 10 * MINUTE_MS);
    expect((await release(before.client)).status).toBe(403);
    const during = await signIn('timed');
    const held = { role: 'quality', siteId: world.ckId, deputyId };
    expect(during.person.grants).toEqual([{ role: 'kitchen', siteId: world.ckId }, held]);
    expect(during.expiresInS).toBe(900);
    expect((await during.client.get('/v1/me')).body).toMatchObject({
      grants: [{ role: 'kitchen' }, held],
      device: null,
      deputyFor: [{ deputyId, role: 'quality', siteId: world.ckId, until: '2026-11-25T13:00:00.000Z' }],
    });
    expect((await release(during.client)).status).toBe(201);
    service.clock.set(NOON_MS + HOUR_MS - 5 * MINUTE_MS - 300);
    const last = await signIn('timed');
    expect(last.expiresInS).toBe(301);
    service.clock.set(NOON_MS + HOUR_MS - 1);
    expect((await last.client.get('/v1/me')).status).toBe(200);
    expect((await signIn('timed')).expiresInS).toBe(1);
    service.clock.set(NOON_MS + HOUR_MS);
    expect((await last.client.get('/v1/me')).status).toBe(401);
    expect((await signIn('timed')).person.grants).toHaveLength(1);
  });

  test('is gone at the next sign-in after it was ended', async () => {
    const deputyId = await appoint(await addPerson('ended'));
    const holding = await signIn('ended');
    expect(holding.person.grants).toHaveLength(2);
    await admin.post(`/v1/deputies/${deputyId}/end`, { id: randomUUID() });
    expect((await holding.client.get('/v1/me')).body.deputyFor[0].until).toBe('2026-11-25T12:00:00.000Z');
    expect((await signIn('ended')).person.grants).toHaveLength(1);
  });

  test('is not passed on: a deputy appoints no deputies and ends no appointments', async () => {
    const deputyId = await appoint(await addPerson('vice'), { siteId: null });
    const other = await addPerson('vice-vice');
    const { client } = await signIn('vice');
    expect((await client.post('/v1/deputies', appointment(other))).body.code).toBe('forbidden');
    expect((await client.post(`/v1/deputies/${deputyId}/end`, { id: randomUUID() })).body.code).toBe('forbidden');
  });

  test("on a tablet it is cut to the tablet's site, and elsewhere it neither helps nor shortens the token", async () => {
    const personId = await addPerson('roaming', [{ role: 'receiver', siteId: world.w3Id }]);
    await admin.post(`/v1/people/${personId}/pin`, { id: randomUUID(), pin: PIN });
    const onTablet = async (siteId: string) => {
      const deviceId = randomUUID();
      await admin.post('/v1/devices', { id: deviceId, name: `T ${siteId}`, siteId });
      const { deviceToken } = (await admin.post(`/v1/devices/${deviceId}/token`)).body;
      const { accessToken } = (await service.anonymous.post('/v1/device-sign-ins', { deviceToken })).body;
      const personal = { signInName: 'roaming', pin: PIN };
      return (await service.bearer(accessToken).post('/v1/tablet-sign-ins', { personal })).body;
    };
    const to = at(NOON_MS + 2 * MINUTE_MS);
    const here = await appoint(personId, { to });
    const atCk = await onTablet(world.ckId);
    expect([atCk.expiresInS, atCk.person.grants.at(-1)]).toEqual([
      120,
      { role: 'quality', siteId: world.ckId, deputyId: here },
    ]);
    const atW3 = await onTablet(world.w3Id);
    expect([atW3.expiresInS, atW3.person.grants]).toEqual([900, [{ role: 'receiver', siteId: world.w3Id }]]);
    await appoint(personId, { siteId: null, to: at(NOON_MS + MINUTE_MS) });
    const wide = await onTablet(world.w3Id);
    expect([wide.expiresInS, wide.person.grants.at(-1)]).toMatchObject([60, { role: 'quality', siteId: world.w3Id }]);
  });
});

describe('the record', () => {
  test('says what was done by a deputy’s right, and not what the person could have done anyway', async () => {
    const personId = await addPerson('recorded');
    const deputyId = await appoint(personId, { siteId: null });
    const { client } = await signIn('recorded');
    const released = await release(client);
    expect(released.status).toBe(201);
    expect(released.body.decisions).toMatchObject([{ outcome: 'released', decidedBy: personId, deputyId }]);
    const rejection = { id: randomUUID(), reason: 'Boiled over' };
    const rejected = await client.post(`/v1/batches/${await batch()}/rejection`, rejection);
    expect(rejected.body.decisions).toMatchObject([{ outcome: 'rejected', deputyId }]);
    const lotId = await kitchen.shin(100);
    const hold = await client.post('/v1/holds', { id: randomUUID(), kind: 'quality', lotId, note: 'Smells odd' });
    expect(hold.body).toMatchObject({ placedBy: personId, placedDeputyId: deputyId, liftedDeputyId: null });
    const lift = { id: randomUUID(), note: 'It does not' };
    const lifted = await client.post(`/v1/holds/${hold.body.holdId}/lift`, lift);
    expect(lifted.body).toMatchObject({ liftedBy: personId, liftedDeputyId: deputyId });
    const quality = service.as('quality');
    expect((await quality.get(`/v1/facts/${lift.id}`)).body).toMatchObject({ actorId: personId, deputyId });
    expect((await quality.get(`/v1/facts/${rejection.id}`)).body).toMatchObject({ deputyId, siteId: world.ckId });
    const use = { lotId, placeId: world.ckChillerId, quantity: 1, unit: 'g', occurredAt: at(NOON_MS - HOUR_MS) };
    const used = await client.post('/v1/uses', { id: randomUUID(), ...use });
    expect((await quality.get(`/v1/entries/${used.body.entryId}`)).body).toMatchObject({
      actorId: personId,
      deputyId: null,
    });
    const byLead = await release(quality);
    expect(byLead.body.decisions).toMatchObject([{ deputyId: null }]);
  });

  test('whose right it was', () => {
    const [a, b] = [exampleId('a'), exampleId('b')];
    const actor = (...grants: Actor['grants']): Actor => ({ groupId: a, kind: 'person', actorId: a, grants });
    const held = { role: 'quality', siteId: b, deputyId: 'held-at-b' };
    const heldAll = { role: 'quality', siteId: null, deputyId: 'held-everywhere' };
    const own = { role: 'quality', siteId: a };
    expect(deputyOf(actor(held), 'release.write', b)).toBe('held-at-b');
    expect(deputyOf(actor(own, held), 'release.write', a)).toBeNull();
    expect(deputyOf(actor(own, held), 'release.write', b)).toBe('held-at-b');
    expect(deputyOf(actor(held), 'goods-in.write', b)).toBeNull();
    // What belongs to the whole group: by the own right where any will do, by the wider one where it was held for every site.
    expect(deputyOf(actor(own, held), 'catalogue.write', null)).toBeNull();
    expect(deputyOf(actor(held), 'catalogue.write', null)).toBe('held-at-b');
    expect(deputyOf(actor(own, heldAll), 'holds.write', null)).toBe('held-everywhere');
    expect(deputyOf(actor({ role: 'quality', siteId: null }, heldAll), 'holds.write', null)).toBeNull();
  });
});

test('tokens: a device and an appointment are read from our own, when they are whole', () => {
  const claims = (more: object) => ({
    group: service.groupId,
    kind: 'person',
    grants: [{ role: 'quality', siteId: null, deputyId: exampleId('deputy') }],
    iat: NOON_MS / 1000,
    exp: NOON_MS / 1000 + 60,
    ...more,
  });
  const verify = (more: object) =>
    service.tokens.verify(
      jwt.sign(claims(more), TOKEN_SECRET, {
        header: { alg: 'HS256', typ: 'at+jwt' },
        issuer: TOKEN_ISSUER,
        audience: 'sealtrail',
        subject: exampleId('somebody'),
      }),
      NOON_MS,
    );
  const deviceId = exampleId('device');
  expect(verify({ device: deviceId })).toMatchObject({ deviceId, grants: [{ deputyId: exampleId('deputy') }] });
  expect(verify({})?.deviceId).toBeUndefined();
  expect(verify({ device: 'nowhere' })).toBeNull();
  expect(verify({ device: deviceId, kind: 'device' })).toBeNull();
  expect(verify({ grants: [{ role: 'quality', siteId: null, deputyId: 7 }] })).toBeNull();
});
