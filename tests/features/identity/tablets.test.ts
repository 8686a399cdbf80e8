import { randomUUID } from 'node:crypto';
import pg from 'pg';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { createGroup } from '../../../src/features/identity/index.ts';
import { badgeHashOf, pinFault } from '../../../src/features/identity/pin-rules.ts';
import { exampleId } from '../../../src/platform/ids.ts';
import { kitchenOf, type Kitchen } from '../../support/kitchen.ts';
import { ADMIN_PASSWORD, NOON_MS, startService, type Client, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const MINUTE_MS = 60_000;
const PASSWORD = 'onions-in-the-morning';
const PIN = '2719';
const WRONG = '9999';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let admin: Client;
let tabletId: string;

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  admin = service.as('admin');
  tabletId = await addDevice('tablet-w3', world.w3Id);
});
afterAll(() => service.stop());
beforeEach(() => service.clock.set(NOON_MS));

async function addDevice(name: string, siteId: string): Promise<string> {
  const id = exampleId(`device/${name}`);
  expect((await admin.post('/v1/devices', { id, name, siteId })).status).toBe(201);
  return id;
}

/** The tablet's own client, by its sign-in with its token. */
async function tablet(deviceId: string): Promise<Client> {
  const { deviceToken } = (await admin.post(`/v1/devices/${deviceId}/token`)).body;
  const answer = await service.anonymous.post('/v1/device-sign-ins', { deviceToken });
  expect(answer.status).toBe(200);
  return service.bearer(answer.body.accessToken);
}

async function addPerson(signInName: string, grants: object[], pin: string | null = PIN): Promise<string> {
  const id = exampleId(`tablets/${signInName}`);
  const person = { id, name: signInName, signInName, password: PASSWORD, grants };
  expect((await admin.post('/v1/people', person)).status).toBe(201);
  if (pin !== null)
    expect((await admin.post(`/v1/people/${id}/pin`, { id: randomUUID(), pin })).body).toMatchObject({ hasPin: true });
  return id;
}

const receiver = () => [{ role: 'receiver', siteId: world.w3Id }];
const signIn = (device: Client, personal: object) => device.post('/v1/tablet-sign-ins', { personal });
const byPin = (device: Client, signInName: string, pin = PIN) => signIn(device, { signInName, pin });
const words = ({ status, body }: { status: number; body: Record<string, unknown> }) => {
  const { instance: _instance, ...rest } = body;
  return { status, ...rest };
};

