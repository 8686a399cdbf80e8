/**
 * The oracle judged by tables worked out by hand, one per rule of the ledger. It judges the product later, so it must
 * not be judged by itself: every expected value here is written down, none is computed.
 */
import { describe, expect, it } from 'vitest';
import { replay } from '../support/oracle/oracle.ts';
import type { CountedScanFact, OracleFact } from '../support/oracle/oracle.ts';
import { at, bothWays, counts, gets, into, nets, outOf, sorted, undo, uses, world } from '../support/oracle/telling.ts';

describe('stock and its shortfall', () => {
  it('shows what was used and was never there, and settles it by whatever comes in', () => {
    const short = bothWays([gets(1, 'L', 100), uses(2, 'L', 30, 'k-cold')]);
    expect(nets(short)).toEqual({
      'L|supplier:kitchen': -100,
      'L|place:k-in': 100,
      'L|place:k-cold': -30,
      'L|served:kitchen': 30,
    });
    expect(sorted(short.shortfalls)).toEqual(['L|place:k-cold']);
    expect(sorted(short.findings)).toEqual(['shortfall|L|place:k-cold']);

    const settled = bothWays([
      gets(1, 'L', 100),
      uses(2, 'L', 30, 'k-cold'),
      { kind: 'move', ...at(3), lotId: 'L', fromPlaceId: 'k-in', toPlaceId: 'k-cold', quantity: 50 },
    ]);
    expect(settled.whereIs('L')).toEqual(
      new Map([
        ['supplier:kitchen', -100],
        ['place:k-in', 50],
        ['place:k-cold', 20],
        ['served:kitchen', 30],
      ]),
    );
    expect(settled.findings.size).toBe(0);
  });

  it('carries a consignment through transit, short and over, to the default place or a named one', () => {
    const facts: OracleFact[] = [
      gets(1, 'L', 100),
      gets(1, 'M', 20),
      {
        kind: 'dispatch',
        ...at(2),
        dispatchId: 'D',
        toSiteId: 'ward',
        lines: [
          { lotId: 'L', placeId: 'k-in', quantity: 60 },
          { lotId: 'M', placeId: 'k-in', quantity: 5 },
        ],
      },
      { kind: 'arrival-counted', ...at(3), dispatchId: 'D', lotId: 'L', quantity: 58 },
      { kind: 'arrival-counted', ...at(4), dispatchId: 'D', lotId: 'M', quantity: 6, placeId: 'w-cold' },
      { kind: 'use', ...at(5), lotId: 'L', placeId: 'w-in', quantity: 10 },
      { kind: 'discard', ...at(6), lotId: 'L', placeId: 'w-in', quantity: 3 },
      { kind: 'return-from-service', ...at(7), lotId: 'L', siteId: 'ward', quantity: 2 },
    ];
    const state = bothWays(facts);
    expect(nets(state)).toEqual({
      'L|supplier:kitchen': -100,
      'L|place:k-in': 40,
      'L|transit:D': 2,
      'L|place:w-in': 45,
      'L|served:ward': 8,
      'L|waste:ward': 3,
      'L|place:w-q': 2,
      'M|supplier:kitchen': -20,
      'M|place:k-in': 15,
      'M|transit:D': -1,
      'M|place:w-cold': 6,
    });
    expect(sorted(state.shortfalls)).toEqual(['M|transit:D']);
  });

  it('flags a use after the last moment, not at it', () => {
    const state = bothWays([gets(1, 'dated', 9), uses(50, 'dated', 1), uses(51, 'dated', 1)]);
    expect(sorted(state.findings)).toEqual(['past-use-by|use-51']);
  });
});

