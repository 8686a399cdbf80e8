import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { exampleId } from '../../../src/platform/ids.ts';
import { ADMIN_PASSWORD, NOON_MS, startService, type TestService } from '../../support/service.ts';

const MINUTE_MS = 60_000;
let service: TestService;

beforeAll(async () => {
  service = await startService();
});
afterAll(() => service.stop());
beforeEach(() => service.clock.set(NOON_MS));

const signIn = (signInName: string, password: string, group = 'ostermere') =>
  service.anonymous.post('/v1/sign-ins', { group, signInName, password });

async function addPerson(signInName: string, password = 'onions-in-the-morning', more: object = {}) {
  const id = exampleId(`test/${signInName}`);
  const grants = [{ role: 'kitchen', siteId: null }];
  const answer = await service
    .as('admin')
    .post('/v1/people', { id, name: 'Kim Lowe', signInName, password, grants, ...more });
  expect(answer.status).toBe(201);
  return id;
}

describe('signing in', () => {
  test('gives a token that works, and says who one is', async () => {
    const answer = await signIn('admin', ADMIN_PASSWORD);
    expect(answer.status).toBe(200);
    expect(answer.body).toMatchObject({
      tokenType: 'Bearer',
      expiresInS: 900,
      person: { personId: exampleId('person/admin'), name: 'Alex Reed', grants: [{ role: 'admin', siteId: null }] },
    });
    expect(answer.headers['cache-control']).toBe('no-store');
    const me = await service.bearer(answer.body.accessToken).get('/v1/me');
    expect(me.body).toEqual({
      actorId: exampleId('person/admin'),
      kind: 'person',
      groupId: service.groupId,
      name: 'Alex Reed',
      grants: [{ role: 'admin', siteId: null }],
      device: null,
      deputyFor: [],
    });
    service.clock.set(NOON_MS + 15 * MINUTE_MS);
    expect((await service.bearer(answer.body.accessToken).get('/v1/me')).status).toBe(401);
  });

  test('a wrong password, an unknown name and an unknown group read the same', async () => {
    const answers = [
      await signIn('admin', 'wrong'),
      await signIn('nobody', ADMIN_PASSWORD),
      await signIn('admin', ADMIN_PASSWORD, 'elsewhere'),
    ];
    const words = answers.map(({ status, body: { instance: _instance, ...rest } }) => ({ status, ...rest }));
    expect(words[0]).toMatchObject({ status: 401, code: 'sign-in-failed' });
    expect(words[1]).toEqual(words[0]);
    expect(words[2]).toEqual(words[0]);
    expect((await signIn('admin', ADMIN_PASSWORD)).status).toBe(200);
  });

  test('a person let in no more reads the same as a wrong password', async () => {
    const id = await addPerson('leaver');
    expect((await signIn('leaver', 'onions-in-the-morning')).status).toBe(200);
    const changed = await service.as('admin').patch(`/v1/people/${id}`, { active: false }, { 'if-match': '"v1"' });
    expect(changed.status).toBe(200);
    expect((await signIn('leaver', 'onions-in-the-morning')).body.code).toBe('sign-in-failed');
  });

  test('five wrong passwords in a row lock the name for 15 minutes, also against the right one', async () => {
    await addPerson('locked');
    for (let tries = 0; tries < 5; tries += 1) expect((await signIn('locked', `wrong ${tries}`)).status).toBe(401);
    service.clock.set(NOON_MS + MINUTE_MS);
    const locked = await signIn('locked', 'onions-in-the-morning');
    expect([locked.status, locked.body.code, locked.headers['retry-after']]).toEqual([429, 'too-many-requests', '840']);
    service.clock.set(NOON_MS + 15 * MINUTE_MS);
    expect((await signIn('locked', 'wrong again')).status).toBe(401);
    expect((await signIn('locked', 'onions-in-the-morning')).status).toBe(200);
  });

  test('tries at the same time are all counted', async () => {
    await addPerson('hurried');
    const tries = await Promise.all(Array.from({ length: 7 }, (_, n) => signIn('hurried', `wrong ${n}`)));
    expect(tries.map(({ status }) => status).sort()).toEqual([401, 401, 401, 401, 401, 429, 429]);
  });

  test('a right password starts the count again, and so does a new one', async () => {
    const id = await addPerson('forgetful');
    for (const wrong of ['a', 'b', 'c', 'd']) expect((await signIn('forgetful', wrong)).status).toBe(401);
    expect((await signIn('forgetful', 'onions-in-the-morning')).status).toBe(200);
    for (const wrong of ['a', 'b', 'c', 'd', 'e']) expect((await signIn('forgetful', wrong)).status).toBe(401);
    expect((await signIn('forgetful', 'onions-in-the-morning')).status).toBe(429);
    const admin = service.as('admin');
    await admin.patch(`/v1/people/${id}`, { password: 'leeks-in-the-evening' }, { 'if-match': '"v1"' });
    expect((await signIn('forgetful', 'onions-in-the-morning')).status).toBe(401);
    expect((await signIn('forgetful', 'leeks-in-the-evening')).status).toBe(200);
  });

  test('takes no more than it says', async () => {
    const more = { group: 'ostermere', signInName: 'admin', password: ADMIN_PASSWORD, admin: true };
    const answer = await service.anonymous.post('/v1/sign-ins', more);
    expect([answer.status, answer.body.errors]).toEqual([400, [{ detail: 'unknown field', pointer: '#/admin' }]]);
  });
});