describe('signing in on a tablet', () => {
  test("a person's grants are cut to the tablet's site", async () => {
    const grants = [
      { role: 'quality', siteId: null },
      { role: 'receiver', siteId: world.w3Id },
      { role: 'kitchen', siteId: world.ckId },
    ];
    const personId = await addPerson('everywhere', grants);
    const device = await tablet(tabletId);
    const answer = await byPin(device, 'everywhere');
    const here = [
      { role: 'quality', siteId: world.w3Id },
      { role: 'receiver', siteId: world.w3Id },
    ];
    expect(answer.body).toMatchObject({
      expiresInS: 900,
      person: { personId, name: 'everywhere', grants: here },
      device: { deviceId: tabletId, name: 'tablet-w3', siteId: world.w3Id },
    });
    const person = service.bearer(answer.body.accessToken);
    expect((await person.get(`/v1/places/${world.w3ChillerId}`)).status).toBe(200);
    expect((await person.get(`/v1/places/${world.ckChillerId}`)).status).toBe(404);
    expect((await person.get('/v1/me')).body).toEqual({
      actorId: personId,
      kind: 'person',
      groupId: service.groupId,
      name: 'everywhere',
      grants: here,
      device: { deviceId: tabletId, name: 'tablet-w3', siteId: world.w3Id },
      deputyFor: [],
    });
    // A person's token signs nobody in, and its time is as short as any.
    expect((await byPin(person, 'everywhere')).body.code).toBe('forbidden');
    service.clock.set(NOON_MS + 15 * MINUTE_MS);
    expect((await person.get('/v1/me')).status).toBe(401);
  });

  test('an administrator of every site is one of that site only, and manages no people there', async () => {
    await addPerson('chief', [{ role: 'admin', siteId: null }]);
    const answer = await byPin(await tablet(tabletId), 'chief');
    expect((await service.bearer(answer.body.accessToken).get('/v1/people')).status).toBe(403);
  });

  test('somebody who may do nothing at that site is told so', async () => {
    await addPerson('stranger', [{ role: 'kitchen', siteId: world.ckId }]);
    const answer = await byPin(await tablet(tabletId), 'stranger');
    expect([answer.status, answer.body.code]).toEqual([403, 'forbidden']);
  });

  test('a wrong PIN, an unknown name, a person without PIN, an unknown badge: the same words', async () => {
    const deviceId = await addDevice('tablet-words', world.w3Id);
    const device = await tablet(deviceId);
    await addPerson('worded', receiver());
    await addPerson('pinless', receiver(), null);
    const left = await addPerson('left', receiver());
    await admin.patch(`/v1/people/${left}`, { active: false }, { 'if-match': '*' });
    const answers = [
      await byPin(device, 'worded', WRONG),
      await byPin(device, 'nobody'),
      await byPin(device, 'pinless'),
      await byPin(device, 'left'),
      await signIn(device, { badge: 'NO-SUCH-BADGE' }),
    ];
    expect(words(answers[0] as never)).toMatchObject({ status: 401, code: 'sign-in-failed' });
    for (const answer of answers) expect(words(answer)).toEqual(words(answers[0] as never));
  });

  test('as many statements run whether the person exists or not', async () => {
    const counts: number[] = [];
    const watched = await startService({
      around: (db) => ({
        ...db,
        inGroup: (groupId, mode, fn) =>
          db.inGroup(groupId, mode, async (tx) => {
            const answer = await fn(tx);
            counts.push(tx.statements());
            return answer;
          }),
      }),
    });
    try {
      const there = await buildWorld(watched);
      const chief = watched.as('admin');
      const id = exampleId('device/watched');
      await chief.post('/v1/devices', { id, name: 'watched', siteId: there.w3Id });
      const { deviceToken } = (await chief.post(`/v1/devices/${id}/token`)).body;
      const { accessToken } = (await watched.anonymous.post('/v1/device-sign-ins', { deviceToken })).body;
      await chief.post(`/v1/people/${there.kitchenPersonId}/pin`, { id: randomUUID(), pin: PIN });
      const device = watched.bearer(accessToken);
      counts.length = 0;
      expect((await byPin(device, 'kitchen', WRONG)).status).toBe(401);
      expect((await byPin(device, 'nobody', WRONG)).status).toBe(401);
      expect((await signIn(device, { badge: 'NO-SUCH-BADGE' })).status).toBe(401);
      expect(new Set(counts).size, counts.join()).toBe(1);
    } finally {
      await watched.stop();
    }
  });

  test('a tablet of another group, one that is let in no more, and one that nobody added sign in nobody', async () => {
    await addPerson('wanted', receiver());
    const founder = { personId: randomUUID(), name: 'Ash', signInName: 'admin', password: ADMIN_PASSWORD };
    const other = { code: 'westfold', name: 'Westfold Meals', currency: 'EUR', admin: founder, nowMs: NOON_MS };
    const { groupId } = await createGroup(service.db, other);
    const abroad = service.as('admin', null, groupId);
    const site = { id: randomUUID(), code: 'X', name: 'X', kind: 'satellite', timeZone: 'Europe/London' };
    expect((await abroad.post('/v1/sites', { ...site, jurisdiction: 'GB-ENG' })).status).toBe(201);
    const deviceId = randomUUID();
    await abroad.post('/v1/devices', { id: deviceId, name: 'X', siteId: site.id });
    const { deviceToken } = (await abroad.post(`/v1/devices/${deviceId}/token`)).body;
    const { accessToken } = (await service.anonymous.post('/v1/device-sign-ins', { deviceToken })).body;
    const foreign = await byPin(service.bearer(accessToken), 'wanted');
    const barredId = await addDevice('barred', world.w3Id);
    const barred = await tablet(barredId);
    await admin.patch(`/v1/devices/${barredId}`, { active: false }, { 'if-match': '*' });
    const answers = [foreign, await byPin(barred, 'wanted'), await byPin(service.as('device', world.w3Id), 'wanted')];
    for (const answer of answers) expect([answer.status, answer.body.code]).toEqual([401, 'sign-in-failed']);
  });
});

