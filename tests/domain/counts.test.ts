/**
 * Complete counts and places used by count, by tables worked out by hand and by a second way of computing: everything told is
 * put in event order and walked once, from nothing, which a ledger that hears of things in any order must come to as well.
 */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  enterCount,
  netOf,
  openBook,
  post,
  removeCount,
  type Book,
  type CountDraft,
  type CountHead,
  type EntryDraft,
  type Move,
} from '../../src/domain/ledger/book.ts';

const PHYSICAL = ['chiller', 'store'].map((accountId) => ({
  accountId,
  twinId: `${accountId}-`,
  varianceId: 'variance',
  servedId: 'served',
}));
const stew = { lotId: 'stew', accountId: 'chiller' };
const soup = { lotId: 'soup', accountId: 'chiller' };

let entries = 0;
function entry(occurredAtMs: number, moves: readonly Move[], more: Partial<EntryDraft> = {}): EntryDraft {
  entries += 1;
  const entryId = `e${entries}`;
  const told = { entryId, kind: 'move', factId: entryId, siteId: 'hotel', contentHash: Buffer.alloc(32) };
  return { ...told, occurredAtMs, occurredOn: '2026-11-25', moves, ...more };
}
const move = (lotId: string, fromAccountId: string, toAccountId: string, quantity: number): Move => ({
  lotId,
  fromAccountId,
  toAccountId,
  quantity,
  basis: 'counted',
});
const head = (countId: string, occurredAtMs: number, usedByCount: boolean): CountHead => ({
  countId,
  accountId: 'chiller',
  siteId: 'hotel',
  occurredAtMs,
  occurredOn: '2026-11-25',
  usedByCount,
});

type Kind = Pick<CountDraft, 'complete' | 'usedByCount'>;
const USED: Kind = { complete: false, usedByCount: true };
const COMPLETE: Kind = { complete: true, usedByCount: false };

const LOTS = ['stew', 'soup', 'rice'];

/** Counts as a caller does, in a book that has seen everything. */
function count(book: Book, countId: string, atMs: number, kind: Kind, counted: Readonly<Record<string, number>>) {
  const lines = Object.entries(counted).map(([lotId, quantity]) => ({ lotId, counted: quantity }));
  const told = { ...head(countId, atMs, kind.usedByCount), complete: kind.complete, lines };
  const unnamed = LOTS.filter((lotId) => counted[lotId] === undefined);
  const entered = enterCount(book, told, unnamed, new Map());
  post(book, entry(atMs, entered.moves, { kind: 'stock-count', countId }));
  return entered.lines;
}

/** What is in each account of each lot by the postings alone, a shortfall with its place; noughts left out. */
function totals(book: Book): Record<string, number> {
  const sums: Record<string, number> = {};
  for (const { lotId, fromAccountId, toAccountId, quantity } of book.accepted.flatMap(({ postings }) => postings)) {
    const [from, to] = [fromAccountId, toAccountId].map((id) => `${lotId} ${id.replace(/-$/, '')}`) as [string, string];
    sums[from] = (sums[from] ?? 0) - quantity;
    sums[to] = (sums[to] ?? 0) + quantity;
  }
  return Object.fromEntries(Object.entries(sums).filter(([, sum]) => sum !== 0));
}

const posted = (book: Book): string[][] =>
  book.accepted.map(({ postings }) =>
    postings.map((p) => `${p.lotId} ${p.fromAccountId}>${p.toAccountId} ${p.quantity} ${p.basis}`),
  );