describe('counts', () => {
  const variance = (facts: readonly OracleFact[], countId: string): number => {
    const own = bothWays(facts).postings.filter((p) => p.factId === countId);
    return own.reduce((sum, p) => sum + (p.to === 'place:k-in' ? p.quantity : -p.quantity), 0);
  };

  it.each([
    // facts beside the receipt of 100 at t1, variance of count-10, variance of count-20, what is there in the end
    { told: [counts(10, 'L', 90)], first: -10, second: 0, there: 90 },
    { told: [counts(10, 'L', 90), uses(5, 'L', 4)], first: -6, second: 0, there: 90 },
    { told: [counts(10, 'L', 90), uses(12, 'L', 3)], first: -10, second: 0, there: 87 },
    { told: [counts(10, 'L', 90), counts(20, 'L', 80)], first: -10, second: -10, there: 80 },
    { told: [counts(10, 'L', 90), counts(20, 'L', 80), uses(15, 'L', 4)], first: -10, second: -6, there: 80 },
    { told: [counts(10, 'L', 90), counts(20, 'L', 80), uses(5, 'L', 4)], first: -6, second: -10, there: 80 },
    { told: [counts(10, 'L', 105), counts(20, 'L', 0)], first: 5, second: -105, there: 0 },
    { told: [counts(10, 'L', 100)], first: 0, second: 0, there: 100 },
    // at one instant the use comes first whatever its id, so the count has seen it
    { told: [counts(10, 'L', 90), uses(10, 'L', 10, 'k-in', 'zzz')], first: 0, second: 0, there: 90 },
    // one taken back leaves the whole difference to the other
    { told: [counts(10, 'L', 90), counts(20, 'L', 80), undo('count-10')], first: 0, second: -20, there: 80 },
  ])('case $#: variances $first and $second leave $there', ({ told, first, second, there }) => {
    const facts = [gets(1, 'L', 100), ...told];
    expect(variance(facts, 'count-10')).toBe(first);
    expect(variance(facts, 'count-20')).toBe(second);
    expect(replay(world, facts).net.get('L|place:k-in') ?? 0).toBe(there);
  });

  it('takes two counts at one instant in the order of their ids', () => {
    const facts = [gets(1, 'L', 100), counts(10, 'L', 70, 'b'), counts(10, 'L', 90, 'a')];
    expect(variance(facts, 'a')).toBe(-10);
    expect(variance(facts, 'b')).toBe(-20);
    expect(replay(world, facts).net.get('L|place:k-in')).toBe(70);
  });

  it('ends a shortfall by what was found', () => {
    const state = bothWays([gets(1, 'L', 10), uses(2, 'L', 15), counts(3, 'L', 0)]);
    expect(nets(state)).toEqual({ 'L|supplier:kitchen': -10, 'L|served:kitchen': 15, 'L|variance:kitchen': -5 });
    expect(state.findings.size).toBe(0);
  });
});

describe('totals of labels without a serial', () => {
  const scan = (t: number, what: CountedScanFact['what'], quantity: number, more: object = {}): OracleFact => ({
    kind: 'scan-counted',
    ...at(t, `${what}-${t}`),
    what,
    siteId: 'ward',
    lotId: 'L',
    quantity,
    ...(what === 'arrival' && { dispatchId: 'D' }),
    ...more,
  });
  const cold = { placeId: 'w-cold' };
  const A_DAY = 86_400_000;
  const sent: OracleFact[] = [
    gets(1, 'L', 100),
    {
      kind: 'dispatch',
      ...at(2),
      dispatchId: 'D',
      toSiteId: 'ward',
      lines: [{ lotId: 'L', placeId: 'k-in', quantity: 12 }],
    },
  ];

  it.each<{ told: OracleFact[]; where: Record<string, number> }>([
    { told: [scan(10, 'arrival', 1)], where: { 'transit:D': 11, 'place:w-in': 1 } },
    { told: [scan(10, 'arrival', 1), scan(11, 'arrival', 1)], where: { 'transit:D': 11, 'place:w-in': 1 } },
    { told: [scan(10, 'arrival', 1), scan(11, 'arrival', 12, cold)], where: { 'place:w-cold': 12 } },
    // a receipt is a fact of its own
    {
      told: [
        { kind: 'arrival-counted', ...at(9), dispatchId: 'D', lotId: 'L', quantity: 2 },
        scan(10, 'arrival', 9),
        scan(11, 'arrival', 10),
      ],
      where: { 'place:w-in': 12 },
    },
    {
      told: [
        scan(10, 'arrival', 12),
        scan(11, 'put-away', 12, cold),
        scan(12, 'put-away', 10, cold),
        scan(13, 'put-away', 2, { placeId: 'w-in' }),
      ],
      where: { 'place:w-in': 2, 'place:w-cold': 10 },
    },
    {
      told: [
        scan(10, 'arrival', 12, cold),
        ...[scan(20, 'use', 2, cold), scan(21, 'use', 3, cold), scan(22, 'use', 1, { ...cold, meal: 'lunch' })],
        ...[scan(30, 'discard', 4, cold), scan(31, 'discard', 2, cold), scan(31 + A_DAY, 'discard', 1, cold)],
      ],
      where: { 'place:w-cold': 5, 'served:ward': 4, 'waste:ward': 3 },
    },
    // the last word taken back leaves the one before it
    { told: [scan(10, 'arrival', 12), scan(11, 'arrival', 3), undo('arrival-11')], where: { 'place:w-in': 12 } },
  ])('case $#', ({ told, where }) => {
    const state = bothWays([...sent, ...told]);
    expect(Object.fromEntries(state.whereIs('L'))).toEqual({ 'supplier:kitchen': -100, 'place:k-in': 88, ...where });
    expect(state.findings.size).toBe(0);
  });

  it('flags the use that counts, when it was too late', () => {
    const late = (t: number): OracleFact =>
      ({ ...scan(t, 'use', 1, { placeId: 'w-in' }), lotId: 'dated' }) as OracleFact;
    const state = bothWays([gets(1, 'dated', 9, 'w-in'), late(52), late(51)]);
    expect(sorted(state.findings)).toEqual(['past-use-by|use-52']);
  });
});

