import pg from 'pg';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { createGroup } from '../../../src/features/identity/index.ts';
import { exampleId } from '../../../src/platform/ids.ts';
import { ADMIN_PASSWORD, NOON_MS, startService, type Client, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let admin: Client;
const PASSWORD = 'parsnips-by-the-hundred';

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  admin = service.as('admin');
});
afterAll(() => service.stop());

const person = (name: string, more: object = {}) => ({
  id: exampleId(`people/${name}`),
  name: 'Jo Marsh',
  signInName: name,
  password: PASSWORD,
  grants: [{ role: 'receiver', siteId: world.w3Id }],
  ...more,
});

describe('people', () => {
  test('are added, read, listed and changed; no answer holds a password or its hash', async () => {
    const added = await admin.post('/v1/people', person('jo'));
    expect(added.status).toBe(201);
    const path = `/v1/people/${exampleId('people/jo')}`;
    expect([added.headers.location, added.headers.etag]).toEqual([path, '"v1"']);
    expect(added.body).toEqual({
      personId: exampleId('people/jo'),
      name: 'Jo Marsh',
      signInName: 'jo',
      active: true,
      grants: [{ role: 'receiver', siteId: world.w3Id }],
      version: 1,
    });
    expect((await admin.get(path)).body).toEqual(added.body);
    const grants = [
      { role: 'quality', siteId: null },
      { role: 'kitchen', siteId: world.ckId },
    ];
    const changed = await admin.patch(path, { name: 'Jo Marsh-Hill', grants }, { 'if-match': '"v1"' });
    expect(changed.body).toMatchObject({ name: 'Jo Marsh-Hill', grants, version: 2 });
    expect((await admin.get(path)).body).toEqual(changed.body);
    const listed = await admin.get('/v1/people?limit=2');
    expect(listed.body.items.map((one: { signInName: string }) => one.signInName)).toEqual(['admin', 'jo']);
    const next = /<(.*)>; rel="next"/.exec(listed.headers.link ?? '')?.[1] ?? '';
    expect((await admin.get(next)).body).toMatchObject({ items: [{ signInName: 'kitchen' }], nextCursor: null });
  });

  test('a password is in no table, neither in clear nor hashed quickly', async () => {
    expect((await admin.post('/v1/people', person('secretive'))).status).toBe(201);
    const client = new pg.Client(service.databaseUrl);
    await client.connect();
    try {
      const tables = await client.query<{ name: string }>(
        `select quote_ident(table_schema) || '.' || quote_ident(table_name) as name from information_schema.tables
          where table_type = 'BASE TABLE' and table_schema = 'public'`,
      );
      expect(tables.rows.length).toBeGreaterThan(20);
      for (const { name } of tables.rows) {
        const found = await client.query(`select 1 from ${name} t where t::text like '%' || $1 || '%'`, [PASSWORD]);
        expect(found.rowCount, name).toBe(0);
      }
      const facts = await client.query<{ content: { password: string } }>(
        'select content from fact where fact_id = $1',
        [exampleId('people/secretive')],
      );
      expect(facts.rows[0]?.content.password).toBe('[secret]');
    } finally {
      await client.end();
    }
  });

  test('the same fact again answers the first answer, other content is refused with what differs', async () => {
    const first = await admin.post('/v1/people', person('twice'));
    const again = await admin.post('/v1/people', person('twice', { password: 'quite-another-password' }));
    expect([again.status, again.body]).toEqual([201, first.body]);
    const other = await admin.post('/v1/people', person('twice', { name: 'Someone Else' }));
    expect([other.status, other.body.code, other.body.differences]).toEqual([
      422,
      'id-used-with-other-content',
      ['#/name'],
    ]);
    const taken = await admin.post('/v1/people', person('twice', { id: exampleId('people/third') }));
    expect([taken.status, taken.body.code]).toEqual([409, 'code-taken']);
    const made = await admin.post('/v1/people', person('founder', { id: exampleId('person/admin') }));
    expect([made.status, made.body.code]).toEqual([422, 'id-used-with-other-content']);
  });

  test.each([
    ['one that everybody takes', 'Password123'],
    ['the sign-in name', 'predictable'],
  ])('a password is refused: %s', async (_why, password) => {
    const answer = await admin.post('/v1/people', person('predictable', { password }));
    expect([answer.status, answer.body.code, answer.body.errors[0].pointer]).toEqual([
      422,
      'rule-broken',
      '#/password',
    ]);
  });

  test('a password is refused: too short', async () => {
    const answer = await admin.post('/v1/people', person('short', { password: 'seven77' }));
    expect([answer.status, answer.body.errors[0].pointer]).toEqual([400, '#/password']);
  });

  test('a grant at a site that is not there is refused', async () => {
    const grants = [{ role: 'kitchen', siteId: exampleId('site/none') }];
    expect((await admin.post('/v1/people', person('lost', { grants }))).body.code).toBe('not-found');
  });

  test('only administrators of every site manage people, and nobody changes their own access', async () => {
    expect((await service.as('operations').get('/v1/people')).body.code).toBe('forbidden');
    expect((await service.as('admin', world.w3Id).get('/v1/people')).body.code).toBe('forbidden');
    const own = `/v1/people/${exampleId('person/admin')}`;
    expect((await admin.patch(own, { active: false }, { 'if-match': '*' })).body.code).toBe('rule-broken');
    expect((await admin.patch(own, { grants: [] }, { 'if-match': '*' })).body.code).toBe('rule-broken');
    expect((await admin.patch(own, { name: 'Alex Reed-Moss' }, { 'if-match': '*' })).status).toBe(200);
  });

  test('a change says which version it changes', async () => {
    const path = `/v1/people/${world.kitchenPersonId}`;
    expect((await admin.patch(path, { name: 'X' })).body.code).toBe('precondition-required');
    const late = await admin.patch(path, { name: 'X' }, { 'if-match': '"v7"' });
    expect([late.status, late.headers.etag]).toEqual([412, '"v1"']);
  });
});

describe('groups', () => {
  const founder = { personId: exampleId('other/admin'), name: 'Ash', signInName: 'admin', password: ADMIN_PASSWORD };
  const other = { code: 'westfold', name: 'Westfold Meals', currency: 'EUR', admin: founder, nowMs: NOON_MS };

  test('a group is made once; its code with another name is refused', async () => {
    const { groupId } = await createGroup(service.db, other);
    expect(await createGroup(service.db, other)).toEqual({ groupId });
    await expect(createGroup(service.db, { ...other, name: 'Eastfold Meals' })).rejects.toThrow('Westfold Meals');
    const easy = { ...other, code: 'easy', admin: { ...founder, password: 'password1' } };
    await expect(createGroup(service.db, easy)).rejects.toThrow('tried first');
  });

  test("another group's person reads as one who does not exist", async () => {
    const { groupId } = await createGroup(service.db, other);
    const stranger = service.as('admin', null, groupId);
    const foreign = await stranger.get(`/v1/people/${world.kitchenPersonId}`);
    const unknown = await stranger.get(`/v1/people/${exampleId('people/nobody')}`);
    const { instance: _a, ...foreignWords } = foreign.body;
    const { instance: _b, ...unknownWords } = unknown.body;
    expect(foreign.status).toBe(404);
    expect(foreignWords).toEqual(unknownWords);
    expect((await stranger.get('/v1/people')).body.items).toHaveLength(1);
    const grants = [{ role: 'kitchen', siteId: world.ckId }];
    expect((await stranger.post('/v1/people', person('spy', { grants }))).body.code).toBe('not-found');
  });
});
