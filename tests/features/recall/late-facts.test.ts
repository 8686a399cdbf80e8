/** What becomes known after a case was opened: each thing joins as a revision that names the fact, keeps its number, and never leaves. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { reviseCases } from '../../../src/features/recall/index.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { everyItem } from '../../support/replay/recall.ts';
import { startService, type TestService } from '../../support/service.ts';
import { slippedThrough } from '../../support/sessions.ts';
import { buildWorld, type World } from '../../support/world.ts';

describe('after a case was opened', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
  });
  afterAll(async () => {
    expect(await slippedThrough(service)).toEqual([]);
    await service.stop();
  });

  const now = () => new Date(service.clock.nowMs()).toISOString();
  const open = (starts: readonly object[], more: object = {}): Promise<Json> =>
    kitchen.post('operations', '/v1/recalls', { title: 'A call', starts, ...more });
  const revisionsOf = async (recallId: string): Promise<[number, string | null, string[]][]> => {
    const { revisions } = await kitchen.get('operations', `/v1/recalls/${recallId}/revisions`);
    return (revisions as Json[]).map((one) => [
      one.revision,
      one.factId,
      one.addedLots.map((lot: Json) => lot.lotId).sort(),
    ]);
  };
  const scopeOf = async (recallId: string): Promise<string[]> =>
    (await everyItem(service.as('operations'), `/v1/recalls/${recallId}/lots`))
      .map((lot) => lot.lotId as string)
      .sort();
  const putIn = (batchId: string, lotId: string, id: string) =>
    kitchen.post('kitchen', `/v1/batches/${batchId}/recorded-inputs`, {
      id,
      lotId,
      placeId: world.ckChillerId,
      quantity: 100,
      unit: 'g',
      occurredAt: now(),
    });
  const sweep = () => reviseCases({ db: service.db, clock: service.clock }).run({ groupId: service.groupId });

  test('revisions of one millisecond keep the numbers that they were given', async () => {
    const shin = await kitchen.shin(5_000);
    const { recallId } = await open([{ kind: 'lot', lotId: shin }]);
    const batches: { batchId: string; lots: string[] }[] = [];
    for (let n = 0; n < 3; n += 1) {
      const { batchId, lotId } = await kitchen.stew(await kitchen.shin(900), 900, 800);
      // What was made of it already comes in with it.
      const packs = await kitchen.pack(batchId, lotId, 300, 1);
      batches.push({ batchId, lots: [lotId, packs].sort() });
    }
    // told in an order that is neither that of their ids nor its opposite
    const ids = ['8', '0', 'f'].map((digit) => `${digit.repeat(8)}${randomUUID().slice(8)}`);
    const known: string[] = [];
    for (const [at, batch] of batches.entries()) {
      await putIn(batch.batchId, shin, ids[at] as string);
      known.push(ids[at] as string);
      const [first, ...later] = await revisionsOf(recallId);
      expect(first?.slice(0, 1)).toEqual([1]);
      expect(later).toEqual(known.map((id, n) => [n + 2, id, batches[n]?.lots]));
    }
    expect((await kitchen.get('operations', `/v1/recalls/${recallId}`)).revision).toBe(4);
  });

  test('an input that is undone leaves what was made of it in the case, and under its hold', async () => {
    const shin = await kitchen.shin(5_000);
    const { recallId } = await open([{ kind: 'lot', lotId: shin }]);
    const { batchId, lotId } = await kitchen.stew(await kitchen.shin(900), 900, 800);
    const id = randomUUID();
    await putIn(batchId, shin, id);
    await kitchen.post('quality', '/v1/reversals', { entryId: id, reason: 'Another batch' });
    expect(await scopeOf(recallId)).toEqual([shin, lotId].sort());
    expect((await revisionsOf(recallId)).slice(1)).toEqual([[2, id, [lotId]]]);
    // It spreads onward from where it stands.
    const packs = await service.as('kitchen').post(`/v1/batches/${batchId}/packing-runs`, {
      id: randomUUID(),
      equipmentId: world.packerId,
      programme: 'Moist dishes',
      startedAt: now(),
      finishedAt: now(),
      fills: [
        {
          fromLotId: lotId,
          fromPlaceId: world.ckChillerId,
          usedQuantity: 300,
          usedUnit: 'g',
          packItemId: world.beefStewPackId,
          packs: 1,
          toPlaceId: world.ckChillerId,
        },
      ],
    });
    expect([packs.status, packs.body.code]).toEqual([409, 'on-hold']);
  });

  test('a sack that turns out to have been tipped into the bin brings in all that was taken from the bin since', async () => {
    const flour = { code: 'FLOUR', name: 'Strong white flour', kind: 'ingredient', unit: 'g' };
    const stored = { handling: 'ready-to-eat', storage: 'ambient', storageInstruction: 'Keep dry' };
    const item = { ...flour, allergens: ['gluten-cereals:wheat'], ...stored };
    const { itemId } = await kitchen.post('operations', '/v1/items', item);
    const store = { siteId: world.ckId, code: 'BIN', name: 'Flour bin', kind: 'ambient-store', bin: true };
    const { placeId: bin } = await kitchen.post('operations', '/v1/places', store);
    const sack = (supplierLotCode: string) => kitchen.shin(25_000, { itemId, placeId: world.ckDryId, supplierLotCode });
    const [clean, bad] = [await sack('MILL-1'), await sack('MILL-2')];
    const at = (time: string) => `2026-11-25T${time}:00Z`;
    const fill = async (lotId: string, occurredAt: string): Promise<string> => {
      const id = randomUUID();
      const move = { fromPlaceId: world.ckDryId, toPlaceId: bin, quantity: 2_000, unit: 'g', occurredAt };
      await kitchen.post('kitchen', '/v1/recorded-moves', { id, lotId, ...move });
      return id;
    };
    await fill(clean, at('06:00'));
    const batch = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: world.recipeId });
    const path = `/v1/batches/${batch.batchId}`;
    const taking = { binPlaceId: bin, itemId, quantity: 500, unit: 'g', occurredAt: at('08:00') };
    await kitchen.post('kitchen', `${path}/recorded-inputs`, taking);
    const load = { placeId: world.ckChillerId, quantity: 900, unit: 'g', cookEndedAt: at('09:00') };
    const dough = (await kitchen.post('kitchen', `${path}/outputs`, { loads: [load] })).lots[0].lotId as string;

    const { recallId } = await open([{ kind: 'supplier-lot', supplierLotCode: 'mill 2' }]);
    expect(await scopeOf(recallId)).toEqual([bad]);
    const late = await fill(bad, at('07:00'));
    expect(await scopeOf(recallId)).toEqual([bad, dough].sort());
    expect((await revisionsOf(recallId)).slice(1)).toEqual([[2, late, [dough]]]);
  });

  test('a label that turns out to declare too little joins when the correction is known', async () => {
    const period = { from: '2026-11-25T00:00:00Z', to: '2026-11-26T00:00:00Z' };
    const wrong = await kitchen.shin(700);
    const { lotId } = await kitchen.stew(wrong, 700, 600);
    const later = await kitchen.shin(700);
    const correct = (id: string) =>
      kitchen.post('quality', `/v1/lots/${id}/allergen-corrections`, {
        allergens: ['sesame'],
        reason: 'Not on the label',
      });
    await correct(wrong);
    const { recallId } = await open([{ kind: 'undeclared-allergen', allergen: 'sesame', ...period }]);
    expect(await scopeOf(recallId)).toEqual([wrong, lotId].sort());
    await correct(later);
    await sweep();
    expect(await scopeOf(recallId)).toEqual([wrong, lotId, later].sort());
  });

  test('what a place, a batch or a machine did later is matched again', async () => {
    const period = { from: '2026-11-25T00:00:00Z', to: '2026-11-26T00:00:00Z' };
    const { batchId, lotId } = await kitchen.stew(await kitchen.shin(3_000), 3_000, 2_700);
    const packs = await kitchen.pack(batchId, lotId, 300, 1);
    const prep = await kitchen.shin(400, { placeId: world.ckPrepId });
    // Drills, so that work goes on.
    const drill = async (start: object) => (await open([start], { drill: true })).recallId as string;
    const place = await drill({ kind: 'place-period', placeId: world.ckPrepId, ...period });
    const batch = await drill({ kind: 'batch', batchId });
    const machine = await drill({ kind: 'machine-period', equipmentId: world.packerId, ...period });
    const before = await scopeOf(machine);
    expect(before).toContain(packs);

    const load = randomUUID();
    const more = { lotId: load, placeId: world.ckChillerId, quantity: 500, unit: 'g', cookEndedAt: now() };
    await kitchen.post('kitchen', `/v1/batches/${batchId}/outputs`, { loads: [more] });
    const moved = { lotId: load, fromPlaceId: world.ckChillerId, toPlaceId: world.ckPrepId, quantity: 500, unit: 'g' };
    await kitchen.post('kitchen', '/v1/recorded-moves', { ...moved, occurredAt: now() });
    const second = await kitchen.pack(batchId, lotId, 300, 1);
    await sweep();
    expect(await scopeOf(place)).toEqual([prep, load].sort());
    expect(await scopeOf(batch)).toEqual([lotId, load, packs, second].sort());
    expect(await scopeOf(machine)).toEqual([...before, second].sort());
  });

  test('a closed case goes on holding what is found to hang on it', async () => {
    const shin = await kitchen.shin(100);
    const { recallId } = await open([{ kind: 'lot', lotId: shin }]);
    const told = { lotId: shin, outcome: 'found', quantity: 100, unit: 'g', placeId: world.ckChillerId };
    const response = { siteId: world.ckId, signedBy: 'Sam Dale', lines: [told] };
    await kitchen.post('kitchen', `/v1/recalls/${recallId}/responses`, response);
    await kitchen.post('quality', `/v1/recalls/${recallId}/closing`, { note: 'All of it is on the shelf' });
    const { batchId, lotId } = await kitchen.stew(await kitchen.shin(900), 900, 800);
    await putIn(batchId, shin, randomUUID());
    const holds = (await kitchen.get('quality', `/v1/lots/${lotId}`)).holds as Json[];
    expect(holds.map((one) => one.kind)).toContain('recall');
    expect(await scopeOf(recallId)).toEqual([shin, lotId].sort());
  });
});
