import pg from 'pg';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { createGroup } from '../../../src/features/identity/index.ts';
import { derivedId, exampleId } from '../../../src/platform/ids.ts';
import { NOON_MS, startService, type Client, type TestService } from '../../support/service.ts';
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

const site = (name: string, more: object = {}) => ({
  id: exampleId(`sites/${name}`),
  code: name,
  name: `Site ${name}`,
  kind: 'satellite',
  timeZone: 'Europe/Dublin',
  jurisdiction: 'IE',
  ...more,
});

async function versionsOf(objectId: string): Promise<unknown[]> {
  const client = new pg.Client(service.databaseUrl);
  await client.connect();
  try {
    const found = await client.query<{ content: unknown }>(
      'select content from catalogue_version where object_id = $1 order by version',
      [objectId],
    );
    return found.rows.map((row) => row.content);
  } finally {
    await client.end();
  }
}

describe('sites', () => {
  test('a site comes with a receiving and a quarantine place', async () => {
    const id = exampleId('sites/S1');
    // By hand, weights 1 and 3 from the left: 5 + 0 + 1 + 6 + 3 + 12 + 5 + 0 + 0 + 0 + 0 + 0 = 32, so the check digit is 8.
    const added = await admin.post('/v1/sites', site('S1', { gln: '5012345000008' }));
    expect(added.status).toBe(201);
    expect([added.headers.location, added.headers.etag]).toEqual([`/v1/sites/${id}`, '"v1"']);
    expect(added.body).toEqual({
      siteId: id,
      code: 'S1',
      name: 'Site S1',
      kind: 'satellite',
      timeZone: 'Europe/Dublin',
      jurisdiction: 'IE',
      gln: '5012345000008',
      address: null,
      receivingPlaceId: derivedId('receiving-place', id),
      quarantinePlaceId: derivedId('quarantine-place', id),
      putAway: { chilled: null, frozen: null, ambient: null },
      foodWasteStage: null,
      version: 1,
    });
    const places = (await admin.get(`/v1/places?siteId=${id}`)).body.items;
    expect(places).toEqual([
      {
        placeId: added.body.quarantinePlaceId,
        siteId: id,
        code: 'QUA',
        name: 'Quarantine',
        kind: 'chiller',
        quarantine: true,
        usedByCount: false,
        bin: false,
        version: 1,
      },
      {
        placeId: added.body.receivingPlaceId,
        siteId: id,
        code: 'REC',
        name: 'Receiving',
        kind: 'chiller',
        quarantine: false,
        usedByCount: false,
        bin: false,
        version: 1,
      },
    ]);
    expect(await versionsOf(id)).toEqual([added.body]);
    expect(await versionsOf(added.body.receivingPlaceId)).toEqual([places[1]]);
  });

  test.each([
    ['a time zone that is not there', { timeZone: 'Europe/Ostermere' }, '#/timeZone'],
    ['a mistyped GLN', { gln: '5012345000009' }, '#/gln'],
  ])('%s is refused', async (_what, more, pointer) => {
    const answer = await admin.post('/v1/sites', site('S2', more));
    expect([answer.status, answer.body.code, answer.body.errors[0].pointer]).toEqual([422, 'rule-broken', pointer]);
  });

  test.each(['gb', 'GB-', 'GB-ENGL', 'England'])('%s is no jurisdiction', async (jurisdiction) => {
    expect((await admin.post('/v1/sites', site('S2', { jurisdiction }))).status).toBe(400);
  });

  test('only those who act for every site add one', async () => {
    expect((await service.as('operations', world.ckId).post('/v1/sites', site('S3'))).body.code).toBe('forbidden');
    expect((await service.as('quality').post('/v1/sites', site('S3'))).body.code).toBe('forbidden');
    expect((await service.as('operations').post('/v1/sites', site('S3'))).status).toBe(201);
  });

  test('a code is taken once in the group', async () => {
    const answer = await admin.post('/v1/sites', site('CK', { id: exampleId('sites/second CK') }));
    expect([answer.status, answer.body.code]).toEqual([409, 'code-taken']);
  });

  test('a change says its version, and the receiving place is one of the site that is not quarantine', async () => {
    const path = `/v1/sites/${world.w3Id}`;
    const change = (body: object, version: string) => admin.patch(path, body, { 'if-match': version });
    expect((await admin.patch(path, { name: 'X' })).status).toBe(428);
    expect((await change({ receivingPlaceId: world.ckChillerId }, '"v1"')).body.code).toBe('not-found');
    expect((await change({ receivingPlaceId: exampleId('no place') }, '"v1"')).body.code).toBe('not-found');
    expect((await change({ receivingPlaceId: world.w3QuarantineId }, '"v1"')).body.code).toBe('rule-broken');
    expect((await change({ timeZone: 'Europe/Paris' }, '"v1"')).body.errors[0].pointer).toBe('#/timeZone');
    const changed = await change({ receivingPlaceId: world.w3ChillerId, gln: '5012345000008' }, '"v1"');
    expect(changed.body).toMatchObject({ receivingPlaceId: world.w3ChillerId, gln: '5012345000008', version: 2 });
    expect(changed.headers.etag).toBe('"v2"');
    const late = await change({ name: 'X' }, '"v1"');
    expect([late.status, late.headers.etag]).toEqual([412, '"v2"']);
    expect((await change({ gln: null }, '"v2"')).body).toMatchObject({ gln: null, version: 3 });
    const versions = await versionsOf(world.w3Id);
    expect(versions).toHaveLength(3);
    expect(versions[1]).toEqual(changed.body);
    expect((await admin.get(path, { 'if-none-match': '"v3"' })).status).toBe(304);
  });

  test('a location description as 21 CFR 1.1310 names its parts; whatever is not known is left out, every version is kept', async () => {
    const address = {
      businessName: 'Site A Catering',
      phone: '01632 960099',
      street: '1 Larch Rise',
      city: 'Ostermere',
      region: 'Northshire',
      postalCode: 'ZZ9 2AB',
      country: 'GB',
    };
    const added = await admin.post('/v1/sites', site('A1', { address }));
    expect(added.body.address).toEqual(address);
    const path = `/v1/sites/${added.body.siteId}`;
    const change = (body: object) => admin.patch(path, body, { 'if-match': '*' });
    const coordinates = { latitude: 54.5, longitude: -3.25 };
    expect((await change({ address: coordinates })).body.address).toEqual(coordinates);
    expect((await change({ name: 'Site A' })).body.address).toEqual(coordinates);
    expect((await change({ address: null })).body.address).toBeNull();
    const versions = (await versionsOf(added.body.siteId)) as { address: unknown }[];
    expect(versions.map((version) => version.address)).toEqual([address, coordinates, coordinates, null]);
    for (const wrong of [{ country: 'Britain' }, { latitude: 91 }, { postCode: 'ZZ9 2AB' }]) {
      expect((await change({ address: wrong })).status).toBe(400);
    }
    const supplier = `/v1/suppliers/${world.supplierId}`;
    const changed = await admin.patch(supplier, { address: { phone: '01632 960101' } }, { 'if-match': '*' });
    expect(changed.body.address).toEqual({ phone: '01632 960101' });
    expect(((await versionsOf(world.supplierId)).at(-1) as { address: unknown }).address).toEqual(changed.body.address);
  });

  test('a list goes page by page, by code, over what is in scope', async () => {
    const codes: string[] = [];
    for (let path: string | undefined = '/v1/sites?limit=1'; path;) {
      const page = await admin.get(path);
      expect(page.body.items).toHaveLength(1);
      codes.push(page.body.items[0].code);
      path = /<(.*)>; rel="next"/.exec(page.headers.link ?? '')?.[1];
    }
    expect(codes).toEqual([...codes].sort());
    expect(codes).toEqual(expect.arrayContaining(['CK', 'W3']));
    const own = await service.as('receiver', world.w3Id).get('/v1/sites');
    expect(own.body.items.map((one: { code: string }) => one.code)).toEqual(['W3']);
    expect((await admin.get('/v1/sites?cursor=bm9uc2Vuc2U')).body.code).toBe('bad-cursor');
    expect((await admin.get('/v1/sites?colour=red')).body.errors[0].pointer).toBe('#/query/colour');
  });
});

