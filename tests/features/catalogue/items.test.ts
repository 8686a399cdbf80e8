import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { exampleId } from '../../../src/platform/ids.ts';
import { startService, type Client, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let quality: Client;

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  quality = service.as('quality');
});
afterAll(() => service.stop());

const item = (code: string, more: object = {}) => ({
  id: exampleId(`items/${code}`),
  code,
  name: `Item ${code}`,
  kind: 'ingredient',
  unit: 'g',
  allergens: [],
  handling: 'raw',
  storageInstruction: 'Keep dry',
  ...more,
});

const recipe = (code: string, more: object = {}) => ({
  id: exampleId(`recipes/${code}`),
  itemId: world.beefStewId,
  code,
  name: `Recipe ${code}`,
  expectedYieldPpm: 1_150_000,
  steps: ['prepare', 'cook', 'chill'],
  killStep: true,
  inputs: [{ itemId: world.beefShinId, quantity: 1000, unit: 'g' }],
  ...more,
});

describe('items', () => {
  test('an item is shown as it was given, with what follows from it', async () => {
    const life = { lifeDays: 8, lifeH: 190, anchor: 'first-seal', dayOne: 'day-after-is-day-one' };
    const packed = item('PACK', {
      kind: 'packed',
      unit: 'piece',
      unitMassMg: 312_500,
      gtin: '9506000134352', // GS1's specimen number, from memory
      allergens: ['nuts:almonds', 'milk', 'gluten-cereals:wheat', 'milk'],
      mayContain: ['sesame'],
      handling: 'ready-to-eat',
      life,
      openedLifeH: 24,
    });
    const added = await quality.post('/v1/items', packed);
    expect(added.status).toBe(201);
    expect(added.body).toEqual({
      itemId: packed.id,
      code: 'PACK',
      name: 'Item PACK',
      kind: 'packed',
      unit: 'piece',
      unitMassMg: 312_500,
      netWeightG: 312.5,
      gtin: '09506000134352',
      allergens: ['gluten-cereals:wheat', 'milk', 'nuts:almonds'], // Annex II order: 1, 7, 8
      mayContain: ['sesame'],
      handling: 'ready-to-eat',
      storageInstruction: 'Keep dry',
      ingredients: null,
      life,
      openedLifeH: 24,
      category: null,
      storage: 'chilled',
      textureLevel: null,
      dietCodes: [],
      portionsPerUnit: null,
      openedItemId: null,
      frozenLifeDays: null,
      thawedLifeH: null,
      regeneratedLifeH: null,
      entryUnits: [],
      lotTracked: true,
      active: true,
      version: 1,
    });
    const seen = await quality.get(`/v1/items/${packed.id}`);
    expect([seen.body, seen.headers.etag]).toEqual([added.body, '"v1"']);
  });

  test.each([
    ['g', 1000],
    ['mg', 1],
  ])('one %s weighs what it says', async (unit, unitMassMg) => {
    const added = await quality.post('/v1/items', item(`UNIT-${unit}`, { unit }));
    expect(added.body).toMatchObject({ unit, unitMassMg });
    expect(added.body).not.toHaveProperty('netWeightG');
    const wrong = await quality.post('/v1/items', item('WRONG', { unit, unitMassMg: 7 }));
    expect(wrong.body.errors[0].pointer).toBe('#/unitMassMg');
  });

  test.each<[string, object, string, string]>([
    ['a piece without mass', { unit: 'piece' }, 'rule-broken', '#/unitMassMg'],
    ['a millilitre without mass', { unit: 'ml' }, 'rule-broken', '#/unitMassMg'],
    ['packs by weight', { kind: 'packed' }, 'rule-broken', '#/unit'],
    ['an unknown allergen', { allergens: ['milk', 'moonlight'] }, 'allergen-unknown', '#/allergens/1'],
    ['an unknown trace', { mayContain: ['moonlight'] }, 'allergen-unknown', '#/mayContain/0'],
    ['an allergen untracked', { allergens: ['milk'], lotTracked: false }, 'rule-broken', '#/lotTracked'],
    ['a mistyped GTIN', { gtin: '9506000134353' }, 'rule-broken', '#/gtin'],
    [
      'a life without length',
      { life: { anchor: 'production', dayOne: 'anchor-day-is-day-one' } },
      'rule-broken',
      '#/life',
    ],
    ['a field too many', { colour: 'brown' }, 'invalid-request', '#/colour'],
  ])('%s is refused', async (_what, more, code, pointer) => {
    const answer = await quality.post('/v1/items', item('NO', more));
    expect([answer.body.code, answer.body.errors[0].pointer]).toEqual([code, pointer]);
  });

  test('a change keeps the rules', async () => {
    const salt = item('SALT', { lotTracked: false });
    const path = `/v1/items/${salt.id}`;
    expect((await quality.post('/v1/items', salt)).status).toBe(201);
    const change = (body: object, version: string) => quality.patch(path, body, { 'if-match': version });
    expect((await change({ allergens: ['milk'] }, '"v1"')).body.code).toBe('rule-broken');
    expect((await change({ unit: 'mg' }, '"v1"')).body.errors[0].pointer).toBe('#/unit');
    const life = { lifeH: 48, anchor: 'opening', dayOne: 'anchor-day-is-day-one' };
    expect((await change({ life, name: 'Sea salt' }, '"v1"')).body).toMatchObject({
      life,
      name: 'Sea salt',
      version: 2,
    });
    expect((await change({ life: null }, '"v1"')).body.code).toBe('version-mismatch');
    expect((await change({ life: null }, '"v2"')).body).toMatchObject({ life: null, name: 'Sea salt', version: 3 });
    expect((await quality.get(path)).body).toMatchObject({ life: null, version: 3 });
  });

  test('the first answer stays what it was', async () => {
    const thyme = item('THYME');
    const first = await quality.post('/v1/items', thyme);
    await quality.patch(`/v1/items/${thyme.id}`, { name: 'Dried thyme' }, { 'if-match': '"v1"' });
    const { id, ...unnamed } = thyme;
    const again = await quality.post('/v1/items', unnamed, { 'idempotency-key': `"${id}"` });
    expect([again.status, again.body]).toEqual([201, first.body]);
    expect(again.headers.link).toBe(`</v1/items/${id}>; rel="latest-version"`);
    const other = await quality.post('/v1/items', { ...thyme, storageInstruction: 'Keep cool' });
    expect([other.status, other.body.differences]).toEqual([422, ['#/storageInstruction']]);
    const nameless = await quality.post('/v1/items', unnamed);
    expect([nameless.status, nameless.body.code]).toEqual([400, 'fact-id-missing']);
  });

  test('sent ten times at once, it is recorded once and answered ten times', async () => {
    const bay = item('BAY');
    const answers = await Promise.all(Array.from({ length: 10 }, () => quality.post('/v1/items', bay)));
    for (const answer of answers) expect([answer.status, answer.body]).toEqual([201, answers[0]?.body]);
    expect((await quality.get('/v1/items?code=BAY')).body.items).toHaveLength(1);
  });

  test('are listed by kind and code', async () => {
    const packed = (await quality.get('/v1/items?kind=packed')).body.items;
    expect(packed.map((one: { kind: string }) => one.kind)).toContain('packed');
    expect(packed.every((one: { kind: string }) => one.kind === 'packed')).toBe(true);
    expect((await quality.get('/v1/items?code=BEEF-STEW')).body.items).toHaveLength(1);
    expect((await quality.get('/v1/items?kind=magic')).status).toBe(400);
  });

  test('kitchen staff read them and do not write them', async () => {
    const kitchen = service.as('kitchen', world.ckId);
    expect((await kitchen.get('/v1/items')).status).toBe(200);
    expect((await kitchen.post('/v1/items', item('X'))).body.code).toBe('forbidden');
  });
});

