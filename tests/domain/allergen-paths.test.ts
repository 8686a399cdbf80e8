/** Which way an allergen came in, against a walk that tries every way; and what stands on a machine, told by hand. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { allergenGraph, waysIn, type AllergenLot } from '../../src/domain/allergen-paths.ts';
import { leftBehind } from '../../src/domain/left-behind.ts';

interface World {
  /** own codes of each lot, before anything is handed on */
  readonly own: readonly (readonly string[])[];
  /** child above parent, so that there are no loops */
  readonly edges: readonly (readonly [parent: number, child: number])[];
}

const CODES = ['milk', 'eggs', 'celery'];
const worlds: fc.Arbitrary<World> = fc.integer({ min: 2, max: 6 }).chain((count) =>
  fc.record({
    own: fc.array(fc.subarray(CODES), { minLength: count, maxLength: count }),
    edges: fc.uniqueArray(
      fc
        .tuple(fc.nat(count - 1), fc.nat(count - 1))
        .filter(([a, b]) => a !== b)
        .map(([a, b]) => [Math.min(a, b), Math.max(a, b)] as const),
      { maxLength: 10, selector: ([a, b]) => `${a}>${b}` },
    ),
  }),
);

const nameOf = (at: number): string => `lot-${at}`;

/** Every way back from a lot, each as a list of lots, however long. */
function everyWay({ edges }: World, from: number): number[][] {
  const before = edges.filter(([, child]) => child === from).map(([parent]) => parent);
  return [[from], ...before.flatMap((parent) => everyWay({ own: [], edges }, parent).map((way) => [from, ...way]))];
}

/** What a lot holds, by looking at each lot that any way leads to. */
const heldBy = (world: World, lot: number, code: string): boolean =>
  everyWay(world, lot).some((way) => world.own[way.at(-1) ?? 0]?.includes(code));

function graphOf(world: World) {
  const lots = world.own.map((_, at): AllergenLot => {
    return { lotId: nameOf(at), code: `L${at}`, allergens: CODES.filter((code) => heldBy(world, at, code)) };
  });
  const edges = world.edges.map(([parent, child]) => ({ parentLotId: nameOf(parent), childLotId: nameOf(child) }));
  return allergenGraph(lots, edges);
}

describe('ways in', () => {
  test('one for each lot that brings the code in, and none shorter, among all ways there are', () => {
    fc.assert(
      fc.property(worlds, (world) => {
        const graph = graphOf(world);
        const held = world.own.map((_, at) => CODES.filter((code) => heldBy(world, at, code)));
        for (const lot of world.own.keys()) {
          for (const code of CODES) {
            const brings = (at: number) =>
              held[at]?.includes(code) &&
              !world.edges.some(([parent, child]) => child === at && held[parent]?.includes(code));
            const shortest = new Map<number, number>();
            for (const way of everyWay(world, lot)) {
              const end = way.at(-1) ?? 0;
              if (brings(end)) shortest.set(end, Math.min(shortest.get(end) ?? Infinity, way.length));
            }
            const found = waysIn(graph, nameOf(lot), code);
            const ends = found.map((way) => [way.at(-1)?.lotId, way.length]);
            expect(ends.sort()).toEqual([...shortest].map(([end, length]) => [nameOf(end), length]).sort());
            for (const way of found) {
              expect(way[0]?.lotId).toBe(nameOf(lot));
              for (const [at, one] of way.slice(1).entries()) {
                expect(graph.parents.get(way[at]?.lotId ?? '')).toContain(one.lotId);
              }
            }
          }
        }
      }),
      { numRuns: 200 },
    );
  });

  test('the shortest comes first', () => {
    // flour > dough > pie, and flour > pie
    const lots = ['flour', 'dough', 'pie'].map((lotId) => ({
      lotId,
      code: lotId,
      allergens: ['gluten-cereals:wheat'],
    }));
    const into = (parentLotId: string, childLotId: string) => ({ parentLotId, childLotId });
    const graph = allergenGraph(lots, [into('flour', 'dough'), into('dough', 'pie'), into('flour', 'pie')]);
    const codes = waysIn(graph, 'pie', 'gluten-cereals:wheat').map((way) => way.map((lot) => lot.code));
    expect(codes).toEqual([['pie', 'flour']]);
    expect(waysIn(graph, 'pie', 'milk')).toEqual([]);
  });
});

test('what stands on a machine adds up until a full clean-down; a rinse takes nothing off', () => {
  const food = (atMs: number, raw: boolean, ...allergens: string[]) =>
    ({ what: 'food', atMs, raw, allergens }) as const;
  const left = leftBehind([
    food(1, true),
    food(2, false, 'milk'),
    { what: 'other', atMs: 3 },
    { what: 'full-clean-down', atMs: 4 },
    food(5, false, 'eggs'),
    food(6, false, 'milk'),
  ]);
  expect(left).toEqual([
    { raw: true, allergens: [] },
    { raw: true, allergens: ['milk'] },
    { raw: true, allergens: ['milk'] },
    { raw: false, allergens: [] },
    { raw: false, allergens: ['eggs'] },
    // eggs before milk: Annex II, 3 and 7
    { raw: false, allergens: ['eggs', 'milk'] },
  ]);
});
