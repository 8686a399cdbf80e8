/** Rules 14 and 15: the union of allergens, what came as something else, late corrections, and diets that are never sent across. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kindsOf, startKit, type Kit } from './kit.ts';

let kit: Kit;
beforeAll(async () => {
  kit = await startKit();
});
afterAll(() => kit.stop());

describe('rule 14: allergens', () => {
  test('a delivery that declares more than its item gets the union, a finding, and hands it on', async () => {
    const { world } = kit;
    const line = { itemId: world.beefShinId, placeId: world.ckChillerId, quantity: 3_000, unit: 'g' };
    const declared = { allergens: ['mustard'], mayContain: ['sesame'] };
    const body = { siteId: world.ckId, supplierId: world.supplierId, occurredAt: kit.now() };
    const answer = await kit.post('kitchen', '/v1/goods-receipts', { ...body, lines: [{ ...line, ...declared }] });
    expect(kindsOf(answer)).toHaveLength(1);
    expect(answer.lines[0].allergensConfirmed).toBe(true);
    const shin = await kit.lot(answer.lines[0].lotId);
    expect([shin.allergens, shin.mayContain]).toEqual([['mustard'], ['sesame']]);
    const { batchId, lotId } = await kit.stew(shin.lotId, 3_000, 3_000);
    const packs = await kit.lot(await kit.pack(batchId, lotId, 3_000, 10));
    // wheat and celery of the stew, mustard of the shin
    expect([...packs.allergens].sort()).toEqual(['celery', 'gluten-cereals:wheat', 'mustard']);
    expect(packs.mayContain).toEqual(['sesame']);
    // neither the stew nor its packs declare mustard: both are held until somebody has seen the label
    expect(await kit.holdsOf(packs.lotId)).toEqual(['awaiting-release', 'declaration', 'declaration']);
  });

  test('a late correction reaches what was made, with the cause; held where it was made only, nothing taken back', async () => {
    const { world } = kit;
    const shin = await kit.shin(3_000);
    const { batchId, lotId } = await kit.stew(shin, 3_000, 3_000);
    const packs = await kit.pack(batchId, lotId, 3_000, 10);
    await kit.release(batchId);
    await kit.arrive(await kit.send(packs, 4), packs, 4);
    const correction = { allergens: ['milk'], reason: 'The supplier wrote' };
    const answer = await kit.post('quality', `/v1/lots/${shin}/allergen-corrections`, correction);
    // shin, stew, packs
    expect(answer.lotsReached).toBe(3);
    const after = await kit.lot(packs);
    expect([...after.allergens].sort()).toEqual(['celery', 'gluten-cereals:wheat', 'milk']);
    expect(after.changes).toMatchObject([{ kind: 'allergens-added', causeLotId: shin }]);
    const holds = await kit.get('quality', `/v1/holds?lotId=${packs}&open=true`);
    expect(holds.items.map((one: { kind: string; siteId: string }) => [one.kind, one.siteId])).toEqual([
      ['declaration', world.ckId],
    ]);
    const parts = answer.reached.filter((one: { lotId: string }) => one.lotId === packs);
    const at = Object.fromEntries(parts.map((one: { siteId: string; onHand: number }) => [one.siteId, one.onHand]));
    expect(at).toEqual({ [world.ckId]: 6, [world.w3Id]: 4 });
    expect(parts[0].labelLeavesOut).toEqual(['milk']);
    expect((await kit.findings(packs)).length).toBeGreaterThan(0);
  });

  test.each(['wheat', 'tree-nuts', 'MILK'])('a code that is not listed, %s, is refused', async (code) => {
    const fields = { code: `BAD-${code}`, name: 'x', kind: 'ingredient', unit: 'g', handling: 'raw' };
    const rest = { allergens: [code], storageInstruction: 'x' };
    const answer = await kit.try('admin', '/v1/items', { ...fields, ...rest });
    expect([400, 422]).toContain(answer.status);
    expect(answer.body.advice).not.toBe('');
    const list = await kit.get('admin', `/v1/items?code=BAD-${code}`);
    expect(list.items).toEqual([]);
  });

  test('an item with an allergen is never left without lots', async () => {
    const fields = { code: 'SALT-M', name: 'x', kind: 'ingredient', unit: 'g', handling: 'ready-to-eat' };
    const body = { ...fields, allergens: ['mustard'], storageInstruction: 'x', lotTracked: false };
    const answer = await kit.try('admin', '/v1/items', body);
    expect(answer.status).toBe(422);
  });

  test('packs without an allergen after packs with it: a finding, until a full clean-down lies between', async () => {
    const { world } = kit;
    const plain = await kit.item('PLAIN');
    const base = await kit.item('PLAIN-BULK', { kind: 'prepared', unit: 'g' });
    const inputs = [{ itemId: world.beefShinId, quantity: 1_000, unit: 'g' }];
    const fields = { itemId: base, code: 'PLAIN', name: 'Plain', expectedYieldPpm: 1_000_000, killStep: true, inputs };
    const { recipeId } = await kit.post('admin', '/v1/recipes', { ...fields, steps: ['cook', 'pack'] });
    const packPlain = async () => {
      const batch = await kit.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId });
      const path = `/v1/batches/${batch.batchId}`;
      const taken = { lotId: await kit.shin(600), placeId: world.ckChillerId, quantity: 600, unit: 'g' };
      await kit.post('kitchen', `${path}/inputs`, taken);
      const load = {
        placeId: world.ckChillerId,
        quantity: 600,
        unit: 'g',
        cookEndedAt: kit.now(),
        useByDate: '2026-11-28',
      };
      const out = await kit.post('kitchen', `${path}/outputs`, { loads: [load] });
      return kit.pack(batch.batchId, out.lots[0].lotId, 600, 2, { packItemId: plain });
    };
    const carried = async (lotId: string) => (await kit.findings(lotId)).includes('allergen-carry-over');
    await kit.packs(2);
    kit.after(10);
    expect(await carried(await packPlain())).toBe(true);
    await kit.packs(2);
    kit.after(10);
    const path = `/v1/equipment/${world.packerId}/clean-downs`;
    await kit.post('kitchen', path, { occurredAt: kit.now(), kind: 'rinse' });
    kit.after(10);
    expect(await carried(await packPlain())).toBe(true);
    await kit.packs(2);
    kit.after(10);
    await kit.post('kitchen', path, { occurredAt: kit.now(), kind: 'full' });
    kit.after(10);
    expect(await carried(await packPlain())).toBe(false);
  });
});

describe('rule 15: diets', () => {
  test.each([
    // item's level and diets, asked level and diets, may be sent
    [4, ['vegetarian'], 4, ['vegetarian'], true],
    [4, ['vegetarian', 'vegan'], 4, ['vegetarian'], true],
    [5, [], 4, [], false],
    [3, [], 4, [], false],
    [null, [], 4, [], false],
    [4, ['vegetarian'], 4, ['halal'], false],
  ] as const)('level %s %j for level %s %j: %s', async (textureLevel, dietCodes, asked, diets, fits) => {
    const { world } = kit;
    const code = crypto.randomUUID().slice(0, 8);
    const itemId = await kit.item(code, { textureLevel, dietCodes, portionsPerUnit: 1 });
    const lotId = await kit.stocked(itemId, world.ckChillerId, 5, 'piece', { useByDate: '2026-12-24' });
    const line = { serviceDate: '2026-11-26', meal: 'lunch', itemId, portions: 3, textureLevel: asked };
    const wanted = { siteId: world.w3Id, lines: [{ ...line, dietCodes: diets }] };
    const { requirements } = await kit.post('receiver', '/v1/requirements', wanted);
    const { requirementId } = requirements[0];
    const lines = [{ lotId, placeId: world.ckChillerId, quantity: 3, unit: 'piece', requirementId }];
    const plan = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines };
    const answer = await kit.try('kitchen', '/v1/dispatches', plan);
    if (fits) expect(answer.status).toBe(201);
    else expect([answer.status, answer.body.code]).toEqual([409, 'diet-mismatch']);
  });

  test('an unknown diet is refused, in an item and in a requirement', async () => {
    const fields = { code: 'MOON', name: 'x', kind: 'packed', unit: 'piece', unitMassMg: 1_000, allergens: [] };
    const item = { ...fields, handling: 'ready-to-eat', storageInstruction: 'x', dietCodes: ['moon-food'] };
    const answer = await kit.try('admin', '/v1/items', item);
    expect([answer.status, answer.body.code]).toEqual([422, 'diet-unknown']);
    const line = { serviceDate: '2026-11-26', meal: 'lunch', itemId: kit.world.beefStewPackId, portions: 3 };
    const wanted = { siteId: kit.world.w3Id, lines: [{ ...line, dietCodes: ['moon-food'] }] };
    const asked = await kit.try('receiver', '/v1/requirements', wanted);
    expect([asked.status, asked.body.code]).toEqual([422, 'diet-unknown']);
    const list = await kit.get('receiver', `/v1/requirements?siteId=${kit.world.w3Id}`);
    expect(list.items.some((one: { itemId: string }) => one.itemId === kit.world.beefStewPackId)).toBe(false);
  });
});