describe('places and equipment', () => {
  test('belong to a site: another one’s are not shown, changed or added to', async () => {
    const atW3 = service.as('quality', world.w3Id);
    const words = [];
    for (const id of [world.ckChillerId, exampleId('no place')]) {
      const { instance: _instance, ...body } = (await atW3.get(`/v1/places/${id}`)).body;
      words.push(body);
      expect((await atW3.patch(`/v1/places/${id}`, { name: 'X' }, { 'if-match': '*' })).body.code).toBe('not-found');
    }
    expect(words[0]).toEqual(words[1]);
    expect((await atW3.get(`/v1/equipment/${world.packerId}`)).status).toBe(404);
    expect((await atW3.get(`/v1/places?siteId=${world.ckId}`)).body.items).toEqual([]);
    expect((await atW3.get('/v1/equipment')).body.items).toEqual([]);
    const place = { id: exampleId('places/p1'), siteId: world.ckId, code: 'P1', name: 'P1', kind: 'chiller' };
    expect((await atW3.post('/v1/places', place)).body.code).toBe('not-found');
    const oven = { id: exampleId('equipment/e1'), siteId: world.ckId, code: 'E1', name: 'E1', kind: 'oven' };
    expect((await atW3.post('/v1/equipment', oven)).body.code).toBe('not-found');
    expect((await atW3.post('/v1/places', { ...place, siteId: world.w3Id })).status).toBe(201);
  });

  test('a replay is answered only to those who may act at its site', async () => {
    const place = { id: exampleId('places/p2'), siteId: world.ckId, code: 'P2', name: 'P2', kind: 'freezer' };
    const first = await admin.post('/v1/places', place);
    expect(first.status).toBe(201);
    const again = await admin.post('/v1/places', place);
    expect([again.status, again.body, again.headers.etag]).toEqual([201, first.body, '"v1"']);
    expect((await service.as('quality', world.w3Id).post('/v1/places', place)).body.code).toBe('not-found');
  });

  test('are changed by version', async () => {
    const place = await admin.patch(`/v1/places/${world.ckPrepId}`, { kind: 'chiller' }, { 'if-match': '"v1"' });
    expect(place.body).toMatchObject({ kind: 'chiller', version: 2 });
    const machine = await admin.patch(`/v1/equipment/${world.kettleId}`, { active: false }, { 'if-match': '"v1"' });
    expect(machine.body).toMatchObject({ active: false, version: 2 });
    expect((await admin.get(`/v1/equipment/${world.kettleId}`)).headers.etag).toBe('"v2"');
    expect((await admin.get('/v1/equipment?kind=kettle')).body.items).toEqual([machine.body]);
    expect(await versionsOf(world.kettleId)).toHaveLength(2);
  });

  test('a place has its code once at its site', async () => {
    const again = { id: exampleId('places/again'), siteId: world.ckId, code: 'QUA', name: 'X', kind: 'chiller' };
    expect((await admin.post('/v1/places', again)).body.code).toBe('code-taken');
  });
});

