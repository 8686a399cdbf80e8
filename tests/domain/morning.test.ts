/** Which list a part of the stock is on, and by when. Instants are worked out by hand from the zone's published offsets. */
import { describe, expect, test } from 'vitest';
import { wordsOfFinding } from '../../src/domain/findings.ts';
import { dueText, endOfTodayMs, listFor, startOfTodayMs } from '../../src/domain/morning.ts';

const ZONE = 'Europe/London';
const at = (text: string): number => Date.parse(text);
const noon = at('2026-11-25T12:00:00Z');
const part = (useBy: string | null, more: object = {}) => ({
  useByMs: useBy === null ? null : at(useBy),
  quarantine: false,
  held: false,
  ...more,
});

describe('a part is on one list, the gravest', () => {
  test.each([
    ['ends with the day', part('2026-11-26T00:00:00Z'), 'use-today'],
    ['ends at three', part('2026-11-25T15:00:00Z'), 'use-today'],
    ['ends a minute into tomorrow', part('2026-11-26T00:01:00Z'), 'later'],
    ['ended this minute', part('2026-11-25T12:00:00Z'), 'past-date'],
    ['has no limit', part(null), 'later'],
    ['ends today, in quarantine', part('2026-11-26T00:00:00Z', { quarantine: true }), 'set-aside'],
    ['ends next week, on hold', part('2026-12-02T00:00:00Z', { held: true }), 'set-aside'],
    ['past its date, on hold', part('2026-11-25T00:00:00Z', { held: true }), 'past-date'],
  ])('%s', (_, one, list) => {
    expect(listFor(one, noon, ZONE)).toBe(list);
  });
});

describe('today at the site', () => {
  test('the day of 25 hours: it starts at 00:00 UTC+1 and ends at 00:00 UTC (Europe/London, 25 October 2026)', () => {
    const now = at('2026-10-25T09:00:00Z');
    expect([startOfTodayMs(now, ZONE), endOfTodayMs(now, ZONE)]).toEqual([
      at('2026-10-24T23:00:00Z'),
      at('2026-10-26T00:00:00Z'),
    ]);
  });
  test('late in the evening in Sydney it is already tomorrow there (UTC+11)', () => {
    expect(endOfTodayMs(at('2026-11-25T14:00:00Z'), 'Australia/Sydney')).toBe(at('2026-11-26T13:00:00Z'));
  });
});

describe('by when', () => {
  test.each([
    ['2026-11-26T00:00:00Z', 'by the end of today'],
    ['2026-11-25T15:00:00Z', 'by 15:00'],
    ['2026-11-30T00:00:00Z', 'until 29 Nov'],
    ['2026-11-25T00:00:00Z', 'after 24 Nov'],
    ['2026-11-25T09:30:00Z', 'since 25 Nov 09:30'],
  ])('%s is %s', (useBy, words) => {
    expect(dueText(at(useBy), noon, ZONE)).toBe(words);
  });
  test('a time that comes twice says which (01:30 on 25 October 2026)', () => {
    expect(dueText(at('2026-10-25T00:30:00Z'), at('2026-10-24T23:30:00Z'), ZONE)).toBe('by 01:30 UTC+1');
  });
});

test('a finding says what to do in words, one that is not listed too', () => {
  expect(wordsOfFinding('shortfall').label).toBe('More was taken than was booked');
  expect(wordsOfFinding('moon-phase')).toEqual({ label: 'moon phase', advice: 'Look at it with the quality lead.' });
});
