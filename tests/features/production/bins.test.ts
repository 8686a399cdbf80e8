/** A bin that is topped up is the set of lots since it was last empty: whatever is taken from it may be any of them. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let flourId: string;
let otherSupplierId: string;
let bakingId: string;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  flourId = await added('/v1/items', {
    code: 'FLOUR',
    name: 'Strong white flour',
    kind: 'ingredient',
    unit: 'g',
    allergens: ['gluten-cereals:wheat'],
    handling: 'ready-to-eat',
    storage: 'ambient',
    storageInstruction: 'Keep dry',
  });
  otherSupplierId = await added('/v1/suppliers', { code: 'MILL', name: 'Millrace Flour' });
  bakingId = await added('/v1/recipes', {
    itemId: world.beefStewId,
    code: 'THICKENED',
    name: 'Stew thickened with flour',
    expectedYieldPpm: 950_000,
    steps: ['prepare', 'cook'],
    killStep: false,
    inputs: [{ itemId: flourId, quantity: 1_000, unit: 'g' }],
  });
});
afterAll(() => service.stop());

async function added(path: string, body: object): Promise<string> {
  const id = randomUUID();
  await kitchen.post('operations', path, { id, ...body });
  return id;
}
let bins = 0;
const newBin = (): Promise<string> => {
  bins += 1;
  const place = { siteId: world.ckId, code: `BIN-${bins}`, name: `Flour bin ${bins}`, kind: 'ambient-store' };
  return added('/v1/places', { ...place, bin: true });
};
async function sack(supplierId: string, more: object = {}): Promise<string> {
  const line = { itemId: flourId, placeId: world.ckDryId, quantity: 25_000, unit: 'g', ...more };
  const body = { siteId: world.ckId, supplierId, occurredAt: '2026-11-24T06:00:00Z', lines: [line] };
  return (await kitchen.post('kitchen', '/v1/goods-receipts', body)).lines[0].lotId;
}
const at = (time: string) => `2026-11-25T${time}:00Z`;
const fill = (bin: string, lotId: string, quantity: number, time: string) =>
  kitchen.post('kitchen', '/v1/recorded-moves', {
    lotId,
    fromPlaceId: world.ckDryId,
    toPlaceId: bin,
    quantity,
    unit: 'g',
    occurredAt: at(time),
  });
const empty = (bin: string, time: string) =>
  kitchen.post('kitchen', `/v1/places/${bin}/emptyings`, { occurredAt: at(time), note: 'Scraped out' });
const openBatch = async (): Promise<string> =>
  (await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: bakingId })).batchId;
const taking = (bin: string, quantity: number) => ({ binPlaceId: bin, itemId: flourId, quantity, unit: 'g' });
const record = (batchId: string, bin: string, quantity: number, time: string) =>
  kitchen.post('kitchen', `/v1/batches/${batchId}/recorded-inputs`, { ...taking(bin, quantity), occurredAt: at(time) });
const ask = (batchId: string, bin: string, quantity: number, status = 201, time = '11:00') =>
  kitchen.post('kitchen', `/v1/batches/${batchId}/inputs`, { ...taking(bin, quantity), occurredAt: at(time) }, status);
async function takeOut(batchId: string): Promise<string> {
  const load = { placeId: world.ckChillerId, quantity: 900, unit: 'g', cookEndedAt: at('11:30') };
  return (await kitchen.post('kitchen', `/v1/batches/${batchId}/outputs`, { loads: [load] })).lots[0].lotId;
}
async function parentsOf(lotId: string): Promise<string[]> {
  const trace = await kitchen.get('quality', `/v1/lots/${lotId}/trace?direction=back`);
  return trace.edges
    .filter((edge: Json) => edge.childLotId === lotId)
    .map((edge: Json) => edge.parentLotId)
    .sort();
}
const inputsOf = async (batchId: string): Promise<Record<string, number>> => {
  const batch = await kitchen.get('quality', `/v1/batches/${batchId}`);
  return Object.fromEntries(batch.inputs.map((one: Json) => [one.lotId, one.quantity]));
};
const binNow = (bin: string): Promise<Json> => kitchen.get('kitchen', `/v1/places/${bin}/bin`);
const hold = (lotId: string) =>
  kitchen.post('quality', '/v1/holds', { kind: 'safety', lotId, note: 'The supplier wrote' });
const holdsOf = async (lotId: string): Promise<string[]> =>
  (await kitchen.get('quality', `/v1/lots/${lotId}`)).holds.map((one: Json) => one.holdId);

describe('a bin of flour', () => {
  test('filled from two sacks gives both lots as parents, and a warning for either reaches the food', async () => {
    const bin = await newBin();
    const first = await sack(world.supplierId);
    const second = await sack(otherSupplierId);
    await fill(bin, first, 2_000, '06:00');
    await fill(bin, second, 25_000, '07:00');
    const batchId = await openBatch();
    const answer = await ask(batchId, bin, 3_000);
    expect(answer).toMatchObject({ kind: 'batch-input', findings: [] });
    const entry = await kitchen.get('quality', `/v1/entries/${answer.entryId}`);
    expect(entry.lines.map((line: Json) => [line.lotId, line.quantity])).toEqual([
      [first, 2_000],
      [second, 1_000],
    ]);
    // booked from the second alone: by now the book has nothing of the first left
    const later = await openBatch();
    await ask(later, bin, 1_000, 201, '11:10');
    expect(await inputsOf(later)).toEqual({ [second]: 1_000 });
    const made = await takeOut(later);
    expect(await parentsOf(made)).toEqual([first, second].sort());
    const now = await binNow(bin);
    expect(now.items).toMatchObject([
      {
        itemId: flourId,
        quantity: 23_000,
        since: '2026-11-25T06:00:00.000Z',
        allergens: ['gluten-cereals:wheat'],
        lots: [
          { lotId: first, quantity: 0 },
          { lotId: second, quantity: 23_000 },
        ],
        batches: [
          { batchId, quantity: 3_000 },
          { batchId: later, quantity: 1_000 },
        ],
      },
    ]);
    const { holdId } = await hold(first);
    expect(await holdsOf(made)).toContain(holdId);
    const other = await hold(second);
    expect(await holdsOf(made)).toContain(other.holdId);
    // one held lot stops the whole bin
    const refused = await ask(await openBatch(), bin, 500, 409);
    expect(refused.code).toBe('on-hold');
    // what went in all the same is recorded
    const night = await openBatch();
    const found = await record(night, bin, 500, '11:20');
    expect(found.kind).toBe('batch-input');
    expect(await holdsOf(await takeOut(night))).toContain(holdId);
  });

  test('emptied and filled again gives the new lot alone; more than there is refused', async () => {
    const bin = await newBin();
    const old = await sack(world.supplierId);
    const fresh = await sack(world.supplierId);
    await fill(bin, old, 5_000, '06:00');
    const emptied = await empty(bin, '07:00');
    expect(emptied.kind).toBe('stock-count');
    await fill(bin, fresh, 4_000, '08:00');
    const batchId = await openBatch();
    const refused = await ask(batchId, bin, 4_001, 409);
    expect(refused).toMatchObject({ code: 'insufficient-stock', available: 4_000 });
    await ask(batchId, bin, 1_000);
    expect(await parentsOf(await takeOut(batchId))).toEqual([fresh]);
    expect((await binNow(bin)).lastEmptiedAt).toBe('2026-11-25T07:00:00.000Z');
  });

  test('a fill that is told late joins what was made, with its holds; undone, it leaves again', async () => {
    const bin = await newBin();
    const known = await sack(world.supplierId);
    const late = await sack(otherSupplierId, { useByDate: '2026-11-20' });
    const { holdId } = await hold(late);
    await fill(bin, known, 5_000, '06:00');
    const batchId = await openBatch();
    await record(batchId, bin, 6_000, '09:00');
    const made = await takeOut(batchId);
    expect(await parentsOf(made)).toEqual([known]);
    const filled = await fill(bin, late, 3_000, '07:00');
    expect(await parentsOf(made)).toEqual([known, late].sort());
    expect(await inputsOf(batchId)).toEqual({ [known]: 5_000, [late]: 1_000 });
    expect(await holdsOf(made)).toContain(holdId);
    const open = await kitchen.get('quality', `/v1/findings?kind=past-use-by`);
    expect(open.items.map((one: Json) => one.lotId)).toContain(late);
    await kitchen.post('kitchen', '/v1/reversals', { entryId: filled.entryId, reason: 'Another bin' });
    expect(await parentsOf(made)).toEqual([known]);
    expect(await inputsOf(batchId)).toEqual({ [known]: 6_000 });
    // nothing lifts a hold by itself
    expect(await holdsOf(made)).toContain(holdId);
  });

  test('taken before anything is known to be in it: an unknown lot until the fill is told', async () => {
    const bin = await newBin();
    const lotId = await sack(world.supplierId);
    const batchId = await openBatch();
    const answer = await record(batchId, bin, 700, '09:00');
    expect(answer.findings).toMatchObject([{ kind: 'shortfall', quantity: 700 }]);
    const made = await takeOut(batchId);
    const [unknown] = await parentsOf(made);
    expect(await kitchen.get('quality', `/v1/lots/${unknown}`)).toMatchObject({ origin: 'pseudo', itemId: flourId });
    await fill(bin, lotId, 2_000, '08:00');
    expect(await parentsOf(made)).toEqual([lotId]);
    expect(await inputsOf(batchId)).toEqual({ [lotId]: 700 });
  });

  test('told late that it was emptied: what was linked stays linked, the book goes by the emptying', async () => {
    const bin = await newBin();
    const old = await sack(world.supplierId);
    const fresh = await sack(world.supplierId);
    await fill(bin, old, 5_000, '06:00');
    await fill(bin, fresh, 4_000, '08:00');
    const batchId = await openBatch();
    await record(batchId, bin, 1_000, '09:00');
    const made = await takeOut(batchId);
    await empty(bin, '07:00');
    expect(await parentsOf(made)).toEqual([old, fresh].sort());
    expect(await inputsOf(batchId)).toEqual({ [fresh]: 1_000 });
  });

  test('ends the same in whatever order fills, taking and emptying are told', async () => {
    const ends = new Set<string>();
    for (const order of orders([0, 1, 2, 3])) {
      const bin = await newBin();
      const [one, two] = [await sack(world.supplierId), await sack(otherSupplierId)];
      const batchId = await openBatch();
      // something that the batch has made before the first fact is told
      await kitchen.post('kitchen', `/v1/batches/${batchId}/inputs`, {
        lotId: await kitchen.shin(100),
        placeId: world.ckChillerId,
        quantity: 100,
        unit: 'g',
      });
      const made = await takeOut(batchId);
      const facts = [
        () => fill(bin, one, 2_000, '06:00'),
        () => fill(bin, two, 2_000, '07:00'),
        () => record(batchId, bin, 3_000, '08:00'),
        () => empty(bin, '09:00'),
      ];
      for (const fact of order) await facts[fact]?.();
      const name = new Map([
        [one, 'one'],
        [two, 'two'],
      ]);
      const named = (lotIds: string[]) => lotIds.flatMap((lotId) => name.get(lotId) ?? []).sort();
      const taken = await inputsOf(batchId);
      const shares = Object.keys(taken).flatMap((lotId) =>
        name.has(lotId) ? [`${name.get(lotId)}:${taken[lotId]}`] : [],
      );
      const { items } = await binNow(bin);
      const parents = await parentsOf(made);
      ends.add(JSON.stringify([named(parents), parents.length, shares.sort(), items]));
    }
    expect([...ends]).toEqual([JSON.stringify([['one', 'two'], 3, ['one:2000', 'two:1000'], []])]);
  });

  test('is for food in bulk, at its own site, and named as such', async () => {
    const bin = await newBin();
    const batchId = await openBatch();
    expect((await ask(batchId, world.ckDryId, 10, 422)).code).toBe('rule-broken');
    expect((await ask(batchId, world.w3ChillerId, 10, 404)).code).toBe('not-found');
    const named = { ...taking(bin, 10), lotId: await sack(world.supplierId) };
    expect((await kitchen.post('kitchen', `/v1/batches/${batchId}/inputs`, named, 422)).code).toBe('rule-broken');
    expect((await kitchen.get('kitchen', `/v1/places/${world.ckDryId}/bin`, 422)).code).toBe('rule-broken');
  });
});

function orders(list: readonly number[]): number[][] {
  if (list.length < 2) return [[...list]];
  return list.flatMap((first) => orders(list.filter((one) => one !== first)).map((rest) => [first, ...rest]));
}