describe('batches, packing and undoing', () => {
  it('joins every input to every output of a batch, and a pack only to its own source', () => {
    const state = bothWays([
      gets(1, 'A', 50),
      gets(1, 'B', 50),
      outOf('X', 'C'),
      outOf('X', 'D'),
      into('X', 'A'),
      into('X', 'B'),
      {
        kind: 'packing',
        ...at(9),
        runId: 'R',
        serialised: false,
        fills: [
          { fromLotId: 'C', placeId: 'k-in', usedQuantity: 7, packLotId: 'P', packs: 3, toPlaceId: 'k-cold' },
          { fromLotId: 'D', placeId: 'k-in', usedQuantity: 8, packLotId: 'Q', packs: 4, toPlaceId: 'k-cold' },
        ],
      },
    ]);
    expect(sorted(state.edges)).toEqual(['A>C', 'A>D', 'B>C', 'B>D', 'C>P', 'D>Q']);
    expect(state.whereIs('A')).toEqual(
      new Map([
        ['supplier:kitchen', -50],
        ['place:k-in', 40],
        ['consumed:kitchen', 10],
      ]),
    );
    expect(state.whereIs('C')).toEqual(
      new Map([
        ['produced:kitchen', -8],
        ['place:k-in', 1],
        ['consumed:kitchen', 7],
      ]),
    );
    expect(state.whereIs('P')).toEqual(
      new Map([
        ['produced:kitchen', -3],
        ['place:k-cold', 3],
      ]),
    );
    expect(sorted(state.trace('A', 'forward').lots)).toEqual(['A', 'C', 'D', 'P', 'Q']);
    expect(sorted(state.trace('P', 'back').lots)).toEqual(['A', 'B', 'C', 'P']);
    expect(sorted(state.trace('P', 'back').edges)).toEqual(['A>C', 'B>C', 'C>P']);
    expect(sorted(state.trace('Q', 'forward').lots)).toEqual(['Q']);
  });

  it('keeps batches apart, and walks a diamond once', () => {
    const two = bothWays([
      gets(1, 'A', 50),
      gets(1, 'B', 50),
      into('X', 'A'),
      outOf('X', 'C'),
      into('Y', 'B'),
      outOf('Y', 'D'),
    ]);
    expect(sorted(two.edges)).toEqual(['A>C', 'B>D']);
    const diamond = bothWays([
      gets(1, 'A', 50),
      ...[into('X', 'A'), outOf('X', 'C')],
      ...[into('Y', 'A'), outOf('Y', 'D')],
      ...[into('Z', 'C'), into('Z', 'D'), outOf('Z', 'E')],
    ]);
    expect([...diamond.trace('A', 'forward').lots].sort()).toEqual(['A', 'C', 'D', 'E']);
    expect(sorted(diamond.trace('E', 'back').edges)).toEqual(['A>C', 'A>D', 'C>E', 'D>E']);
  });

  it('undoes a fact once and whole, and leaves a deficit where others built on it', () => {
    const facts = [gets(1, 'A', 50), into('X', 'A'), outOf('X', 'C'), undo('in-X-A')];
    expect(sorted(bothWays(facts).edges)).toEqual([]);
    expect(replay(world, facts).net.get('A|place:k-in')).toBe(50);

    const twice: OracleFact = { kind: 'reversal', ...at(0, 'again'), ofFactId: 'get-A' };
    const unborn = bothWays([gets(1, 'A', 50), into('X', 'A'), undo('get-A'), twice]);
    expect(nets(unborn)).toEqual({ 'A|place:k-in': -10, 'A|consumed:kitchen': 10 });
    expect(sorted(unborn.findings)).toEqual(['shortfall|A|place:k-in']);
  });

  it('counts a fact that is told twice once', () => {
    expect(nets(replay(world, [gets(1, 'A', 50), gets(1, 'A', 50)]))).toEqual({
      'A|supplier:kitchen': -50,
      'A|place:k-in': 50,
    });
  });

  it('a complete one has counted none of what it does not name, whenever that was told', () => {
    const complete: OracleFact = { kind: 'count', ...at(5), placeId: 'k-in', lines: [], complete: true };
    const state = bothWays([gets(1, 'L', 10), complete, gets(3, 'M', 4), gets(7, 'N', 2), gets(2, 'O', 6, 'k-cold')]);
    expect(nets(state)).toMatchObject({ 'L|variance:kitchen': 10, 'M|variance:kitchen': 4, 'N|place:k-in': 2 });
    expect(nets(state)).toMatchObject({ 'O|place:k-cold': 6 });
  });

  it('at a place used by count what is gone was served, and what is over is variance', () => {
    const ward = { ...world, places: world.places.map((p) => ({ ...p, usedByCount: p.id === 'k-in' })) };
    const state = replay(ward, [gets(1, 'L', 20), counts(5, 'L', 14), counts(9, 'L', 15)]);
    expect(nets(state)).toEqual({
      'L|supplier:kitchen': -20,
      'L|served:kitchen': 6,
      'L|variance:kitchen': -1,
      'L|place:k-in': 15,
    });
    expect(state.monthReport(0, 100, null).get('L')).toMatchObject({
      served: 6,
      servedDerived: 6,
      adjusted: 1,
      closing: 15,
    });
  });
});
