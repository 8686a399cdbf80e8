import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  firstInFirstOut,
  leastDispersion,
  linksOf,
  MOST_LOTS_FOR_LEAST,
  recallOf,
  type LeastDispersion,
} from '../../src/domain/dispersion.ts';

/** The worked example of the reference figures handed to the project (`batch_dispersion`), in kg. */
const SUPPLY = [60, 50, 40, 30, 20];
const DEMAND = [50, 60, 30, 40, 20];
const FIFO = [
  [0, 0, 50],
  [0, 1, 10],
  [1, 1, 50],
  [2, 2, 30],
  [2, 3, 10],
  [3, 3, 30],
  [4, 4, 20],
];

const least = (supply: readonly number[], demand: readonly number[]): LeastDispersion => {
  const found = leastDispersion(supply, demand);
  if (found === 'too-many-lots') throw new Error(found);
  return found;
};

describe('batch dispersion', () => {
  test('first in, first out: 7 links, 110 kg at worst, 60 kg on average', () => {
    const arcs = firstInFirstOut(SUPPLY, DEMAND);
    expect(arcs.map(({ raw, finished, quantity }) => [raw, finished, quantity])).toEqual(FIFO);
    expect(linksOf(arcs)).toBe(7);
    const recall = recallOf(arcs, DEMAND);
    expect(recall.worst).toBe(110);
    // by hand: (110 + 60 + 70 + 40 + 20) / 5
    expect(recall.average.equals(60)).toBe(true);
  });

  test('the least: five balanced blocks, 5 links, 60 kg at worst', () => {
    const found = least(SUPPLY, DEMAND);
    expect([found.links, found.worstRecall]).toEqual([5, 60]);
    const given = SUPPLY.map((_, raw) => sum(found.arcs.filter((arc) => arc.raw === raw)));
    const got = DEMAND.map((_, finished) => sum(found.arcs.filter((arc) => arc.finished === finished)));
    expect([given, got]).toEqual([SUPPLY, DEMAND]);
  });

  test('what is left over may stay with any lot', () => {
    // 30 + 30 for 25 and 20: one delivery each; without what is left over, 3 links
    expect(least([30, 30], [25, 20]).links).toBe(2);
    expect(least([25, 20], [30, 15]).links).toBe(3);
    expect(recallOf([], [1]).worst).toBe(0);
  });

  test('too many lots, too little, nothing', () => {
    const ones = Array.from({ length: MOST_LOTS_FOR_LEAST }, () => 1);
    expect(leastDispersion(ones, [1])).toBe('too-many-lots');
    expect(() => leastDispersion([1], [2])).toThrow(RangeError);
    expect(() => firstInFirstOut([0], [])).toThrow(RangeError);
  });

  test('no fewer links would do: every set of links tried, by Hall on quantities', () => {
    const amounts = fc.array(fc.integer({ min: 1, max: 9 }), { minLength: 1, maxLength: 3 });
    fc.assert(
      fc.property(amounts, amounts, (supply, demand) => {
        const spare = demand.reduce((a, b) => a + b, 0) - supply.reduce((a, b) => a + b, 0);
        const enough = spare > 0 ? [...supply.slice(1), (supply[0] ?? 0) + spare] : supply;
        const found = least(enough, demand);
        expect(found.links).toBe(fewest(enough, demand));
        expect(linksOf(firstInFirstOut(enough, demand))).toBeGreaterThanOrEqual(found.links);
        const got = demand.map((_, finished) => sum(found.arcs.filter((arc) => arc.finished === finished)));
        expect(got).toEqual(demand);
        const given = enough.map((_, raw) => sum(found.arcs.filter((arc) => arc.raw === raw)));
        expect(given.every((quantity, raw) => quantity <= (enough[raw] ?? 0))).toBe(true);
      }),
      { numRuns: 200 },
    );
  });
});

function sum(arcs: readonly { quantity: number }[]): number {
  return arcs.reduce((total, arc) => total + arc.quantity, 0);
}

/** Links suffice when the raw lots next to any finished lots hold what these want (Gale 1957, the transport form of Hall's theorem). */
function fewest(supply: readonly number[], demand: readonly number[]): number {
  const pairs = supply.flatMap((_, raw) => demand.map((__, finished) => ({ raw, finished })));
  let best = Infinity;
  for (let links = 0; links < 2 ** pairs.length; links += 1) {
    const chosen = pairs.filter((_, at) => (links >> at) & 1);
    if (chosen.length >= best) continue;
    let enough = true;
    for (let set = 1; set < 2 ** demand.length; set += 1) {
      const inSet = (finished: number) => ((set >> finished) & 1) === 1;
      const near = new Set(chosen.filter(({ finished }) => inSet(finished)).map(({ raw }) => raw));
      const there = [...near].reduce((total, raw) => total + (supply[raw] ?? 0), 0);
      const wanted = demand.reduce((total, quantity, finished) => total + (inSet(finished) ? quantity : 0), 0);
      if (there < wanted) enough = false;
    }
    if (enough) best = chosen.length;
  }
  return best;
}
