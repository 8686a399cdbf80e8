import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Json } from '../../support/kitchen.ts';
import { startService, type Client, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

/** In the order of the list of reasons that kitchens asked for. */
const STANDARD =
  'trim cooking-loss drip-loss over-production past-use-by temperature seal-failure damaged plate-return contamination recall sample other'.split(
    ' ',
  );

let service: TestService;
let world: World;
let operations: Client;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  operations = service.as('operations');
});
afterAll(() => service.stop());

const path = (siteId: string) => `/v1/sites/${siteId}/waste-reasons`;
const add = (siteId: string, body: object) => operations.post(path(siteId), { id: randomUUID(), ...body });
const list = async (siteId: string): Promise<Json> => (await operations.get(path(siteId))).body;

describe('reasons of a site', () => {
  test('are the standard ones until it has its own', async () => {
    const { reasons, foodWasteStage } = await list(world.ckId);
    expect(foodWasteStage).toBeNull();
    expect(reasons.map((one: Json) => one.code)).toEqual(STANDARD);
    expect(reasons[0]).toEqual({
      code: 'trim',
      label: 'Trim and peelings',
      standardReason: 'trim',
      stage: 'processing-and-manufacturing',
      active: true,
      own: false,
      version: 0,
    });
  });

  test('a standard one is renamed, another is added; what each maps to stays, its words may change', async () => {
    const renamed = await add(world.ckId, { code: 'trim', label: 'Peelings' });
    expect([renamed.status, renamed.body.label, renamed.body.own]).toEqual([201, 'Peelings', false]);
    const bones = await add(world.ckId, { code: 'bones', label: 'Bones', standardReason: 'trim' });
    expect([bones.status, bones.headers.etag, bones.body]).toEqual([
      201,
      '"v1"',
      {
        code: 'bones',
        label: 'Bones',
        standardReason: 'trim',
        stage: 'processing-and-manufacturing',
        active: true,
        own: true,
        version: 1,
      },
    ]);
    const one = `${path(world.ckId)}/bones`;
    const stale = await operations.patch(one, { label: 'Shells' }, { 'if-match': '"v7"' });
    expect(stale.body.code).toBe('version-mismatch');
    const changed = await operations.patch(one, { label: 'Bones, shells', active: false }, { 'if-match': '"v1"' });
    expect(changed.body).toMatchObject({ label: 'Bones, shells', active: false, standardReason: 'trim', version: 2 });
    const { reasons } = await list(world.ckId);
    expect(reasons.map((reason: Json) => reason.code)).toEqual([...STANDARD, 'bones']);
    expect(reasons[0].label).toBe('Peelings');
    expect((await list(world.w3Id)).reasons[0].label).toBe('Trim and peelings');
    const mapping = await operations.patch(one, { standardReason: 'damaged' }, { 'if-match': '*' });
    expect(mapping.body.code).toBe('invalid-request');
  });

  test.each<[string, object, string]>([
    ['a code of its own without a standard one', { code: 'fish-heads', label: 'Heads' }, 'rule-broken'],
    ['a standard one under another', { code: 'recall', label: 'Called back', standardReason: 'other' }, 'rule-broken'],
    ['the same code twice', { code: 'trim', label: 'Trimmings' }, 'code-taken'],
    ['a stage for a reason', { code: 'x', label: 'X', standardReason: 'households' }, 'invalid-request'],
    ['large letters', { code: 'Bones', label: 'X', standardReason: 'trim' }, 'invalid-request'],
  ])('%s is refused', async (_what, body, code) => {
    expect((await add(world.ckId, body)).body.code).toBe(code);
  });

  test('standard ones are always offered; what has no name of the site is not there to change', async () => {
    const change = (code: string, body: object) =>
      operations.patch(`${path(world.ckId)}/${code}`, body, { 'if-match': '*' });
    expect((await change('trim', { active: false })).body.code).toBe('rule-broken');
    expect((await change('damaged', { label: 'Broken' })).body.code).toBe('not-found');
    const elsewhere = service.as('operations', world.w3Id);
    expect((await elsewhere.get(path(world.ckId))).status).toBe(404);
  });

  test('a site that reports all of its waste as of one stage says so, for its own reasons too', async () => {
    const stage = 'restaurants-and-food-services';
    const said = await operations.patch(`/v1/sites/${world.ckId}`, { foodWasteStage: stage }, { 'if-match': '*' });
    expect(said.body.foodWasteStage).toBe(stage);
    const shown = await list(world.ckId);
    expect(new Set(shown.reasons.map((one: Json) => one.stage))).toEqual(new Set([stage]));
    const back = await operations.patch(`/v1/sites/${world.ckId}`, { foodWasteStage: null }, { 'if-match': '*' });
    expect(back.body.foodWasteStage).toBeNull();
    const wrong = await operations.patch(`/v1/sites/${world.ckId}`, { foodWasteStage: 'trim' }, { 'if-match': '*' });
    expect(wrong.body.code).toBe('invalid-request');
  });
});

test('an item is put into a group of the reports, in the own words of who keeps them', async () => {
  const one = `/v1/items/${world.beefShinId}`;
  const put = (category: string | null) => operations.patch(one, { category }, { 'if-match': '*' });
  expect((await put('Meat')).body.category).toBe('Meat');
  expect((await operations.get(one)).body.category).toBe('Meat');
  expect((await put('x'.repeat(61))).body.code).toBe('invalid-request');
  expect((await put(null)).body.category).toBeNull();
});
