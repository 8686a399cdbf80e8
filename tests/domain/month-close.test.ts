/** Which month may be closed, and what its signature is taken of; months and dates read off a calendar. */
import { createHash } from 'node:crypto';
import { expect, test } from 'vitest';
import { Refused } from '../../src/domain/errors.ts';
import {
  requireAccepted,
  requireClosable,
  requireReopenable,
  signedContent,
  type ClosingState,
} from '../../src/domain/month-close.ts';

const codeOf = (act: () => void): string => {
  try {
    act();
    return 'taken';
  } catch (error) {
    if (error instanceof Refused) return error.code;
    throw error;
  }
};

const fresh: ClosingState = {
  closed: [],
  firstEverClosed: null,
  firstFactMonth: '2026-09',
  today: [{ siteName: 'Ward', date: '2026-11-25' }],
};

test.each<[string, string, Partial<ClosingState>, string]>([
  ['the first month with facts', '2026-09', {}, 'taken'],
  ['a later one first: it closes what came before', '2026-10', {}, 'taken'],
  ['the month before the first facts', '2026-08', {}, 'taken'],
  ['two months before the first facts', '2026-07', {}, 'rule-broken'],
  ['nothing recorded at all', '2026-10', { firstFactMonth: null }, 'rule-broken'],
  ['a month that runs', '2026-11', {}, 'month-not-ended'],
  ['its last day', '2026-10', { today: [{ siteName: 'Ward', date: '2026-10-31' }] }, 'month-not-ended'],
  ['the first day after', '2026-10', { today: [{ siteName: 'Ward', date: '2026-11-01' }] }, 'taken'],
  [
    'ended in Auckland, not in Lisbon',
    '2026-10',
    {
      today: [
        { siteName: 'Auckland', date: '2026-11-01' },
        { siteName: 'Lisbon', date: '2026-10-31' },
      ],
    },
    'month-not-ended',
  ],
  ['the next one', '2026-10', { closed: ['2026-09'], firstEverClosed: '2026-09' }, 'taken'],
  ['twice', '2026-09', { closed: ['2026-09'], firstEverClosed: '2026-09' }, 'month-closed'],
  ['before the first close', '2026-08', { closed: ['2026-09'], firstEverClosed: '2026-09' }, 'month-closed'],
  ['one left out', '2026-10', { closed: ['2026-08'], firstEverClosed: '2026-08' }, 'month-not-oldest'],
  ['over the new year', '2027-01', { closed: ['2026-12'], today: [{ siteName: 'Ward', date: '2027-02-01' }] }, 'taken'],
  [
    'after the only close was reopened: that month first',
    '2026-10',
    { firstEverClosed: '2026-09' },
    'month-not-oldest',
  ],
  ['after the only close was reopened: again', '2026-09', { firstEverClosed: '2026-09' }, 'taken'],
])('%s', (_name, month, state, wanted) => {
  expect(codeOf(() => requireClosable(month, { ...fresh, ...state }))).toBe(wanted);
});

test('what blocks has to be accepted by name; what does not block is not kept', () => {
  const checks = [
    { check: 'open-batches', blocking: true, count: 2 },
    { check: 'uncosted-lots', blocking: true, count: 1 },
    { check: 'negative-balances', blocking: false, count: 0 },
  ];
  const batches = { check: 'open-batches', reason: 'On paper' };
  const others = [
    { check: 'uncosted-lots', reason: 'Invoice to come' },
    { check: 'negative-balances', reason: 'Counted' },
  ];
  expect(codeOf(() => requireAccepted(checks, [batches]))).toBe('checks-open');
  expect(requireAccepted(checks, [batches, ...others])).toEqual([batches, others[0]]);
});

test('only the newest close is reopened, by two people', () => {
  const newest = { closeId: 'b', month: '2026-10' };
  const people = (askedBy: string, confirmedBy: string) => ({ ...newest, newest, people: { askedBy, confirmedBy } });
  expect(codeOf(() => requireReopenable({ closeId: 'a', month: '2026-09', newest }))).toBe('wrong-state');
  expect(codeOf(() => requireReopenable({ ...newest, newest: null }))).toBe('wrong-state');
  expect(codeOf(() => requireReopenable({ ...newest, newest }))).toBe('taken');
  expect(codeOf(() => requireReopenable(people('ann', 'ann')))).toBe('two-people-needed');
  expect(codeOf(() => requireReopenable(people('ann', 'bob')))).toBe('taken');
});

test('the signed content holds what is named, whatever else the close knows', () => {
  const close = {
    month: '2026-10',
    cut: { seq: 7, moneyNo: 2, recordedAtMs: 5 },
    reportSha256: createHash('sha256').update('report').digest('hex'),
    checks: [],
    accepted: [],
    previousHash: null,
  };
  expect(Object.keys(signedContent(close)).sort()).toEqual([
    'accepted',
    'checks',
    'cut',
    'month',
    'previousHash',
    'reportSha256',
  ]);
  expect(signedContent(close)['cut']).toEqual({ seq: 7, moneyNo: 2 });
});
