/** The book's arithmetic by tables worked out by hand: a cold store and a van, each with its shortfall twin. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  enterCount,
  netOf,
  openBook,
  partKey,
  post,
  removeCount,
  type Book,
  type CountMark,
  type EntryDraft,
  type Move,
} from '../../src/domain/ledger/book.ts';

const PHYSICAL = [
  { accountId: 'cold', twinId: 'cold-', varianceId: 'variance', servedId: 'served' },
  { accountId: 'van', twinId: 'van-', varianceId: 'variance', servedId: 'served' },
];
const LOT = 'stew';
const cold = { lotId: LOT, accountId: 'cold' };
const van = { lotId: LOT, accountId: 'van' };

const move = (fromAccountId: string, toAccountId: string, quantity: number): Move => ({
  lotId: LOT,
  fromAccountId,
  toAccountId,
  quantity,
  basis: 'counted',
});
let entries = 0;
const entry = (occurredAtMs: number, moves: readonly Move[], more: Partial<EntryDraft> = {}): EntryDraft => {
  entries += 1;
  const entryId = `e${entries}`;
  const told = { entryId, kind: 'move', factId: entryId, siteId: 'ward', contentHash: Buffer.alloc(32) };
  return { ...told, occurredAtMs, occurredOn: '2026-11-25', moves, ...more };
};
const mark = (countId: string, occurredAtMs: number): CountMark => ({
  ...cold,
  countId,
  occurredAtMs,
  occurredOn: '2026-11-25',
  siteId: 'ward',
  usedByCount: false,
});
const bookWith = (nets: Record<string, number> = {}, counts: readonly CountMark[] = []): Book =>
  openBook(
    PHYSICAL,
    new Map(Object.entries(nets).map(([accountId, net]) => [partKey({ lotId: LOT, accountId }), net])),
    counts,
  );
/** "from>to quantity" of everything accepted, an entry each. */
const written = (book: Book): string[][] =>
  book.accepted.map(({ postings }) => postings.map((p) => `${p.fromAccountId}>${p.toAccountId} ${p.quantity}`));

/** Counts as a caller does: what it differs by against what stands before, then post. */
function count(book: Book, one: CountMark, counted: number, recordedBefore = 0): number {
  const told = { ...one, complete: false, lines: [{ lotId: one.lotId, counted }] };
  const before = new Map([[`${one.countId}|${partKey(one)}`, recordedBefore]]);
  const { lines, moves } = enterCount(book, told, [], before);
  post(book, entry(one.occurredAtMs, moves, { kind: 'stock-count', countId: one.countId }));
  return lines[0]?.difference ?? Number.NaN;
}

describe('a move between accounts and their twins', () => {
  test.each<[string, Record<string, number>, Move, string[], [number, number]]>([
    ['in, nothing owed', {}, move('supplier', 'cold', 10), ['supplier>cold 10'], [10, 0]],
    ['out of what is there', { cold: 10 }, move('cold', 'served', 4), ['cold>served 4'], [6, 0]],
    ['out of exactly what is there', { cold: 4 }, move('cold', 'served', 4), ['cold>served 4'], [0, 0]],
    ['out, more than is there', { cold: 3 }, move('cold', 'served', 5), ['cold>served 3', 'cold->served 2'], [-2, 0]],
    ['out of nothing', {}, move('cold', 'served', 5), ['cold->served 5'], [-5, 0]],
    [
      'in, settles what is owed first',
      { cold: -2 },
      move('supplier', 'cold', 5),
      ['supplier>cold- 2', 'supplier>cold 3'],
      [3, 0],
    ],
    ['in, less than is owed', { cold: -5 }, move('supplier', 'cold', 5), ['supplier>cold- 5'], [0, 0]],
    ['across, enough there and nothing owed', { cold: 9 }, move('cold', 'van', 9), ['cold>van 9'], [0, 9]],
    [
      // 3 are there, the van is owed 5: 3 go to its twin, 2 more of the shortfall do, the last 3 stay in the van
      'across, too little there and something owed',
      { cold: 3, van: -5 },
      move('cold', 'van', 8),
      ['cold>van- 3', 'cold->van- 2', 'cold->van 3'],
      [-5, 3],
    ],
  ])('%s', (_name, nets, one, postings, [inCold, inVan]) => {
    const book = bookWith(nets);
    post(book, entry(1, [one]));
    expect(written(book)).toEqual([postings]);
    expect([netOf(book, cold), netOf(book, van)]).toEqual([inCold, inVan]);
  });

  test('between accounts that hold no food is one posting, and no part is touched', () => {
    const book = bookWith();
    post(book, entry(1, [move('supplier', 'consumed', 7)]));
    expect(written(book)).toEqual([['supplier>consumed 7']]);
    expect(book.touched.size).toBe(0);
  });
});