describe('guessing', () => {
  test('five wrong PINs lock the PIN for 15 minutes, on every tablet; the password stays open', async () => {
    const devices = [
      await tablet(await addDevice('lock-1', world.w3Id)),
      await tablet(await addDevice('lock-2', world.w3Id)),
    ] as const;
    await addPerson('locked', receiver());
    for (let n = 0; n < 5; n += 1) expect((await byPin(devices[0], 'locked', WRONG)).status).toBe(401);
    service.clock.set(NOON_MS + MINUTE_MS);
    const refused = await byPin(devices[1], 'locked');
    expect([refused.status, refused.body.code, refused.headers['retry-after']]).toEqual([
      429,
      'too-many-requests',
      '840',
    ]);
    // A try while it holds does not make it longer.
    service.clock.set(NOON_MS + 14 * MINUTE_MS);
    expect((await byPin(devices[1], 'locked', WRONG)).headers['retry-after']).toBe('60');
    const byPassword = { group: 'ostermere', signInName: 'locked', password: PASSWORD };
    expect((await service.anonymous.post('/v1/sign-ins', byPassword)).status).toBe(200);
    service.clock.set(NOON_MS + 15 * MINUTE_MS);
    expect((await byPin(await tablet(tabletId), 'locked')).status).toBe(200);
  });

  test('20 failures within 15 minutes lock the tablet for everybody, and no longer for tries in between', async () => {
    const deviceId = await addDevice('lock-all', world.w3Id);
    const device = await tablet(deviceId);
    await addPerson('innocent', receiver());
    for (let n = 0; n < 20; n += 1) {
      service.clock.set(NOON_MS + n * 1_000);
      expect((await signIn(device, { badge: `GUESS-${n}` })).status).toBe(401);
    }
    service.clock.set(NOON_MS + MINUTE_MS);
    const refused = await byPin(device, 'innocent');
    expect([refused.status, refused.headers['retry-after']]).toEqual([429, '840']);
    expect((await byPin(await tablet(tabletId), 'innocent')).status).toBe(200);
    service.clock.set(NOON_MS + 14 * MINUTE_MS);
    const again = await tablet(deviceId);
    expect((await byPin(again, 'innocent')).status).toBe(429);
    // The oldest failure no longer counts: one more try, and it is locked until the next does not.
    service.clock.set(NOON_MS + 15 * MINUTE_MS);
    expect((await byPin(again, 'innocent')).status).toBe(200);
    expect((await signIn(again, { badge: 'GUESS-X' })).status).toBe(401);
    expect((await byPin(again, 'innocent')).headers['retry-after']).toBe('1');
  });

  test('tries at the same time are all counted; a new PIN ends the lock', async () => {
    const device = await tablet(await addDevice('hurried', world.w3Id));
    const personId = await addPerson('hurried', receiver());
    const tries = await Promise.all(Array.from({ length: 7 }, () => byPin(device, 'hurried', WRONG)));
    expect(tries.map(({ status }) => status).sort()).toEqual([401, 401, 401, 401, 401, 429, 429]);
    await admin.post(`/v1/people/${personId}/pin`, { id: randomUUID(), pin: '4075' });
    expect((await byPin(device, 'hurried', '4075')).status).toBe(200);
  });
});