test('what belongs to another group reads as unknown, whatever is asked', async () => {
  const founder = {
    personId: exampleId('other/admin'),
    name: 'Ash',
    signInName: 'admin',
    password: 'gravy-on-the-side',
  };
  const other = { code: 'westfold', name: 'Westfold Meals', currency: 'EUR', admin: founder, nowMs: NOON_MS };
  const { groupId } = await createGroup(service.db, other);
  const stranger = service.as('admin', null, groupId);
  const paths = [
    `/v1/sites/${world.ckId}`,
    `/v1/places/${world.ckChillerId}`,
    `/v1/equipment/${world.packerId}`,
    `/v1/suppliers/${world.supplierId}`,
    `/v1/items/${world.beefStewId}`,
    `/v1/recipes/${world.recipeId}`,
  ];
  for (const path of paths) {
    const foreign = await stranger.get(path);
    const unknown = await stranger.get(path.replace(/[^/]+$/, exampleId('nothing')));
    expect([foreign.status, foreign.body.detail]).toEqual([404, unknown.body.detail]);
    const list = await stranger.get(path.replace(/\/[^/]+$/, ''));
    expect(list.body).toEqual({ items: [], nextCursor: null });
  }
  const place = { id: exampleId('places/spy'), siteId: world.ckId, code: 'SPY', name: 'X', kind: 'chiller' };
  expect((await stranger.post('/v1/places', place)).body.code).toBe('not-found');
  // The same id and code may name something in each group.
  expect((await stranger.post('/v1/sites', site('CK', { id: world.ckId }))).status).toBe(201);
});
