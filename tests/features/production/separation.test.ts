/**
 * Raw food and allergens on one packer by the site's policy. That the United Kingdom's guidance holds vacuum packers to separate use is the
 * Food Standards Agency's (E. coli cross-contamination guidance); what a setting does is this service's own rule, told here by hand.
 */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Json } from '../../support/kitchen.ts';
import { packersOf, type Machine, type Packers } from '../../support/packers.ts';
import { startService, type TestService } from '../../support/service.ts';

let service: TestService;
let packers: Packers;
beforeAll(async () => {
  service = await startService();
  packers = await packersOf(service);
});
afterAll(() => service.stop());

const get = (path: string): Promise<Json> => packers.kitchen.get('quality', path);
const found = async (lotId: string) =>
  (await get(`/v1/findings?lotId=${lotId}&limit=500`)).items.map((one: Json) => one.kind).sort();
/** open holds besides the wait for release */
const held = async (lotId: string) =>
  (await get(`/v1/holds?lotId=${lotId}&open=true&limit=500`)).items
    .filter((one: Json) => one.kind !== 'awaiting-release')
    .map((one: Json) => one.kind);
const refused = (packer: Machine, what: 'stew' | 'rice', minute: number): Promise<Json> =>
  packers.kitchen.post('kitchen', `/v1/batches/${packers.batchId}/packing-runs`, packer.runOf(what, minute), 409);
const choose = (rawOnPacker: string, allergenChangeover: string) =>
  packers.kitchen.post('quality', `/v1/sites/${packers.world.ckId}/process-policy`, {
    rawOnPacker,
    allergenChangeover,
    twoPeople: false,
    confirmedBy: 'Rosa Lind',
  });

describe('by the default of the United Kingdom', () => {
  test('ready-to-eat food after raw food is refused, naming what was on it; after a full clean-down it is packed', async () => {
    const packer = await packers.machine();
    const raw = await packer.seal('raw', 10);
    const answer = await refused(packer, 'rice', 20);
    expect(answer).toMatchObject({
      code: 'clean-down-needed',
      earlier: [{ finding: 'raw-before-ready-to-eat', packingRunId: raw.runId, endedAt: '2026-11-25T11:11:00.000Z' }],
      policy: { basis: 'published' },
    });
    expect(answer.policy.standing).toContain('not law');
    await packer.clean(15, 'rinse');
    expect((await refused(packer, 'rice', 20)).code).toBe('clean-down-needed');
    await packer.clean(16);
    expect((await packer.seal('rice', 20)).told).toEqual([]);
    // raw food after it is nobody's danger
    expect((await packer.seal('raw', 30)).told).toEqual([]);
  });

  test('a request dated back to before the raw food is refused as one of now is', async () => {
    const packer = await packers.machine();
    await packer.seal('raw', 20);
    expect(await refused(packer, 'rice', 10)).toMatchObject({ code: 'clean-down-needed' });
    expect((await packer.seal('rice', 10, 'recorded-packing-runs')).told).toEqual([]);
    await packer.clean(25);
    expect((await packer.seal('rice', 12)).told).toEqual([]);
  });

  test('sealed already: found and held; a late clean-down clears the finding, the hold stays for a person', async () => {
    const packer = await packers.machine();
    await packer.seal('raw', 10);
    const rice = await packer.seal('rice', 20, 'recorded-packing-runs');
    expect(rice.told).toEqual(['raw-before-ready-to-eat']);
    expect(await held(rice.lotId)).toEqual(['quality']);
    await packer.clean(15);
    expect([await found(rice.lotId), await held(rice.lotId)]).toEqual([[], ['quality']]);
  });

  test('a raw run that is told late holds what was sealed after it, and what came of that', async () => {
    const packer = await packers.machine();
    const rice = await packer.seal('rice', 20);
    const { world, kitchen } = packers;
    const { batchId } = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: world.recipeId });
    const input = { lotId: rice.lotId, placeId: world.ckChillerId, quantity: 1, unit: 'piece' };
    await kitchen.post('kitchen', `/v1/batches/${batchId}/inputs`, input);
    const load = { placeId: world.ckChillerId, quantity: 250, unit: 'g', cookEndedAt: '2026-11-25T11:50:00Z' };
    const made = await kitchen.post('kitchen', `/v1/batches/${batchId}/outputs`, { loads: [load] });
    await packer.seal('raw', 10, 'recorded-packing-runs');
    expect(await found(rice.lotId)).toContain('raw-before-ready-to-eat');
    expect(await held(rice.lotId)).toEqual(['quality']);
    expect(await held(made.lots[0].lotId)).toEqual(['quality']);
  });
});