describe('a count', () => {
  test('is counted minus what stands before it, and brings the part there', () => {
    const book = bookWith();
    post(book, entry(1, [move('supplier', 'cold', 10)]));
    expect(count(book, mark('c', 5), 8)).toBe(-2);
    expect(netOf(book, cold)).toBe(8);
    expect(written(book)).toEqual([['supplier>cold 10'], ['cold>variance 2']]);
  });

  test('does not see what comes after it', () => {
    const book = bookWith();
    post(book, entry(1, [move('supplier', 'cold', 10)]));
    post(book, entry(9, [move('cold', 'served', 4)]));
    expect(count(book, mark('c', 5), 10)).toBe(0);
    expect(netOf(book, cold)).toBe(6);
  });

  test('comes after the facts of its own moment', () => {
    const book = bookWith();
    post(book, entry(5, [move('supplier', 'cold', 10)]));
    expect(count(book, mark('c', 5), 7)).toBe(-3);
  });

  test('takes in what was recorded before this transaction', () => {
    const book = bookWith({ cold: 10 });
    expect(count(book, mark('c', 5), 12, 10)).toBe(2);
    expect(netOf(book, cold)).toBe(12);
  });

  test('is adjusted by what is told later but happened before it', () => {
    const book = bookWith({ cold: 8 }, [mark('c', 5)]);
    post(book, entry(3, [move('cold', 'served', 2)]));
    expect(written(book)).toEqual([['cold>served 2'], ['variance>cold 2']]);
    expect(book.accepted[1]?.draft).toMatchObject({
      kind: 'stock-count',
      countId: 'c',
      occurredAtMs: 5,
      siteId: 'ward',
    });
    expect(netOf(book, cold)).toBe(8);
  });

  test('only the next one after a late fact is adjusted', () => {
    const book = bookWith({ cold: 8 }, [mark('late', 9), mark('next', 5), mark('early', 2)]);
    post(book, entry(3, [move('supplier', 'cold', 4)]));
    expect(book.accepted.map(({ draft }) => draft.countId ?? null)).toEqual([null, 'next']);
    expect(netOf(book, cold)).toBe(8);
  });

  test('is not adjusted by what happened after it', () => {
    const book = bookWith({ cold: 8 }, [mark('c', 5)]);
    post(book, entry(6, [move('cold', 'served', 2)]));
    expect(written(book)).toEqual([['cold>served 2']]);
  });

  test('put in before another takes its difference from that one', () => {
    const book = bookWith();
    post(book, entry(1, [move('supplier', 'cold', 10)]));
    expect(count(book, mark('second', 8), 6)).toBe(-4);
    expect(count(book, mark('first', 4), 7)).toBe(-3);
    // -3 at the first, so -1 is left of the second's -4
    expect(written(book).slice(2)).toEqual([['cold>variance 3'], ['variance>cold 3']]);
    expect(netOf(book, cold)).toBe(6);
  });

  test('of the same moment goes by its id', () => {
    const book = bookWith({ cold: 8 }, [mark('b', 5)]);
    post(book, entry(5, [move('cold', 'variance', 1)], { kind: 'stock-count', countId: 'a' }));
    expect(book.accepted.at(-1)?.draft.countId).toBe('b');
    post(book, entry(5, [move('cold', 'variance', 1)], { kind: 'stock-count', countId: 'c' }));
    expect(book.accepted.at(-1)?.draft.countId).toBe('c');
  });

  test('that was undone is adjusted no more, the next one is', () => {
    const book = bookWith({ cold: 8 }, [mark('a', 5), mark('b', 7)]);
    removeCount(book, 'a');
    post(book, entry(3, [move('cold', 'served', 2)]));
    expect(book.accepted.map(({ draft }) => draft.countId ?? null)).toEqual([null, 'b']);
  });
});

describe('any order', () => {
  const someMove = fc.record({
    from: fc.constantFrom('cold', 'van', 'supplier'),
    to: fc.constantFrom('cold', 'van', 'served'),
    quantity: fc.integer({ min: 1, max: 9 }),
    atMs: fc.nat(20),
  });
  const someMoves = fc.array(
    someMove.filter(({ from, to }) => from !== to),
    { minLength: 1, maxLength: 10 },
  );
  const bothOrders = someMoves.chain((moves) =>
    fc.tuple(fc.constant(moves), fc.shuffledSubarray(moves, { minLength: moves.length, maxLength: moves.length })),
  );
  /** Balances per account, twins apart, as the postings alone say. */
  const balances = (book: Book): Record<string, number> => {
    const sums: Record<string, number> = {};
    for (const { fromAccountId, toAccountId, quantity } of book.accepted.flatMap(({ postings }) => postings)) {
      sums[fromAccountId] = (sums[fromAccountId] ?? 0) - quantity;
      sums[toAccountId] = (sums[toAccountId] ?? 0) + quantity;
    }
    return Object.fromEntries(Object.entries(sums).filter(([, sum]) => sum !== 0));
  };

  test('of the same moves ends in the same balances, twins included, and never in both of a pair', () => {
    fc.assert(
      fc.property(bothOrders, ([moves, others]) => {
        const ends = [moves, others].map((order) => {
          const book = bookWith();
          for (const { from, to, quantity, atMs } of order) post(book, entry(atMs, [move(from, to, quantity)]));
          return balances(book);
        });
        expect(ends[1]).toEqual(ends[0]);
        for (const account of ['cold', 'van']) {
          expect(ends[0]?.[account] ?? 0).toBeGreaterThanOrEqual(0);
          expect(ends[0]?.[`${account}-`] ?? 0).toBeLessThanOrEqual(0);
          expect(ends[0]?.[account] !== undefined && ends[0]?.[`${account}-`] !== undefined).toBe(false);
        }
      }),
    );
  });

  test('of the same moves and counts ends the same, and nothing is lost', () => {
    fc.assert(
      fc.property(
        bothOrders,
        fc.array(fc.tuple(fc.nat(20), fc.nat(30)), { maxLength: 3 }),
        ([moves, others], counts) => {
          const run = (order: typeof moves, countsFirst: boolean): Record<string, number> => {
            const book = bookWith();
            const tell = () => {
              for (const { from, to, quantity, atMs } of order) post(book, entry(atMs, [move(from, to, quantity)]));
            };
            if (!countsFirst) tell();
            for (const [at, [atMs, counted]] of counts.entries()) count(book, mark(`c${at}`, atMs), counted);
            if (countsFirst) tell();
            return balances(book);
          };
          const first = run(moves, false);
          expect(run(others, true)).toEqual(first);
          expect(Object.values(first).reduce((sum, one) => sum + one, 0)).toBe(0);
        },
      ),
    );
  });
});
