/** The oracle of recalls, judged by tables worked out by hand: it judges the product later, so it must not be judged by itself. */
import { describe, expect, it } from 'vitest';
import { replay, type OracleFact } from '../support/oracle/oracle.ts';
import { figuresOf, quantitiesOf, sitesOf, toTypeOf } from '../support/oracle/recall-account.ts';
import { faultOfPath, scopeOver, startLotsOf, type OracleStart } from '../support/oracle/recall.ts';
import { at, counts, gets, into, outOf, sorted, undo, uses, world } from '../support/oracle/telling.ts';

const naming = { supplierKeyOf: (lotId: string) => lotId.charAt(0) };
const lot = (lotId: string): OracleStart => ({ kind: 'lot', lotId });
const over = (told: readonly OracleFact[], opened: number, ...starts: OracleStart[]) =>
  scopeOver(world, told, opened, starts, naming);
const sent = (t: number, lotId: string, quantity: number, dispatchId = 'D'): OracleFact => ({
  kind: 'dispatch',
  ...at(t, `send-${dispatchId}`),
  dispatchId,
  toSiteId: 'ward',
  lines: [{ lotId, placeId: 'k-in', quantity }],
});
const packs: OracleFact = {
  kind: 'packing',
  ...at(9, 'pack'),
  runId: 'R',
  serialised: false,
  fills: [{ fromLotId: 'C', placeId: 'k-in', usedQuantity: 6, packLotId: 'P', packs: 3, toPlaceId: 'k-in' }],
};

describe('scope', () => {
  const before = [gets(1, 'A', 50), gets(1, 'B', 50), into('X', 'A'), outOf('X', 'C')];

  it('is what was made from the lot, at the opening and later, each revision with its fact', () => {
    const told = [...before, packs, into('Y', 'B'), outOf('Y', 'E'), into('Y', 'C'), gets(1, 'F', 5)];
    const { scope, revisions, since } = over(told, 4, lot('A'));
    expect(sorted(scope.must)).toEqual(['A', 'C', 'E', 'P']);
    expect(revisions.map((one) => [one.factId, sorted(one.added)])).toEqual([
      ['pack', ['P']],
      ['in-Y-C', ['E']],
    ]);
    expect(Object.fromEntries(since)).toEqual({ A: 4, C: 4, P: 5, E: 8 });
  });

  it('keeps what was linked since the opening, and not what was linked and undone before', () => {
    const undone = [...before, undo('in-X-A')];
    expect(sorted(over(undone, 4, lot('A')).scope.must)).toEqual(['A', 'C']);
    expect(sorted(over(undone, 5, lot('A')).scope.must)).toEqual(['A']);
    // It spreads onward from where it stands.
    expect(sorted(over([...undone, packs], 4, lot('A')).scope.must)).toEqual(['A', 'C', 'P']);
  });

  it('takes in later deliveries of the code, and leaves an undone one that nothing names to taste', () => {
    const start: OracleStart = { kind: 'supplier-lot', key: 'A' };
    const told = [...before, gets(7, 'A2', 9), gets(8, 'A3', 9), undo('get-A3')];
    expect(sorted(over(told, 4, start).scope.must)).toEqual(['A', 'A2', 'A3', 'C']);
    expect(sorted(over(told, 7, start).scope.must)).toEqual(['A', 'A2', 'C']);
    expect(sorted(over(told, 7, start).scope.may)).toEqual(['A', 'A2', 'A3', 'C']);
  });

  it.each<{ start: OracleStart; lots: string[] }>([
    { start: { kind: 'supplier-period', fromMs: 1, toMs: 7 }, lots: ['A', 'B'] },
    { start: { kind: 'supplier-period', fromMs: 0, toMs: 1 }, lots: [] },
    { start: { kind: 'item-period', item: 'produced', fromMs: 6, toMs: 7 }, lots: ['C'] },
    { start: { kind: 'machine-period', fromMs: 9, toMs: 10 }, lots: ['P'] },
    { start: { kind: 'person-period', fromMs: 6, toMs: 10 }, lots: ['C', 'P'] },
    { start: { kind: 'batch', batchId: 'X' }, lots: ['C'] },
    { start: { kind: 'packing-run', packingId: 'pack' }, lots: ['P'] },
    { start: { kind: 'dispatch', dispatchId: 'D' }, lots: ['P'] },
    // P left at 12 for the ward; B stood there all the time; A was used up at 8
    { start: { kind: 'place-period', placeId: 'k-in', fromMs: 11, toMs: 20 }, lots: ['B', 'C', 'P'] },
    { start: { kind: 'place-period', placeId: 'k-in', fromMs: 13, toMs: 20 }, lots: ['B', 'C'] },
    { start: { kind: 'place-period', placeId: 'k-cold', fromMs: 0, toMs: 99 }, lots: [] },
  ])('$start.kind names $lots', ({ start, lots }) => {
    const told = [...before, packs, uses(8, 'A', 40), sent(12, 'P', 3)];
    expect(sorted(startLotsOf(world, told, start, naming).must)).toEqual(lots);
  });

  it.each([
    [['A', 'C', 'P'], 'P', null],
    [['C', 'P'], 'P', 'begins at C, which no starting point names'],
    [['A', 'P'], 'P', 'A never went into P'],
    [['A', 'C'], 'P', 'ends at C'],
    [[], 'A', 'begins at undefined, which no starting point names'],
  ])('the path %j to %s: %s', (path, lotId, fault) => {
    expect(faultOfPath(path, lotId, over([...before, packs], 5, lot('A')))).toBe(fault);
  });
});