describe('recipes', () => {
  test('are added, listed and changed', async () => {
    const added = await quality.post('/v1/recipes', recipe('R1'));
    expect(added.status).toBe(201);
    const { id, ...fields } = recipe('R1');
    expect(added.body).toEqual({ recipeId: id, ...fields, active: true, version: 1 });
    const of = await quality.get(`/v1/recipes?itemId=${world.beefStewId}`);
    expect(of.body.items.map((one: { code: string }) => one.code)).toEqual(['BEEF-STEW', 'R1']);
    const steps = ['thaw', 'regenerate'];
    const changed = await quality.patch(`/v1/recipes/${id}`, { steps, active: false }, { 'if-match': '"v1"' });
    expect(changed.body).toEqual({ ...added.body, steps, active: false, version: 2 });
    expect((await quality.get(`/v1/recipes/${id}`)).body).toEqual(changed.body);
    const path = `/v1/recipes/${id}`;
    const cold = await quality.patch(path, { steps: ['thaw'] }, { 'if-match': '"v2"' });
    expect([cold.body.code, cold.body.errors[0].pointer]).toEqual(['rule-broken', '#/killStep']);
  });

  test('refuse what does not fit', async () => {
    const codeOf = async (more: object) => {
      const { body } = await quality.post('/v1/recipes', recipe('NO', more));
      return [body.code, body.errors?.[0].pointer];
    };
    const shin = { itemId: world.beefShinId, quantity: 1, unit: 'g' };
    const unknown = exampleId('items/none');
    expect(await codeOf({ itemId: world.beefShinId })).toEqual(['item-unsuitable', undefined]);
    expect(await codeOf({ itemId: unknown })).toEqual(['not-found', undefined]);
    expect(await codeOf({ inputs: [{ ...shin, itemId: unknown }] })).toEqual(['not-found', undefined]);
    expect(await codeOf({ inputs: [{ ...shin, unit: 'ml' }] })).toEqual(['unit-mismatch', '#/inputs/0/unit']);
    expect(await codeOf({ inputs: [shin, shin] })).toEqual(['rule-broken', '#/inputs/1/itemId']);
    expect(await codeOf({ steps: ['stir'] })).toEqual(['invalid-request', '#/steps/0']);
    expect(await codeOf({ steps: ['chill', 'pack'] })).toEqual(['rule-broken', '#/killStep']);
    expect(await codeOf({ code: 'BEEF-STEW' })).toEqual(['code-taken', undefined]);
  });
});

describe('suppliers', () => {
  test('are added, found by code and changed', async () => {
    const brook = await quality.get('/v1/suppliers?code=BROOK');
    expect(brook.body.items).toEqual([
      {
        supplierId: world.supplierId,
        code: 'BROOK',
        name: 'Brook Farm Meats',
        address: null,
        gln: null,
        active: true,
        version: 1,
      },
    ]);
    const path = `/v1/suppliers/${world.supplierId}`;
    const changed = await quality.patch(path, { active: false }, { 'if-match': '"v1"' });
    expect(changed.body).toEqual({ ...brook.body.items[0], active: false, version: 2 });
    expect((await quality.get(path)).body).toEqual(changed.body);
  });
});