describe('at a place used by count', () => {
  test('what is gone was served, what is over is variance', () => {
    const book = openBook(PHYSICAL, new Map(), []);
    post(book, entry(1, [move('stew', 'supplier', 'chiller', 20)]));
    expect(count(book, 'a', 5, USED, { stew: 14 })).toEqual([
      { lotId: 'stew', counted: 14, booked: 20, difference: -6, named: true },
    ]);
    count(book, 'b', 7, USED, { stew: 15 });
    expect(posted(book).slice(1)).toEqual([['stew chiller>served 6 derived'], ['stew variance>chiller 1 counted']]);
    expect(netOf(book, stew)).toBe(15);
  });

  test.each<[string, number, Move, string[], number]>([
    ['a late discard was not use', -6, move('stew', 'chiller', 'waste', 2), ['stew served>chiller 2 derived'], -4],
    [
      'a late arrival was used as well',
      -6,
      move('stew', 'supplier', 'chiller', 3),
      ['stew chiller>served 3 derived'],
      -9,
    ],
    [
      // 6 less than booked, and then 8 turn out to have been thrown away: 2 too many are there
      'a late discard of more than was used leaves some over',
      -6,
      move('stew', 'chiller', 'waste', 8),
      ['stew served>chiller 6 derived', 'stew variance>chiller 2 counted'],
      2,
    ],
    [
      'a late arrival of more than was over was used',
      2,
      move('stew', 'supplier', 'chiller', 5),
      ['stew chiller>served 3 derived', 'stew chiller>variance 2 counted'],
      -3,
    ],
    [
      'a late arrival takes from what was over',
      4,
      move('stew', 'supplier', 'chiller', 1),
      ['stew chiller>variance 1 counted'],
      3,
    ],
  ])('%s', (_name, before, late, moves, after) => {
    const difference = new Map([['a|stew|chiller', before]]);
    const book = openBook(
      PHYSICAL,
      new Map([['stew|chiller', 14]]),
      [{ ...head('a', 5, true), lotId: 'stew' }],
      [],
      difference,
    );
    post(book, entry(3, [late]));
    expect(posted(book)[1]).toEqual(moves);
    expect(netOf(book, stew)).toBe(14);
    expect(book.marks.differences.get('a|stew|chiller')).toBe(after);
  });

  test('two moves of one fact correct the count once', () => {
    const book = openBook(PHYSICAL, new Map([['stew|chiller', 5]]), [{ ...head('a', 5, true), lotId: 'stew' }]);
    post(book, entry(3, [move('stew', 'supplier', 'chiller', 4), move('stew', 'chiller', 'waste', 4)]));
    expect(posted(book)).toHaveLength(1);
  });
});

describe('a complete count', () => {
  test('says zero of what it does not name', () => {
    const book = openBook(PHYSICAL, new Map(), []);
    post(book, entry(1, [move('stew', 'supplier', 'chiller', 5), move('soup', 'supplier', 'chiller', 3)]));
    expect(count(book, 'a', 5, COMPLETE, { stew: 5 })).toEqual([
      { lotId: 'stew', counted: 5, booked: 5, difference: 0, named: true },
      { lotId: 'soup', counted: 0, booked: 3, difference: -3, named: false },
    ]);
    expect([netOf(book, stew), netOf(book, soup)]).toEqual([5, 0]);
  });

  test('says it of what is heard of only later, and only of its own place', () => {
    const book = openBook(PHYSICAL, new Map(), [], [head('a', 5, false)]);
    post(book, entry(3, [move('soup', 'supplier', 'chiller', 4)]));
    post(book, entry(3, [move('soup', 'supplier', 'store', 4)]));
    post(book, entry(6, [move('soup', 'supplier', 'chiller', 1)]));
    expect(posted(book)).toEqual([
      ['soup supplier>chiller 4 counted'],
      ['soup chiller>variance 4 counted'],
      ['soup supplier>store 4 counted'],
      ['soup supplier>chiller 1 counted'],
    ]);
    expect(netOf(book, soup)).toBe(1);
  });

  test('says what it counted of what it names, once', () => {
    const named = { ...head('a', 5, false), lotId: 'stew' };
    const book = openBook(
      PHYSICAL,
      new Map([['stew|chiller', 6]]),
      [named],
      [head('a', 5, false), head('b', 8, false)],
    );
    post(book, entry(3, [move('stew', 'supplier', 'chiller', 2)]));
    expect(posted(book)[1]).toEqual(['stew chiller>variance 2 counted']);
    expect(book.accepted[1]?.draft.countId).toBe('a');
    expect(netOf(book, stew)).toBe(6);
  });

  test('that was undone says nothing more', () => {
    const book = openBook(PHYSICAL, new Map(), [], [head('a', 5, false), head('b', 8, true)]);
    removeCount(book, 'a');
    post(book, entry(3, [move('soup', 'supplier', 'chiller', 4)]));
    expect(book.accepted.map(({ draft }) => draft.countId ?? null)).toEqual([null, 'b']);
  });
});

test('a book refuses what is before the counts that it was loaded with', () => {
  const book = openBook(PHYSICAL, new Map(), [], [], new Map(), 5);
  post(book, entry(5, [move('soup', 'supplier', 'chiller', 4)]));
  expect(() => post(book, entry(4, [move('soup', 'supplier', 'chiller', 4)]))).toThrow(RangeError);
});

/* The second way. */

