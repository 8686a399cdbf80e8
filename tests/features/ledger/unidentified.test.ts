/** A pack whose label cannot be read: in quarantine until somebody says which it is, or thrown away; never guessed. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let packs: string;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  const { batchId, lotId } = await kitchen.stew(await kitchen.shin(10_000), 10_000, 8_000);
  packs = await kitchen.pack(batchId, lotId, 3_000, 10);
});
afterAll(() => service.stop());

const find = (more: object = {}): Promise<Json> =>
  kitchen.post('kitchen', '/v1/unidentified-packs', {
    siteId: world.ckId,
    placeId: world.ckPrepId,
    description: 'Pouch, label washed off',
    quantity: 1,
    foundAt: '2026-11-25T11:00:00Z',
    ...more,
  });
const decide = (pack: Json, what: string, body: object, status = 201): Promise<Json> =>
  kitchen.post('kitchen', `/v1/unidentified-packs/${pack.unidentifiedPackId}/${what}`, body, status);
const identify = (pack: Json, body: object, status = 201): Promise<Json> =>
  decide(pack, 'identification', { note: 'Code pressed into the seal', ...body }, status);
const findings = async (): Promise<string[]> =>
  (await kitchen.get('quality', '/v1/findings?kind=unidentified-pack')).items.map((one: Json) => one.detail.factId);
const inPlace = async (placeId: string): Promise<number> => {
  const stock = (await kitchen.get('kitchen', `/v1/stock?placeId=${placeId}`)).items;
  return stock.find((one: Json) => one.lotId === packs)?.quantity ?? 0;
};

describe('a pack without a label', () => {
  test('is listed and a finding, and posts nothing', async () => {
    const pack = await find();
    expect(pack).toMatchObject({ state: 'open', lotId: null, quarantinePlaceId: world.ckQuarantineId });
    expect(await findings()).toContain(pack.unidentifiedPackId);
    const listed = await kitchen.get('receiver', '/v1/unidentified-packs?state=open');
    expect(listed.items).toContainEqual(pack);
    expect(await kitchen.get('receiver', `/v1/unidentified-packs/${pack.unidentifiedPackId}`)).toEqual(pack);
    const elsewhere = await service.as('receiver', world.w3Id).get('/v1/unidentified-packs');
    expect(elsewhere.body.items).toEqual([]);
  });

  test('that somebody names moves to quarantine in the book, and stays there', async () => {
    const pack = await find();
    const before = await inPlace(world.ckChillerId);
    const answer = await identify(pack, { lotId: packs, serial: '4', fromPlaceId: world.ckChillerId });
    expect(answer).toMatchObject({ state: 'identified', lotId: packs, serial: '4', moved: 1, mayUse: false });
    expect(answer.whyNot).toMatch(/Do not use/);
    expect(await inPlace(world.ckChillerId)).toBe(before - 1);
    expect(await inPlace(world.ckQuarantineId)).toBe(1);
    expect(await findings()).not.toContain(pack.unidentifiedPackId);
    expect(await identify(pack, { lotId: packs }, 409)).toMatchObject({ code: 'wrong-state' });
    expect(await decide(pack, 'disposal', { reason: 'damaged', destination: 'composting' }, 409)).toMatchObject({
      code: 'wrong-state',
    });
  });

  test('is an observation: what the book does not have there is a shortfall, not a refusal', async () => {
    const answer = await identify(await find({ quantity: 2 }), { lotId: packs, fromPlaceId: world.ckFreezerId });
    expect(answer.moved).toBe(2);
    const short = await kitchen.get('quality', `/v1/findings?kind=shortfall&lotId=${packs}`);
    expect(short.items).toMatchObject([{ quantity: 2 }]);
  });

  test('named without a place moves nothing', async () => {
    const before = await inPlace(world.ckQuarantineId);
    expect(await identify(await find(), { lotId: packs })).toMatchObject({ state: 'identified', moved: 0 });
    expect(await inPlace(world.ckQuarantineId)).toBe(before);
  });

  test('that nobody can name is discarded and recorded', async () => {
    const pack = await find();
    const answer = await decide(pack, 'disposal', { reason: 'other', destination: 'refuse', note: 'Nobody knew' });
    expect(answer).toMatchObject({ state: 'discarded', reason: 'other', destination: 'refuse', lotId: null });
    expect(await findings()).not.toContain(pack.unidentifiedPackId);
    const listed = await kitchen.get('kitchen', '/v1/unidentified-packs?state=discarded');
    expect(listed.items).toMatchObject([{ unidentifiedPackId: pack.unidentifiedPackId, note: 'Nobody knew' }]);
  });

  test('cannot be named as what it is not', async () => {
    const pack = await find();
    const two = await find({ quantity: 2 });
    const bulk = await kitchen.shin(1_000);
    expect(await identify(pack, { lotId: randomUUID() }, 404)).toMatchObject({ code: 'not-found' });
    expect(await identify(pack, { lotId: packs, fromPlaceId: world.w3ChillerId }, 404)).toMatchObject({
      code: 'not-found',
    });
    expect(await identify(pack, { lotId: packs, serial: '11' }, 422)).toMatchObject({ code: 'serials-do-not-fit' });
    expect(await identify(two, { lotId: packs, serial: '5' }, 422)).toMatchObject({ code: 'serials-do-not-fit' });
    expect(await identify(pack, { lotId: bulk }, 422)).toMatchObject({ code: 'unit-mismatch' });
    const inQuarantine = { lotId: packs, fromPlaceId: world.ckQuarantineId };
    expect(await identify(pack, inQuarantine, 422)).toMatchObject({ code: 'same-place' });
    const grams = { lotId: bulk, quantity: 400, unit: 'g', fromPlaceId: world.ckChillerId };
    expect(await identify(pack, grams)).toMatchObject({ moved: 400 });
    expect(await decide(two, 'disposal', { reason: 'moonlight', destination: 'refuse' }, 422)).toMatchObject({
      code: 'discard-reason-unknown',
    });
  });
});
