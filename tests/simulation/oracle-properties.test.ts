/**
 * The oracle and its generators over many random stories: nothing is lost, and no order of arrival changes the end.
 * Each guard is also shown a planted fault, since a property that never fails proves nothing.
 */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { arrivalOrders, scenarios, scenariosInOrder } from '../support/oracle/arbitraries.ts';
import { checkConservation, replay } from '../support/oracle/oracle.ts';
import type { MonthLine, OracleFact, OracleState } from '../support/oracle/oracle.ts';

const START_MS = Date.UTC(2026, 0, 5);
const DAY_MS = 86_400_000;
const RUNS = { numRuns: 200 };
const stories = scenarios({ startMs: START_MS });
const storiesInOrder = scenariosInOrder({ startMs: START_MS });

/** What must not depend on the order of arrival. */
const ending = (state: OracleState) => ({
  net: [...state.net].map(([key, value]) => `${key}=${value}`).sort(),
  edges: [...state.edges].sort(),
  findings: [...state.findings].sort(),
  shortfalls: [...state.shortfalls].sort(),
  holdsMinimal: [...state.holdsMinimal].sort(),
});

describe('the generators', () => {
  it('tell stories of 5 to 25 facts, with uuids, within sixty days, without loops', () => {
    fc.assert(
      fc.property(stories, ({ world, facts, lots }) => {
        expect(facts.length).toBeGreaterThanOrEqual(5);
        expect(facts.length).toBeLessThanOrEqual(25);
        expect(world.sites).toHaveLength(3);
        const ids = [...facts.map((f) => f.id), ...lots.map((l) => l.lotId), ...world.places.map((p) => p.id)];
        expect(new Set(ids).size).toBe(ids.length);
        for (const id of ids)
          expect(id).toMatch(/^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
        for (const { occurredAt } of facts) {
          expect(Number.isSafeInteger(occurredAt)).toBe(true);
          expect(occurredAt >= START_MS && occurredAt < START_MS + 60 * DAY_MS).toBe(true);
        }
        const { edges, trace } = replay(
          world,
          facts.filter((f) => f.kind !== 'reversal'),
        );
        for (const edge of edges) {
          const [parent = '', child = ''] = edge.split('>');
          expect(trace(child, 'forward').lots.has(parent)).toBe(false);
        }
      }),
      RUNS,
    );
  });

  it('reach every kind of fact and of finding', () => {
    const sample = fc.sample(storiesInOrder, { numRuns: 200, seed: 20_260_105 });
    const kinds = new Set(sample.flatMap((s) => s.facts.map((f) => f.kind)));
    expect([...kinds].sort()).toEqual([
      'arrival-counted',
      'batch-input',
      'batch-output',
      'count',
      'discard',
      'dispatch',
      'hold',
      'lift',
      'move',
      'packing',
      'receive',
      'return-from-service',
      'reversal',
      'scan-arrival',
      'scan-counted',
      'scan-discard',
      'scan-put-away',
      'scan-use',
      'use',
    ]);
    const states = sample.map((s) => replay(s.world, s.arrival));
    const findings = new Set(states.flatMap((s) => [...s.findings].map((f) => f.slice(0, f.indexOf('|')))));
    expect([...findings].sort()).toEqual(['ended-twice', 'past-use-by', 'seen-after-end', 'shortfall']);
    expect(states.some((s) => s.holdsPossible.size > s.holdsMinimal.size)).toBe(true);
    expect(sample.some((s) => s.arrival.some((f, i) => f !== s.facts[i]))).toBe(true);
  });

  it('keep causes before their effects in every order of arrival, and lose no fact', () => {
    fc.assert(
      fc.property(storiesInOrder, ({ facts, arrival }) => {
        expect(arrival.map((f) => f.id).sort()).toEqual(facts.map((f) => f.id).sort());
        const born = new Set<string>();
        const known = new Set<string>();
        const needs = (names: readonly string[], seen: ReadonlySet<string>): void => {
          for (const name of names) expect(seen.has(name)).toBe(true);
        };
        for (const fact of arrival) {
          if (fact.kind === 'reversal') needs([fact.ofFactId], known);
          else if (fact.kind === 'lift') needs([fact.holdId], known);
          else if (fact.kind === 'packing')
            needs(
              fact.fills.map((f) => f.fromLotId),
              born,
            );
          else if (fact.kind === 'dispatch' || fact.kind === 'count')
            needs(
              fact.lines.map((l) => l.lotId),
              born,
            );
          else if (fact.kind !== 'receive' && fact.kind !== 'batch-output') needs([fact.lotId], born);
          if (fact.kind === 'arrival-counted' || fact.kind === 'scan-arrival') needs([fact.dispatchId], known);
          if (fact.kind === 'scan-counted' && fact.what === 'arrival') needs([fact.dispatchId ?? ''], known);

          known.add(fact.id);
          if (fact.kind === 'hold') known.add(fact.holdId);
          if (fact.kind === 'dispatch') known.add(fact.dispatchId);
          if (fact.kind === 'receive' || fact.kind === 'batch-output') born.add(fact.lotId);
          if (fact.kind === 'packing') fact.fills.forEach((f) => born.add(f.packLotId));
        }
      }),
      RUNS,
    );
  });
});

describe('conservation', () => {
  it('holds for every story', () => {
    fc.assert(
      fc.property(storiesInOrder, ({ world, arrival }) => checkConservation(replay(world, arrival))),
      RUNS,
    );
  });

  it.each([
    { fault: 'a gram lost', change: (n: number) => n - 1 },
    { fault: 'a gram found', change: (n: number) => n + 1 },
    { fault: 'a sign turned', change: (n: number) => -n },
    { fault: 'a fraction', change: (n: number) => n + 0.5 },
  ])('is missed at once with $fault on any one account', ({ change }) => {
    fc.assert(
      fc.property(stories, fc.nat(), ({ world, facts }, which) => {
        const { net } = replay(world, facts);
        const keys = [...net.keys()];
        fc.pre(keys.length > 0);
        const key = keys[which % keys.length] ?? '';
        net.set(key, change(net.get(key) ?? 0));
        expect(() => checkConservation({ net })).toThrow();
      }),
      RUNS,
    );
  });
});

describe('order of arrival', () => {
  /** A ledger that takes the order of arrival for the order of events, as a careless one would. */
  const careless = (facts: readonly OracleFact[]): OracleFact[] =>
    facts.map((fact, index) => ({ ...fact, occurredAt: START_MS + index }));

  it('changes nothing in the end', () => {
    const twoOrders = stories.chain((s) => fc.tuple(fc.constant(s), arrivalOrders(s.facts), arrivalOrders(s.facts)));
    fc.assert(
      fc.property(twoOrders, ([{ world, facts }, one, other]) => {
        const expected = ending(replay(world, facts));
        expect(ending(replay(world, one))).toEqual(expected);
        expect(ending(replay(world, other))).toEqual(expected);
      }),
      RUNS,
    );
  });

  it.each([
    { fault: 'counts', kinds: ['receive', 'use', 'discard', 'count'] },
    {
      fault: 'scans',
      kinds: ['receive', 'packing', 'dispatch', 'scan-arrival', 'scan-put-away', 'scan-use', 'scan-discard'],
    },
    { fault: 'totals', kinds: ['receive', 'packing', 'dispatch', 'scan-counted'] },
  ])('is seen to matter when $fault are taken as they come', ({ kinds }) => {
    const verdict = fc.check(
      fc.property(storiesInOrder, ({ world, facts, arrival }) => {
        const only = (list: readonly OracleFact[]) => careless(list.filter((f) => kinds.includes(f.kind)));
        expect(ending(replay(world, only(arrival)))).toEqual(ending(replay(world, only(facts))));
      }),
      { numRuns: 2000, seed: 7, endOnFailure: true },
    );
    expect(verdict.failed).toBe(true);
  });
});

describe('what each state promises', () => {
  it('after a count, what was counted is there', () => {
    fc.assert(
      fc.property(storiesInOrder, ({ world, arrival }) => {
        const { postings, liveFacts } = replay(world, arrival);
        for (const count of liveFacts) {
          if (count.kind !== 'count') continue;
          for (const line of count.lines) {
            let there = 0;
            for (const p of postings) {
              const later = p.occurredAt === count.occurredAt && p.rank === 1 && p.factId > count.id;
              if (p.lotId !== line.lotId || p.occurredAt > count.occurredAt || later) continue;
              if (p.to === `place:${count.placeId}`) there += p.quantity;
              if (p.from === `place:${count.placeId}`) there -= p.quantity;
            }
            expect(there).toBe(line.counted);
          }
        }
      }),
      RUNS,
    );
  });

  it('what must be held may be held, and each lot held by spreading descends from one that was named', () => {
    fc.assert(
      fc.property(storiesInOrder, ({ world, arrival }) => {
        const state = replay(world, arrival);
        for (const key of state.holdsMinimal) expect(state.holdsPossible.has(key)).toBe(true);
        for (const hold of state.openHolds.filter((h) => h.copied)) {
          const placed = state.openHolds.find((h) => h.holdId === hold.holdId && !h.copied);
          expect(state.trace(hold.lotId, 'back').lots.has(placed?.lotId ?? '')).toBe(true);
        }
      }),
      RUNS,
    );
  });

  it('months add up, follow on, and sites with the road make the group', () => {
    const left = (line: MonthLine): number =>
      line.opening +
      (line.received + line.produced + line.returned + line.transferIn) -
      (line.consumed + line.served + line.wasted + line.transferOut) +
      line.adjusted;
    fc.assert(
      fc.property(storiesInOrder, fc.integer({ min: 1, max: 59 }), ({ world, arrival, lots }, day) => {
        const state = replay(world, arrival);
        const [cutMs, endMs] = [START_MS + day * DAY_MS, START_MS + 60 * DAY_MS];
        for (const scope of [null, ...world.sites.map((s) => s.id)]) {
          const first = state.monthReport(START_MS, cutMs, scope);
          const second = state.monthReport(cutMs, endMs, scope);
          for (const line of [...first.values(), ...second.values()]) expect(left(line)).toBe(line.closing);
          for (const { lotId } of lots) {
            expect(second.get(lotId)?.opening ?? 0).toBe(first.get(lotId)?.closing ?? 0);
          }
        }
        for (const { lotId } of lots) {
          const closing = (scope: string | null) => state.monthReport(START_MS, endMs, scope).get(lotId)?.closing ?? 0;
          let road = 0;
          for (const [account, quantity] of state.whereIs(lotId)) if (account.startsWith('transit:')) road += quantity;
          const atSites = world.sites.reduce((sum, site) => sum + closing(site.id), 0);
          expect(atSites + road).toBe(closing(null));
        }
      }),
      RUNS,
    );
  });
});
