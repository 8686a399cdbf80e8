/** Which lots to send where. The worked example is that of the reference figures handed to the project (`batch_dispersion`), in kg. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { MOST_LOTS_FOR_LEAST } from '../../src/domain/dispersion.ts';
import { planLots, type LotPlan, type SiteDemand, type StockLot } from '../../src/domain/making/lots-to-use.ts';

const NOW = Date.parse('2026-11-25T12:00:00Z');
const H = 3_600_000;
const lot = (at: number, quantity: number, keepsH: number | null): StockLot => ({
  lotId: `lot-${at}`,
  lotCode: `L${at}`,
  quantity,
  useByMs: keepsH === null ? null : NOW + keepsH * H,
});
const site = (at: number, quantity: number, inH = 1): SiteDemand => ({
  siteId: `site-${at}`,
  siteCode: `S${at}`,
  quantity,
  neededAtMs: NOW + inH * H,
});

describe('which lots to use', () => {
  test('batch_dispersion of golden.json: oldest first 7 links, worst recall 110, average 60; the optimum 5 links', () => {
    // each keeps a day longer than the one before, the first for four days
    const stock = [60, 50, 40, 30, 20].map((quantity, at) => lot(at, quantity, 96 + 24 * at));
    const { oldestFirst, fewestLinks, short } = planLots(
      stock,
      [50, 60, 30, 40, 20].map((q, at) => site(at, q)),
      NOW,
    );
    expect([oldestFirst.links, oldestFirst.recall.worst, oldestFirst.recall.average.valueOf()]).toEqual([7, 110, 60]);
    expect(fewestLinks?.links).toBe(5);
    expect([fewestLinks?.recall.worst, short]).toEqual([60, []]);
  });

  test('a pressing lot is used as much as by date, even where a later one would have done alone', () => {
    // 4 packs end tomorrow morning: before the same meal a day later
    const { oldestFirst, fewestLinks } = planLots([lot(0, 4, 20), lot(1, 10, 96)], [site(0, 10)], NOW);
    expect([oldestFirst.links, fewestLinks?.links]).toEqual([2, 2]);
    expect(fewestLinks?.arcs).toEqual([
      { lotId: 'lot-0', siteId: 'site-0', quantity: 4 },
      { lotId: 'lot-1', siteId: 'site-0', quantity: 6 },
    ]);
    // it keeps for two days: it may wait, and the figures say what is left behind
    const free = planLots([lot(0, 4, 50), lot(1, 10, 96)], [site(0, 10)], NOW);
    expect([free.fewestLinks?.links, free.fewestLinks?.leftBehindUseByMs]).toEqual([1, NOW + 50 * H]);
    expect(free.oldestFirst.leftBehindUseByMs).toBe(NOW + 96 * H);
  });

  test('what would be past its date at the meal goes nowhere; too little is said', () => {
    const { oldestFirst, fewestLinks, short } = planLots(
      [lot(0, 9, 2), lot(1, 3, null)],
      [site(0, 5, 4), site(1, 4)],
      NOW,
    );
    expect(oldestFirst.arcs).toEqual([
      { lotId: 'lot-0', siteId: 'site-1', quantity: 4 },
      { lotId: 'lot-1', siteId: 'site-0', quantity: 3 },
    ]);
    expect([fewestLinks?.links, short]).toEqual([2, [{ siteId: 'site-0', quantity: 2 }]]);
    expect(planLots([], [site(0, 1)], NOW)).toMatchObject({ whyNoFewest: 'nothing-to-send', fewestLinks: null });
  });

  test('above the bound there is only the plan by date', () => {
    const many = Array.from({ length: MOST_LOTS_FOR_LEAST }, (_, at) => lot(at, 1, 96));
    expect(planLots(many, [site(0, 3)], NOW)).toMatchObject({ fewestLinks: null, whyNoFewest: 'too-many-lots' });
  });

  test('no fewer links would do: every set of links tried on random small instances, with dates', () => {
    const quantity = fc.integer({ min: 1, max: 6 });
    const lots = fc.array(fc.tuple(quantity, fc.constantFrom(2, 5, 20, 26, 60, null)), { minLength: 1, maxLength: 3 });
    const sites = fc.array(fc.tuple(quantity, fc.constantFrom(1, 4, 8)), { minLength: 1, maxLength: 3 });
    fc.assert(
      fc.property(lots, sites, (of, to) => {
        const stock = of.map(([q, keepsH], at) => lot(at, q, keepsH));
        const demands = to.map(([q, inH], at) => site(at, q, inH));
        const plans = planLots(stock, demands, NOW);
        const { oldestFirst, fewestLinks } = plans;
        keepsTheRules(oldestFirst, stock, demands);
        if (!fewestLinks) {
          expect(oldestFirst.arcs).toEqual([]);
          return;
        }
        keepsTheRules(fewestLinks, stock, demands);
        expect(coveredBy(fewestLinks, demands)).toEqual(coveredBy(oldestFirst, demands));
        expect(fewestLinks.links).toBe(fewest(oldestFirst, stock, demands));
        expect(planLots(stock, demands, NOW)).toEqual(plans);
      }),
      { numRuns: 300 },
    );
  });
});

const sumOf = (plan: LotPlan, of: Partial<{ lotId: string; siteId: string }>): number =>
  plan.arcs
    .filter((arc) => (of.lotId ?? arc.lotId) === arc.lotId && (of.siteId ?? arc.siteId) === arc.siteId)
    .reduce((sum, arc) => sum + arc.quantity, 0);
const coveredBy = (plan: LotPlan, demands: readonly SiteDemand[]) =>
  demands.map(({ siteId }) => sumOf(plan, { siteId }));
const keeps = ({ useByMs }: StockLot, untilMs: number): boolean => useByMs === null || useByMs > untilMs;

/** In date when needed, within the stock; nothing that spoils within the day is left while a later one goes where it would have done. */
function keepsTheRules(plan: LotPlan, stock: readonly StockLot[], demands: readonly SiteDemand[]): void {
  const lotOf = (lotId: string) => stock.find((one) => one.lotId === lotId) as StockLot;
  const siteOf = (siteId: string) => demands.find((one) => one.siteId === siteId) as SiteDemand;
  const covered = demands.filter((one) => sumOf(plan, { siteId: one.siteId }) > 0);
  const lastMs = Math.max(...covered.map((one) => one.neededAtMs));
  for (const one of stock) expect(sumOf(plan, { lotId: one.lotId })).toBeLessThanOrEqual(one.quantity);
  for (const arc of plan.arcs) expect(keeps(lotOf(arc.lotId), siteOf(arc.siteId).neededAtMs)).toBe(true);
  const spoiling = stock.filter(
    (one) => !keeps(one, lastMs + 24 * H) && sumOf(plan, { lotId: one.lotId }) < one.quantity,
  );
  for (const left of spoiling) {
    const later = plan.arcs.filter(
      ({ lotId, siteId }) =>
        (lotOf(lotId).useByMs ?? Infinity) > (left.useByMs ?? Infinity) && keeps(left, siteOf(siteId).neededAtMs),
    );
    expect(later).toEqual([]);
  }
}

