/**
 * What a lot's label has to declare is the union over everything that went into it, through the whole graph: told into the service as
 * batches that are made from each other, at first or late, with corrections between, and walked by brute force beside it. Allergens of
 * deliveries are drawn; what dishes declare is fixed, so that some hold more than they say.
 */
import { randomUUID } from 'node:crypto';
import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { allergenCodes } from '../../../src/domain/allergens.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
});
afterAll(() => service.stop());

/** of the stew and its packs, in tests/support/world.ts */
const DECLARED = ['gluten-cereals:wheat', 'celery'];
const DRAWN = ['milk', 'mustard', 'eggs', 'celery'];

interface Story {
  readonly deliveries: readonly (readonly string[])[];
  /** what goes into each batch before its output: numbers of lots that there are then */
  readonly batches: readonly (readonly number[])[];
  /** late inputs: batch, lot */
  readonly late: readonly (readonly [number, number])[];
  readonly corrections: readonly (readonly [lot: number, code: string])[];
}

const stories: fc.Arbitrary<Story> = fc.record({
  deliveries: fc.array(fc.subarray(DRAWN, { maxLength: 2 }), { minLength: 2, maxLength: 3 }),
  batches: fc.array(fc.uniqueArray(fc.nat(20), { minLength: 1, maxLength: 3 }), { minLength: 2, maxLength: 4 }),
  late: fc.array(fc.tuple(fc.nat(20), fc.nat(20)), { maxLength: 2 }),
  corrections: fc.array(fc.tuple(fc.nat(20), fc.constantFrom(...DRAWN)), { maxLength: 1 }),
});

/** Lots in the order of their birth, with what each has of its own and what went into it. */
interface Told {
  readonly lotId: string;
  readonly own: Set<string>;
  readonly from: Set<number>;
  readonly made: boolean;
}

function everyAllergen(lots: readonly Told[], at: number): Set<string> {
  const held = new Set(lots[at]?.own);
  for (const parent of lots[at]?.from ?? []) for (const code of everyAllergen(lots, parent)) held.add(code);
  return held;
}
const reaches = (lots: readonly Told[], from: number, to: number): boolean =>
  from === to || [...(lots[from]?.from ?? [])].some((parent) => reaches(lots, parent, to));

async function tell(story: Story): Promise<Told[]> {
  const lots: Told[] = [];
  const batchIds: string[] = [];
  const put = (batchId: string, lotId: string, how: string) =>
    kitchen.post('kitchen', `/v1/batches/${batchId}/${how}`, {
      lotId,
      placeId: world.ckChillerId,
      quantity: 10,
      unit: 'g',
      occurredAt: '2026-11-25T11:00:00Z',
    });
  for (const allergens of story.deliveries) {
    const lotId = await kitchen.shin(10_000, { allergens });
    lots.push({ lotId, own: new Set(allergens), from: new Set(), made: false });
  }
  const firstMade = lots.length;
  for (const inputs of story.batches) {
    const { batchId } = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: world.recipeId });
    const from = new Set(inputs.map((one) => one % lots.length));
    for (const one of from) await put(batchId, lots[one]?.lotId ?? '', 'inputs');
    const load = { placeId: world.ckChillerId, quantity: 1_000, unit: 'g', cookEndedAt: '2026-11-25T11:00:00Z' };
    const out = await kitchen.post('kitchen', `/v1/batches/${batchId}/outputs`, { loads: [load] });
    lots.push({ lotId: out.lots[0].lotId, own: new Set(DECLARED), from, made: true });
    batchIds.push(batchId);
  }
  const packs = await kitchen.pack(batchIds.at(-1) ?? '', lots.at(-1)?.lotId ?? '', 300, 1);
  lots.push({ lotId: packs, own: new Set(DECLARED), from: new Set([lots.length - 1]), made: true });
  for (const [batch, lot] of story.late) {
    const child = firstMade + (batch % batchIds.length);
    const parent = lot % lots.length;
    // packs are counted in pieces, and nothing goes into itself
    if (parent === lots.length - 1 || reaches(lots, parent, child)) continue;
    await put(batchIds[child - firstMade] ?? '', lots[parent]?.lotId ?? '', 'recorded-inputs');
    lots[child]?.from.add(parent);
  }
  for (const [lot, code] of story.corrections) {
    const at = lot % lots.length;
    if (everyAllergen(lots, at).has(code)) continue;
    const path = `/v1/lots/${lots[at]?.lotId ?? ''}/allergen-corrections`;
    await kitchen.post('quality', path, { allergens: [code], reason: 'The supplier wrote' });
    lots[at]?.own.add(code);
  }
  return lots;
}

