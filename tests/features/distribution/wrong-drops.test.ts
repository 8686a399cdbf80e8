import { expect, test } from 'vitest';
import { likelyWrongDrops, type DropBalance } from '../../../src/features/distribution/wrong-drops.ts';

const drop = (dispatchId: string, inTransit: number, more: Partial<DropBalance> = {}): DropBalance => ({
  dispatchId,
  lotId: 'stew',
  lotCode: 'STEW-1',
  inTransit,
  closed: true,
  departed: true,
  ...more,
});
const pairs = (balances: DropBalance[]) =>
  likelyWrongDrops(balances).map((one) => [one.missingAtDispatchId, one.overAtDispatchId, one.lotId, one.quantity]);

test('what is missing here and over there is paired, each pack once', () => {
  expect(pairs([drop('a', 5), drop('b', -2), drop('c', -4)])).toEqual([
    ['a', 'b', 'stew', 2],
    ['a', 'c', 'stew', 3],
  ]);
  expect(pairs([drop('a', 2), drop('b', 2), drop('c', -3)])).toEqual([
    ['a', 'c', 'stew', 2],
    ['b', 'c', 'stew', 1],
  ]);
});

test('another lot, a drop still to come, and a departure that is not known make no pair', () => {
  expect(pairs([drop('a', 5), drop('b', -5, { lotId: 'soup' })])).toEqual([]);
  expect(pairs([drop('a', 5, { closed: false }), drop('b', -5)])).toEqual([]);
  expect(pairs([drop('a', 5), drop('b', -5, { departed: false })])).toEqual([]);
  expect(pairs([drop('a', 0), drop('b', -5)])).toEqual([]);
});
