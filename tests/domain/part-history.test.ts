/** Where the parts of a lot have been: by event time, in any order of arrival; expected ways are worked out by hand from the story in each title. */
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { lotHistory, type LotAccount, type LotPosting, type Way } from '../../src/domain/limits/history.ts';

const accounts = new Map<string, LotAccount>(
  (
    [
      ['made', 'produced'],
      ['A', 'place'],
      ['B', 'place'],
      ['van', 'transit'],
      ['ward', 'place'],
      ['served', 'served'],
      ['variance', 'variance'],
      ['consumed', 'consumed'],
    ] as const
  ).map(([accountId, kind]) => [accountId, { accountId, kind, twinOf: null }]),
);
accounts.set('A-short', { accountId: 'A-short', kind: 'place', twinOf: 'A' });

const go = (occurredAtMs: number, fromAccountId: string, toAccountId: string, quantity: number): LotPosting => ({
  occurredAtMs,
  fromAccountId,
  toAccountId,
  quantity,
  processId: toAccountId === 'consumed' ? 'batch' : null,
});
const words = (way: Way): string =>
  way.map((one) => `${one.accountId ?? '?'} ${one.fromMs}-${one.toMs ?? ''}`).join(', ');
const partsOf = (postings: readonly LotPosting[], bornAtMs = 0): Record<string, string[]> =>
  Object.fromEntries(
    lotHistory(bornAtMs, postings, accounts).parts.map((part) => [
      `${part.accountId} x${part.quantity}`,
      part.ways.map(words),
    ]),
  );

test('a move takes the history along, and what stays behind keeps its own', () => {
  expect(partsOf([go(0, 'made', 'A', 10), go(5, 'A', 'van', 4), go(9, 'van', 'ward', 4)])).toEqual({
    'A x6': ['A 0-'],
    'ward x4': ['A 0-5, van 5-9, ward 9-'],
  });
});

test('food that joins keeps both ways; when all of it has gone nothing of it is left', () => {
  const split = [go(0, 'made', 'A', 10), go(5, 'A', 'van', 4), go(6, 'A', 'ward', 4), go(9, 'van', 'ward', 4)];
  expect(partsOf(split)['ward x8']).toEqual(['A 0-5, van 5-9, ward 9-', 'A 0-6, ward 6-']);
  const anew = [...split, go(10, 'ward', 'served', 8), go(12, 'A', 'ward', 2)];
  expect(partsOf(anew)).toEqual({ 'ward x2': ['A 0-12, ward 12-'] });
});

test('counted missing and found again in the same place never left it; back from the ward it was nobody knows where', () => {
  const found = [go(0, 'made', 'A', 5), go(3, 'A', 'variance', 5), go(8, 'variance', 'A', 5)];
  expect(partsOf(found)).toEqual({ 'A x5': ['A 0-'] });
  const back = [go(0, 'made', 'A', 5), go(3, 'A', 'served', 5), go(8, 'served', 'B', 2)];
  expect(partsOf(back)).toEqual({ 'B x2': ['A 0-3, ? 3-8, B 8-'] });
});

test('food that turns up where nobody booked it has been nobody knows where since it was made', () => {
  expect(partsOf([go(0, 'made', 'A', 5), go(90_000_000, 'B', 'ward', 2)])['ward x2']).toEqual([
    '? 0-90000000, ward 90000000-',
  ]);
});

test('said to have left before it came, within a day: clocks differ, it left when it came', () => {
  expect(partsOf([go(10, 'made', 'A', 5), go(7, 'A', 'van', 5)])).toEqual({ 'van x5': ['van 10-'] });
});

test('a shortfall account is the place that it is the twin of: what leaves beyond what was booked had been there too', () => {
  expect(partsOf([go(0, 'made', 'A', 5), go(4, 'A', 'van', 5), go(4, 'A-short', 'van', 1)])).toEqual({
    'van x6': ['A 0-4, van 4-'],
  });
});

test('what a batch took had been where it was until then', () => {
  const { taken } = lotHistory(0, [go(0, 'made', 'A', 9), go(2, 'A', 'B', 4), go(6, 'B', 'consumed', 4)], accounts);
  expect(taken.map(({ processId, atMs, ways }) => [processId, atMs, ways.map(words)])).toEqual([
    ['batch', 6, ['A 0-2, B 2-6']],
  ]);
});

test('packs scanned one by one are told by the first and the last of them; a quarter of an hour later is another way', () => {
  const minute = 60_000;
  const scans = [0, 1, 2, 3, 4].map((no) => go(60 * minute + no * 4_000, 'A', 'ward', 1));
  const late = go(76 * minute, 'A', 'ward', 1);
  expect(partsOf([go(0, 'made', 'A', 9), ...scans, late])['ward x6']).toEqual([
    'A 0-3600000, ward 3600000-',
    'A 0-3616000, ward 3616000-',
    'A 0-4560000, ward 4560000-',
  ]);
});

test('the order in which postings were recorded changes nothing', () => {
  const place = fc.constantFrom('A', 'B', 'van', 'ward');
  const move = fc.record({
    at: fc.integer({ min: 1, max: 30 }),
    from: place,
    to: place,
    quantity: fc.integer({ min: 1, max: 4 }),
  });
  const story = fc
    .array(move, { maxLength: 12 })
    .map((moves) => [
      go(0, 'made', 'A', 12),
      ...moves.filter(({ from, to }) => from !== to).map(({ at, from, to, quantity }) => go(at, from, to, quantity)),
    ]);
  fc.assert(
    fc.property(
      story.chain((postings) =>
        fc.tuple(fc.constant(postings), fc.shuffledSubarray(postings, { minLength: postings.length })),
      ),
      ([postings, shuffled]) => {
        expect(lotHistory(0, shuffled, accounts)).toEqual(lotHistory(0, postings, accounts));
        // what is there is what came in less what left, whatever the ways
        const net = new Map<string, number>();
        for (const { fromAccountId, toAccountId, quantity } of postings) {
          net.set(fromAccountId, (net.get(fromAccountId) ?? 0) - quantity);
          net.set(toAccountId, (net.get(toAccountId) ?? 0) + quantity);
        }
        for (const part of lotHistory(0, postings, accounts).parts) expect(part.quantity).toBe(net.get(part.accountId));
      },
    ),
    { numRuns: 300 },
  );
});
