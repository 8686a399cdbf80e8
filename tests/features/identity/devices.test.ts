import pg from 'pg';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { exampleId } from '../../../src/platform/ids.ts';
import { startService, type Client, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let admin: Client;

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  admin = service.as('admin');
});
afterAll(() => service.stop());

async function addDevice(name: string): Promise<string> {
  const id = exampleId(`device/${name}`);
  const added = await admin.post('/v1/devices', { id, name, siteId: world.w3Id });
  expect([added.status, added.body]).toEqual([
    201,
    { deviceId: id, name, siteId: world.w3Id, active: true, version: 1 },
  ]);
  return id;
}

async function tokenOf(deviceId: string): Promise<string> {
  const made = await admin.post(`/v1/devices/${deviceId}/token`);
  expect(made.status).toBe(200);
  return made.body.deviceToken;
}

const signIn = (deviceToken: string) => service.anonymous.post('/v1/device-sign-ins', { deviceToken });

test('a device signs in with its token and acts at its own site only', async () => {
  const deviceId = await addDevice('scanner');
  const deviceToken = await tokenOf(deviceId);
  expect(deviceToken.startsWith(`std.${service.groupId}.${deviceId}.`)).toBe(true);
  const signedIn = await signIn(deviceToken);
  expect(signedIn.body).toMatchObject({
    tokenType: 'Bearer',
    device: { deviceId, name: 'scanner', siteId: world.w3Id },
  });
  const device = service.bearer(signedIn.body.accessToken);
  expect((await device.get('/v1/me')).body).toMatchObject({
    kind: 'device',
    name: 'scanner',
    grants: [{ role: 'device', siteId: world.w3Id }],
  });
  expect((await device.get(`/v1/places/${world.w3ChillerId}`)).status).toBe(200);
  expect((await device.get(`/v1/places/${world.ckChillerId}`)).status).toBe(404);
});

test('a new token ends the one before; a device that is let in no more fails like a wrong token', async () => {
  const deviceId = await addDevice('tablet');
  const first = await tokenOf(deviceId);
  const second = await tokenOf(deviceId);
  expect((await signIn(first)).body.code).toBe('sign-in-failed');
  expect((await signIn(second)).status).toBe(200);
  await admin.patch(`/v1/devices/${deviceId}`, { active: false }, { 'if-match': '"v1"' });
  expect((await signIn(second)).body.code).toBe('sign-in-failed');
});

test('whatever is no token of ours fails in the same words', async () => {
  const deviceId = await addDevice('logger');
  const token = `std.${service.groupId}.${deviceId}.${'A'.repeat(43)}`;
  const tries = [
    'rubbish',
    'std...',
    token, // no token has been made yet
    token.replace(deviceId, exampleId('device/none')),
    token.replace(service.groupId, exampleId('no group')),
    `${token}.more`,
  ];
  const words = [];
  for (const text of tries) {
    const { status, body } = await signIn(text);
    words.push({ status, code: body.code, detail: body.detail });
  }
  expect(words[0]).toMatchObject({ status: 401, code: 'sign-in-failed' });
  for (const said of words) expect(said).toEqual(words[0]);
});

test('only the hash of the secret is kept', async () => {
  const secret = (await tokenOf(await addDevice('hashed'))).split('.')[3] ?? '';
  expect(secret).toHaveLength(43); // 32 random bytes in base64url
  const client = new pg.Client(service.databaseUrl);
  await client.connect();
  try {
    for (const table of ['device', 'fact', 'outbox']) {
      const found = await client.query(`select 1 from ${table} t where t::text like '%' || $1 || '%'`, [secret]);
      expect(found.rowCount, table).toBe(0);
    }
  } finally {
    await client.end();
  }
});

test('devices are listed by site, changed by version, and those of another site are not shown', async () => {
  const deviceId = await addDevice('a-first');
  const path = `/v1/devices/${deviceId}`;
  const atW3 = service.as('admin', world.w3Id);
  const atCk = service.as('admin', world.ckId);
  expect((await atW3.get(`/v1/devices?siteId=${world.w3Id}`)).body.items[0]).toMatchObject({ deviceId });
  expect((await atCk.get('/v1/devices')).body.items).toEqual([]);
  expect((await atCk.get(path)).status).toBe(404);
  expect((await atCk.post(`${path}/token`)).status).toBe(404);
  expect((await atCk.patch(path, { name: 'X' }, { 'if-match': '*' })).status).toBe(404);
  const elsewhere = { id: exampleId('device/elsewhere'), name: 'X', siteId: world.w3Id };
  expect((await atCk.post('/v1/devices', elsewhere)).body.code).toBe('not-found');
  expect((await atW3.patch(path, { name: 'Renamed' }, { 'if-match': '"v1"' })).body).toMatchObject({ version: 2 });
  const seen = await atW3.get(path);
  expect([seen.body.name, seen.headers.etag]).toEqual(['Renamed', '"v2"']);
  expect((await atW3.get(path, { 'if-none-match': '"v2"' })).status).toBe(304);
});