describe('account', () => {
  // 50 of A, 10 of it in X, out of which came 8 of C; 6 of C became 3 packs; 2 packs are on the road, one of them arrived and was served.
  const told = [
    gets(1, 'A', 50),
    into('X', 'A'),
    outOf('X', 'C'),
    packs,
    sent(12, 'P', 2),
    { kind: 'arrival-counted', ...at(13), dispatchId: 'D', lotId: 'P', quantity: 1, placeId: 'w-in' },
    uses(14, 'P', 1, 'w-in'),
    // 20 of A in a batch that is still cooking, 3 thrown away, and of the other 17 a count finds 13
    { ...into('Y', 'A', 15), quantity: 20 },
    { kind: 'discard', ...at(16), lotId: 'A', placeId: 'k-in', quantity: 3 },
    counts(17, 'A', 13),
  ] as OracleFact[];
  const scope = new Set(['A', 'C', 'P']);
  const state = replay(world, told);
  // a pack weighs twice as much as what it was filled with, to tell them apart
  const mgOf = (lotId: string) => (lotId === 'P' ? 4_000 : 1_000);

  it('sums to what was produced', () => {
    expect(quantitiesOf(state, 'A')).toEqual({
      ...{ produced: 50, onHand: 13, inTransit: 0, served: 0, wasted: 3, returned: 0, consumed: 30, unexplained: 4 },
    });
    expect(quantitiesOf(state, 'P')).toEqual({
      ...{ produced: 3, onHand: 1, inTransit: 1, served: 1, wasted: 0, returned: 0, consumed: 0, unexplained: 0 },
    });
    expect(sorted(sitesOf(state, told, 'P'))).toEqual(['kitchen', 'ward']);
    expect(sorted(sitesOf(state, told, 'C'))).toEqual(['kitchen']);
  });

  it('asks for what is there, on the road, missing or in a batch that nothing came out of', () => {
    const lines = toTypeOf(state, told, scope).map((one) => [one.lotId, one.siteId, one.quantity]);
    expect(lines.sort()).toEqual([
      ['A', 'kitchen', 13 + 4 + 20],
      ['C', 'kitchen', 2],
      ['P', 'kitchen', 1],
      ['P', 'ward', 1],
    ]);
  });

  it('counts what went into another lot in scope there, once', () => {
    const answers = [
      { lotId: 'A', siteId: 'kitchen', quantity: 30, found: true },
      { lotId: 'A', siteId: 'kitchen', quantity: 5, found: false },
      { lotId: 'P', siteId: 'ward', quantity: 1, found: true },
    ];
    const { toAccountMg, answeredMg, accountedMg, open } = figuresOf(state, told, scope, answers, mgOf);
    // A 40 g (10 went into C), C 2 g (6 went into P), P 3 packs of 4 g
    expect(toAccountMg).toBe(54_000n);
    // thrown away 3 g and served 4 g; found 30 g and a pack of 4 g
    expect(accountedMg).toBe(41_000n);
    expect(answeredMg).toBe(46_000n);
    expect(open).toEqual({ 'A|kitchen': 2, 'C|kitchen': 2, 'P|kitchen': 1 });
  });
});