test(
  'the union on every lot is that of a brute-force walk; what an item does not say is found and held, with a way that is one',
  { timeout: 120_000 },
  async () => {
    const inAnnex = (codes: Iterable<string>) => {
      const some = new Set(codes);
      return allergenCodes.filter((code) => some.has(code));
    };
    await fc.assert(
      fc.asyncProperty(stories, async (story) => {
        const lots = await tell(story);
        const numberOf = new Map(lots.map(({ lotId }, at) => [lotId, at]));
        for (const [at, { lotId, made }] of lots.entries()) {
          const union = inAnnex(everyAllergen(lots, at));
          const answer: Json = await kitchen.get('quality', `/v1/lots/${lotId}/allergens`);
          expect(answer.allergens).toEqual(union);
          const unsaid = made ? union.filter((code) => !DECLARED.includes(code)) : union;
          expect(answer.undeclared).toEqual(unsaid);
          for (const { allergen, ways } of answer.paths) {
            expect(ways.length).toBeGreaterThan(0);
            for (const way of ways) {
              const stops: number[] = way.lots.map((stop: Json) => numberOf.get(stop.lotId));
              expect(stops[0]).toBe(at);
              for (const [step, stop] of stops.slice(1).entries()) {
                expect(lots[stops[step] ?? -1]?.from).toContain(stop);
              }
              expect(lots[stops.at(-1) ?? -1]?.own).toContain(allergen);
            }
          }
          if (!made) continue;
          const findings = await kitchen.get('quality', `/v1/findings?lotId=${lotId}&kind=allergen-undeclared`);
          expect(findings.items.map((one: Json) => one.detail.codes)).toEqual(unsaid.length > 0 ? [unsaid] : []);
          for (const { lotCodes } of findings.items[0]?.detail.paths ?? []) {
            expect(lotCodes.length).toBeGreaterThan(0);
            expect(lotCodes[0]).toBe(answer.lotCode);
          }
          const holds = await kitchen.get('quality', `/v1/holds?lotId=${lotId}&open=true&limit=500`);
          const own = holds.items.filter((one: Json) => one.kind === 'declaration' && one.lotId === lotId);
          expect(own.length > 0).toBe(unsaid.length > 0);
        }
      }),
      { numRuns: 5, seed: 11, endOnFailure: true },
    );
  },
);

test('a hold that was lifted comes back for a code that nobody had seen, and for no other', async () => {
  const { batchId, lotId } = await kitchen.stew(await kitchen.shin(2_000, { allergens: ['mustard'] }), 1_000, 900);
  const open = async () =>
    (await kitchen.get('quality', `/v1/holds?lotId=${lotId}&open=true`)).items.filter(
      (one: Json) => one.kind === 'declaration',
    );
  const [first] = await open();
  expect(first.note).toContain('Mustard');
  await kitchen.post('quality', `/v1/holds/${first.holdId}/lift`, { note: 'The label says mustard' });
  const [finding] = (await kitchen.get('quality', `/v1/findings?lotId=${lotId}&kind=allergen-undeclared`)).items;
  await kitchen.post('quality', `/v1/findings/${finding.findingId}/settlement`, { note: 'Recipe corrected' });
  const put = async (allergens: string[]) =>
    kitchen.post('kitchen', `/v1/batches/${batchId}/recorded-inputs`, {
      lotId: await kitchen.shin(100, { allergens }),
      placeId: world.ckChillerId,
      quantity: 10,
      unit: 'g',
      occurredAt: '2026-11-25T11:00:00Z',
    });
  await put(['mustard']);
  expect(await open()).toEqual([]);
  await put(['milk']);
  expect((await open()).map((one: Json) => one.note.includes('Milk'))).toEqual([true]);
  const again = await kitchen.get('quality', `/v1/findings?lotId=${lotId}&kind=allergen-undeclared`);
  expect(again.items.map((one: Json) => [one.status, one.detail.codes])).toEqual([['open', ['milk', 'mustard']]]);
});

test('undone packs are found no more; what is warmed on a ward is never held for it', async () => {
  const { batchId, lotId } = await kitchen.stew(await kitchen.shin(2_000, { allergens: ['mustard'] }), 1_000, 900);
  const packs = await kitchen.pack(batchId, lotId, 300, 1);
  const of = async (id: string) =>
    (await kitchen.get('quality', `/v1/findings?lotId=${id}&kind=allergen-undeclared`)).items.length;
  expect(await of(packs)).toBe(1);
  const [line] = (await kitchen.get('quality', `/v1/lots/${packs}/history`)).items;
  await kitchen.post('kitchen', '/v1/reversals', { entryId: line.entryId, reason: 'Never packed' });
  expect([await of(packs), await of(lotId)]).toEqual([0, 1]);

  const plate = randomUUID();
  const fields = { code: 'PLATE', name: 'Plate', kind: 'prepared', unit: 'g', allergens: [], handling: 'ready-to-eat' };
  await kitchen.post('operations', '/v1/items', { id: plate, ...fields, storageInstruction: 'Keep cold' });
  const line3 = { itemId: world.beefStewId, placeId: world.w3ChillerId, quantity: 500, unit: 'g' };
  const body = { siteId: world.w3Id, supplierId: world.supplierId, occurredAt: '2026-11-25T10:00:00Z', lines: [line3] };
  const ward = (await kitchen.post('operations', '/v1/goods-receipts', body)).lines[0].lotId;
  const warmed = await kitchen.post('operations', '/v1/conversions', {
    kind: 'regenerate',
    lotId: ward,
    placeId: world.w3ChillerId,
    quantity: 400,
    unit: 'g',
    toItemId: plate,
    occurredAt: '2026-11-25T11:30:00Z',
  });
  expect(await of(warmed.lot.lotId)).toBe(1);
  expect(warmed.lot.holds ?? []).toEqual([]);
});