describe('badges', () => {
  test('let in alone or only with the PIN, are unique in the group, and can be removed', async () => {
    const device = await tablet(await addDevice('reader', world.w3Id));
    const first = await addPerson('badged', receiver(), null);
    const second = await addPerson('badged-too', receiver());
    const badge = (personId: string, fields: object) =>
      admin.post(`/v1/people/${personId}/badge`, { id: randomUUID(), ...fields });
    const [one, two] = ['04A2B91C5D6E80', '04A2B91C5D6E81'];
    expect((await badge(first, { badge: one })).body).toEqual({
      personId: first,
      hasPin: false,
      hasBadge: true,
      badgeNeedsPin: false,
    });
    expect((await badge(first, { badge: one, needsPin: true })).body.code).toBe('rule-broken');
    expect((await badge(second, { badge: one })).body.code).toBe('code-taken');
    expect((await badge(second, { badge: two, needsPin: true })).status).toBe(201);
    expect((await signIn(device, { badge: one })).body.person.personId).toBe(first);
    expect((await signIn(device, { badge: one, pin: PIN })).status).toBe(401);
    for (let n = 0; n < 6; n += 1) expect((await signIn(device, { badge: two })).status).toBe(401);
    expect((await signIn(device, { badge: two, pin: WRONG })).status).toBe(401);
    // Without its PIN it was no guess at the PIN: that is not locked.
    expect((await signIn(device, { badge: two, pin: PIN })).body.person.personId).toBe(second);
    const removal = `/v1/people/${first}/badge-removals`;
    expect((await admin.post(removal, { id: randomUUID() })).body).toMatchObject({ hasBadge: false });
    expect((await admin.post(removal, { id: randomUUID() })).body.code).toBe('wrong-state');
    expect((await signIn(device, { badge: one })).status).toBe(401);
    expect((await badge(second, { badge: one })).status).toBe(201);
    expect((await signIn(device, { badge: two, pin: PIN })).status).toBe(401);
    expect((await signIn(device, { badge: one })).body.person.personId).toBe(second);
  });

  test('the same badge in another group is kept as something else', () => {
    expect(badgeHashOf(service.groupId, 'A').equals(badgeHashOf(exampleId('another'), 'A'))).toBe(false);
  });
});

describe('PINs', () => {
  test.each(['4444', '000000', '1234', '4321', '7890', '98765432', '1212', '123123', '1987', '2004', '31121987'])(
    '%s is refused',
    (pin) => expect(pinFault(pin, 'somebody')).not.toBeNull(),
  );
  test.each(['2719', '4075', '13570', '27192718', '99121987'])('%s is taken', (pin) =>
    expect(pinFault(pin, 'somebody')).toBeNull(),
  );

  test('set by an administrator: refused when it is guessed first; another administrator of one site may not', async () => {
    const personId = await addPerson('given', receiver(), null);
    const path = `/v1/people/${personId}/pin`;
    const easy = await admin.post(path, { id: randomUUID(), pin: '1234' });
    expect([easy.status, easy.body.code, easy.body.errors[0].pointer]).toEqual([422, 'rule-broken', '#/pin']);
    expect((await admin.post(path, { id: randomUUID(), pin: '123' })).status).toBe(400);
    expect((await service.as('admin', world.w3Id).post(path, { id: randomUUID(), pin: PIN })).status).toBe(403);
  });

  test('set by oneself, with the password, whose wrong tries count', async () => {
    await addPerson('chooser', receiver(), null);
    const byPassword = { group: 'ostermere', signInName: 'chooser', password: PASSWORD };
    const { accessToken } = (await service.anonymous.post('/v1/sign-ins', byPassword)).body;
    const me = service.bearer(accessToken);
    const set = (currentPassword: string, pin = PIN) => me.post('/v1/me/pin', { currentPassword, pin });
    expect((await set(PASSWORD, '8888')).body.code).toBe('rule-broken');
    expect((await set(PASSWORD)).body).toMatchObject({ hasPin: true });
    expect((await byPin(await tablet(tabletId), 'chooser')).status).toBe(200);
    for (let n = 0; n < 5; n += 1) expect((await set('wrong')).body.code).toBe('sign-in-failed');
    expect((await set(PASSWORD)).status).toBe(429);
    // The lock of the password is not one of the PIN.
    expect((await byPin(await tablet(tabletId), 'chooser')).status).toBe(200);
    expect((await service.anonymous.post('/v1/sign-ins', byPassword)).status).toBe(429);
    expect((await service.as('device', world.w3Id).post('/v1/me/pin', {})).status).toBe(400);
  });

  test('neither PIN nor badge is in any table in clear, and a replay does not compare them', async () => {
    const personId = await addPerson('secretive', receiver(), null);
    const [pin, badge] = ['60287314', 'BADGE-7f21c0d9'];
    const pinFact = { id: randomUUID(), pin };
    expect((await admin.post(`/v1/people/${personId}/pin`, pinFact)).status).toBe(201);
    expect((await admin.post(`/v1/people/${personId}/badge`, { id: randomUUID(), badge })).status).toBe(201);
    expect((await admin.post(`/v1/people/${personId}/pin`, { ...pinFact, pin: '51930286' })).status).toBe(201);
    const device = await tablet(tabletId);
    expect((await byPin(device, 'secretive', pin)).status).toBe(200);
    const client = new pg.Client(service.databaseUrl);
    await client.connect();
    try {
      const tables = await client.query<{ name: string }>(
        `select quote_ident(table_name) as name from information_schema.tables
          where table_type = 'BASE TABLE' and table_schema = 'public'`,
      );
      for (const { name } of tables.rows) {
        const found = await client.query(
          `select 1 from ${name} t where t::text like '%' || $1 || '%' or t::text like '%' || $2 || '%'`,
          [pin, badge],
        );
        expect(found.rowCount, name).toBe(0);
      }
      const fact = await client.query<{ content: { pin: string } }>('select content from fact where fact_id = $1', [
        pinFact.id,
      ]);
      expect(fact.rows[0]?.content.pin).toBe('[secret]');
    } finally {
      await client.end();
    }
  });
});