type Told =
  | {
      readonly id: string;
      readonly atMs: number;
      readonly lotId: string;
      readonly from: string;
      readonly to: string;
      readonly quantity: number;
    }
  | ({ readonly id: string; readonly atMs: number; readonly counted: Readonly<Record<string, number>> } & Kind);

const isCount = (told: Told): told is Extract<Told, Kind> => 'counted' in told;

/** Walks once through everything in event order; facts before counts of one moment, counts by id. */
function walked(story: readonly Told[]): Record<string, number> {
  const order = [...story].sort(
    (a, b) => a.atMs - b.atMs || Number(isCount(a)) - Number(isCount(b)) || (a.id < b.id ? -1 : 1),
  );
  const sums: Record<string, number> = {};
  const shift = (lotId: string, from: string, to: string, quantity: number) => {
    sums[`${lotId} ${from}`] = (sums[`${lotId} ${from}`] ?? 0) - quantity;
    sums[`${lotId} ${to}`] = (sums[`${lotId} ${to}`] ?? 0) + quantity;
  };
  for (const told of order) {
    if (!isCount(told)) {
      shift(told.lotId, told.from, told.to, told.quantity);
      continue;
    }
    for (const lotId of LOTS) {
      const counted = told.counted[lotId] ?? (told.complete ? 0 : null);
      if (counted === null) continue;
      const gone = (sums[`${lotId} chiller`] ?? 0) - counted;
      shift(lotId, 'chiller', gone > 0 && told.usedByCount ? 'served' : 'variance', gone);
    }
  }
  return Object.fromEntries(Object.entries(sums).filter(([, sum]) => sum !== 0));
}

describe('any order of arrival', () => {
  const someMove = fc
    .record({
      atMs: fc.nat(12),
      lotId: fc.constantFrom(...LOTS),
      from: fc.constantFrom('supplier', 'supplier', 'store', 'chiller'),
      to: fc.constantFrom('chiller', 'chiller', 'store', 'served', 'waste'),
      quantity: fc.integer({ min: 1, max: 9 }),
    })
    .filter(({ from, to }) => from !== to);
  const someCount = fc.record({
    atMs: fc.nat(12),
    counted: fc.dictionary(fc.constantFrom(...LOTS), fc.nat(12), { noNullPrototype: true }),
    complete: fc.boolean(),
    usedByCount: fc.boolean(),
  });
  const story = fc
    .tuple(fc.array(someMove, { minLength: 1, maxLength: 8 }), fc.array(someCount, { minLength: 1, maxLength: 4 }))
    .map(([moves, counts]): Told[] => [...moves, ...counts].map((told, at) => ({ ...told, id: `f${at}` })));
  const inOrder = story.chain((told) =>
    fc.tuple(fc.constant(told), fc.shuffledSubarray(told, { minLength: told.length, maxLength: told.length })),
  );

  test('of facts and of counts of all kinds gives what walking through them once gives', () => {
    fc.assert(
      fc.property(inOrder, ([told, arrival]) => {
        const book = openBook(PHYSICAL, new Map(), []);
        for (const one of arrival) {
          if (isCount(one)) count(book, one.id, one.atMs, one, one.counted);
          else post(book, entry(one.atMs, [move(one.lotId, one.from, one.to, one.quantity)]));
        }
        expect(totals(book)).toEqual(walked(told));
      }),
      { numRuns: 500 },
    );
  });

  test('a count that is undone leaves what would be without it', () => {
    fc.assert(
      fc.property(inOrder, fc.nat(), ([told, arrival], pick) => {
        const counts = told.filter(isCount);
        const undone = counts[pick % counts.length];
        if (!undone) return;
        const book = openBook(PHYSICAL, new Map(), []);
        for (const one of arrival) {
          if (isCount(one)) count(book, one.id, one.atMs, one, one.counted);
          else post(book, entry(one.atMs, [move(one.lotId, one.from, one.to, one.quantity)]));
        }
        // as the ledger does: the opposite of all that was posted for the count, where the count stood
        const back = book.accepted
          .filter(({ draft }) => draft.countId === undone.id)
          .flatMap(({ draft }) => draft.moves)
          .map((one): Move => ({ ...one, fromAccountId: one.toAccountId, toAccountId: one.fromAccountId }));
        removeCount(book, undone.id);
        post(book, entry(undone.atMs, back, { kind: 'reversal', countId: undone.id }));
        expect(totals(book)).toEqual(walked(told.filter((one) => one !== undone)));
      }),
      { numRuns: 500 },
    );
  });
});
