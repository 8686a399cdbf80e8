/** How kitchens handle items, where food is presumed to be put, and whose use is derived from counts. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { derivedId } from '../../../src/platform/ids.ts';
import { startService, type Client, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let operations: Client;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  operations = service.as('operations');
});
afterAll(() => service.stop());

const purée = (more: object = {}) => ({
  id: randomUUID(),
  code: randomUUID().slice(0, 18),
  name: 'Carrot, pureed, pack',
  kind: 'packed',
  unit: 'piece',
  unitMassMg: 250_000,
  allergens: [],
  handling: 'ready-to-eat',
  storageInstruction: 'Keep at -18 °C or below',
  ...more,
});

test('an item says how it is kept, whom it suits and in what it is counted; what is left out stays', async () => {
  const said = {
    storage: 'frozen',
    textureLevel: 4,
    dietCodes: ['vegetarian', 'vegan', 'vegan'],
    portionsPerUnit: 2,
    openedItemId: world.beefStewId,
    frozenLifeDays: 90,
    thawedLifeH: 48,
    regeneratedLifeH: 2,
    entryUnits: [
      { code: 'case', quantity: 12 },
      { code: 'gn-1/1', quantity: 20 },
    ],
  };
  const added = await operations.post('/v1/items', purée(said));
  expect(added.status).toBe(201);
  expect(added.body).toMatchObject({ ...said, dietCodes: ['vegan', 'vegetarian'] });
  const path = `/v1/items/${added.body.itemId}`;
  const changed = await operations.patch(path, { thawedLifeH: null, textureLevel: 5 }, { 'if-match': '*' });
  expect(changed.body).toMatchObject({
    ...said,
    dietCodes: ['vegan', 'vegetarian'],
    thawedLifeH: null,
    textureLevel: 5,
  });
  expect((await operations.get(path)).body).toEqual(changed.body);
});

test.each([
  [{ dietCodes: ['breakfast-only'] }, 'diet-unknown'],
  [{ textureLevel: 8 }, 'invalid-request'],
  [{ openedItemId: randomUUID() }, 'not-found'],
  [
    {
      entryUnits: [
        { code: 'case', quantity: 12 },
        { code: 'case', quantity: 6 },
      ],
    },
    'rule-broken',
  ],
])('an item with %o is refused: %s', async (fields, code) => {
  expect((await operations.post('/v1/items', purée(fields))).body.code).toBe(code);
});

test('a site names its own places for put-away, and quarantine is none of them', async () => {
  const path = `/v1/sites/${world.ckId}`;
  const put = (putAway: object) => operations.patch(path, { putAway }, { 'if-match': '*' });
  const good = { chilled: world.ckChillerId, frozen: world.ckFreezerId, ambient: null };
  expect((await put(good)).body.putAway).toEqual(good);
  expect((await put({ ...good, frozen: derivedId('quarantine-place', world.ckId) })).body.code).toBe('rule-broken');
  expect((await put({ ...good, frozen: derivedId('receiving-place', world.w3Id) })).body.code).toBe('not-found');
  expect((await operations.get(path)).body.putAway).toEqual(good);
});

test('a place is used by count when that is said', async () => {
  const place = { id: randomUUID(), siteId: world.w3Id, code: 'SHELF', name: 'Shelf', kind: 'ambient-store' };
  const added = await operations.post('/v1/places', place);
  expect(added.body.usedByCount).toBe(false);
  const changed = await operations.patch(`/v1/places/${place.id}`, { usedByCount: true }, { 'if-match': '*' });
  expect(changed.body.usedByCount).toBe(true);
});