test('the record says on which tablet: requests, observations and scans', async () => {
  const ckTabletId = await addDevice('tablet-ck', world.ckId);
  const personId = await addPerson('cook', [{ role: 'kitchen', siteId: null }]);
  const device = await tablet(ckTabletId);
  const cook = service.bearer((await byPin(device, 'cook')).body.accessToken);
  const lotId = await kitchen.shin(1_000);
  const from = { lotId, unit: 'g', quantity: 100 };
  const move = { id: randomUUID(), ...from, fromPlaceId: world.ckChillerId, toPlaceId: world.ckPrepId };
  const moved = await cook.post('/v1/moves', move);
  expect(moved.status).toBe(201);
  const lot = (await cook.get(`/v1/lots/${lotId}`)).body;
  const scan = {
    id: randomUUID(),
    kind: 'discard',
    code: lot.code,
    occurredAt: '2026-11-25T11:50:00Z',
    placeId: world.ckChillerId,
    quantity: 10,
    reason: 'damaged',
    destination: 'refuse',
  };
  const scans = await cook.post('/v1/scans', { siteId: world.ckId, scans: [scan] });
  expect(scans.body.recorded, scans.text).toBe(1);
  const quality = service.as('quality');
  const signed = { actorId: personId, deviceId: ckTabletId, deputyId: null };
  const scanned = (await quality.get(`/v1/scans/${scan.id}`)).body;
  for (const entryId of [moved.body.entryId, scanned.entryIds[0]]) {
    expect((await quality.get(`/v1/entries/${entryId}`)).body).toMatchObject(signed);
  }
  for (const factId of [move.id, scan.id]) {
    const record = await quality.get(`/v1/facts/${factId}`);
    expect(record.body).toMatchObject({ ...signed, actorName: 'cook', deviceName: 'tablet-ck', siteId: world.ckId });
    expect((await service.as('quality', world.w3Id).get(`/v1/facts/${factId}`)).status).toBe(404);
  }
  // A device by itself is the actor; away from a tablet there is none.
  const alone = { ...scan, id: randomUUID(), quantity: 1 };
  expect((await device.post('/v1/scans', { siteId: world.ckId, scans: [alone] })).body.recorded).toBe(1);
  const byDevice = (await quality.get(`/v1/facts/${alone.id}`)).body;
  expect(byDevice).toMatchObject({ actorId: ckTabletId, actorName: 'tablet-ck', deviceId: null, deviceName: null });
  const [first] = (await quality.get(`/v1/lots/${lotId}/history`)).body.items;
  expect((await quality.get(`/v1/entries/${first.entryId}`)).body).toMatchObject({ deviceId: null, deputyId: null });
});