test('a machine tells what it was used for and what each use leaves on it, page by page', async () => {
  const packer = await packers.machine();
  await packer.seal('stew', 10);
  await packer.clean(12, 'rinse');
  await packer.seal('raw', 13);
  await packer.clean(15);
  const rice = await packer.seal('rice', 20);
  await packer.seal('stew', 30);
  const path = `/v1/equipment/${packer.equipmentId}/uses?fromDate=2026-11-25&toDate=2026-11-25`;
  const uses = (await get(path)).items;
  const told = uses.map((one: Json) => {
    const { raw, allergens } = one.leaves;
    return [one.at.slice(11, 16), one.what, one.run?.handling ?? one.cleanDown.kind, raw, allergens.join()];
  });
  const both = 'gluten-cereals:wheat,celery';
  expect(told).toEqual([
    ['11:11', 'packing', 'ready-to-eat', false, both],
    ['11:12', 'clean-down', 'rinse', false, both],
    ['11:14', 'packing', 'raw', true, both],
    ['11:15', 'clean-down', 'full', false, ''],
    ['11:21', 'packing', 'ready-to-eat', false, ''],
    ['11:31', 'packing', 'ready-to-eat', false, both],
  ]);
  expect(uses[2].found).toMatchObject([{ kind: 'allergen-carry-over', allergens: ['celery', 'gluten-cereals:wheat'] }]);
  expect(uses[4].run.lots).toMatchObject([{ lotId: rice.lotId, itemName: 'Boiled rice, pack' }]);
  const first = await get(`${path}&limit=4`);
  const rest = await get(`${path}&limit=4&cursor=${first.nextCursor}`);
  expect([...first.items, ...rest.items]).toEqual(uses);
  expect(rest.nextCursor).toBeNull();
  // what was on it the day before still stands there
  const empty = await get(path.replaceAll('2026-11-25', '2026-11-26'));
  expect(empty.items).toEqual([]);
  const long = `/v1/equipment/${packer.equipmentId}/uses?fromDate=2026-09-01&toDate=2026-11-25`;
  expect(await packers.kitchen.get('quality', long, 422)).toMatchObject({ code: 'period-too-long' });
});

describe("by the site's own policy", () => {
  test('hold: packed, found and held, raw before ready-to-eat and allergens alike', async () => {
    await choose('hold', 'hold');
    const packer = await packers.machine();
    await packer.seal('raw', 10);
    const rice = await packer.seal('rice', 20);
    expect(rice.told).toEqual(['raw-before-ready-to-eat']);
    expect(await held(rice.lotId)).toEqual(['quality']);
    await packer.clean(25);
    await packer.seal('stew', 30);
    const after = await packer.seal('rice', 40);
    expect(after.told).toEqual(['allergen-carry-over']);
    expect(await held(after.lotId)).toEqual(['declaration']);
  });

  test('refuse: a changeover to food without the allergen needs a clean-down; one to food with it does not', async () => {
    await choose('hold', 'refuse');
    const packer = await packers.machine();
    await packer.seal('stew', 10);
    const answer = await refused(packer, 'rice', 20);
    expect(answer).toMatchObject({
      code: 'clean-down-needed',
      earlier: [{ finding: 'allergen-carry-over', allergens: ['celery', 'gluten-cereals:wheat'] }],
    });
    expect((await packer.seal('stew', 20)).told).toEqual([]);
    await packer.clean(25);
    expect((await packer.seal('rice', 30)).told).toEqual([]);
  });
});