/** The fewest links that take what the plan takes of pressing lots and cover what it covers: all sets of links, all ways to fill them. */
function fewest(plan: LotPlan, stock: readonly StockLot[], demands: readonly SiteDemand[]): number {
  const wanted = coveredBy(plan, demands);
  const lastMs = Math.max(...demands.filter((_, at) => (wanted[at] ?? 0) > 0).map((one) => one.neededAtMs));
  const exact = stock.map((one) => !keeps(one, lastMs + 24 * H));
  const supply = stock.map((one, at) => (exact[at] ? sumOf(plan, { lotId: one.lotId }) : one.quantity));
  const pairs = stock.flatMap((one, raw) =>
    demands.flatMap(({ neededAtMs }, finished) => (keeps(one, neededAtMs) ? [{ raw, finished }] : [])),
  );
  let best = Infinity;
  for (let set = 0; set < 2 ** pairs.length; set += 1) {
    const chosen = pairs.filter((_, at) => (set >> at) & 1);
    if (chosen.length < best && canFill(chosen, supply, wanted, exact)) best = chosen.length;
  }
  return best;
}

function canFill(
  pairs: readonly { raw: number; finished: number }[],
  supply: readonly number[],
  wanted: readonly number[],
  exact: readonly boolean[],
): boolean {
  const [pair, ...rest] = pairs;
  if (!pair) return wanted.every((q) => q === 0) && supply.every((q, at) => q === 0 || !exact[at]);
  const most = Math.min(supply[pair.raw] ?? 0, wanted[pair.finished] ?? 0);
  for (let q = most; q >= 0; q -= 1) {
    const less = (list: readonly number[], at: number) => list.map((one, no) => (no === at ? one - q : one));
    if (canFill(rest, less(supply, pair.raw), less(wanted, pair.finished), exact)) return true;
  }
  return false;
}
