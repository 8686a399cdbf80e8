/** SSCCs against numbers worked out elsewhere; boxes against a ledger kept by hand, in any order. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { boxBalance } from '../../src/domain/box-balances.ts';
import { allocateSsccs, highestSerial, rangesOverlap, ssccOf } from '../../src/domain/sscc-ranges.ts';

describe('SSCCs', () => {
  test('the example of GS1’s EPC Tag Data Standard (from memory): 0614141, extension 1, 234567890', () => {
    expect(ssccOf({ companyPrefix: '0614141', extensionDigit: 1 }, 234_567_890)).toBe('106141412345678908');
  });

  test('prefix and serial reference share sixteen digits', () => {
    expect([4, 7, 12].map((length) => highestSerial('9'.repeat(length)))).toEqual([
      999_999_999_999, 999_999_999, 9_999,
    ]);
    expect(() => ssccOf({ companyPrefix: '952000000001', extensionDigit: 0 }, 10_000)).toThrow(RangeError);
    expect(() => ssccOf({ companyPrefix: '952000000001', extensionDigit: 0 }, -1)).toThrow(RangeError);
  });

  test('ranges in turn, however the asking is split: eighteen digits, none twice', () => {
    const start = [
      { rangeId: 'a', companyPrefix: '952000000001', extensionDigit: 3, lastSerial: 9_989 },
      { rangeId: 'b', companyPrefix: '9520001', extensionDigit: 0, lastSerial: -1 },
    ];
    const whole = allocateSsccs(start, 60).ssccs;
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 1, max: 12 }), { minLength: 1, maxLength: 5 }), (counts) => {
        let ranges = start;
        const given: string[] = [];
        for (const count of counts) {
          const next = allocateSsccs(ranges, count);
          given.push(...next.ssccs);
          ranges = ranges.map((range) => ({ ...range, ...next.ranges.find((one) => one.rangeId === range.rangeId) }));
        }
        expect(given).toEqual(whole.slice(0, given.length));
      }),
    );
    expect(new Set(whole).size).toBe(60);
    expect(whole.every((sscc) => /^(3952000000001\d{5}|09520001\d{10})$/.test(sscc))).toBe(true);
  });

  test('two ranges that could come to one number', () => {
    const range = { companyPrefix: '9520001', extensionDigit: 0 };
    expect(rangesOverlap(range, { companyPrefix: '95200012', extensionDigit: 0 })).toBe(true);
    expect(rangesOverlap(range, { companyPrefix: '95200012', extensionDigit: 1 })).toBe(false);
    expect(rangesOverlap(range, { companyPrefix: '9520002', extensionDigit: 0 })).toBe(false);
  });
});

describe('boxes', () => {
  const counts = [
    { countId: 'a', occurredAtMs: 100, quantity: 20 },
    { countId: 'b', occurredAtMs: 200, quantity: 17 },
  ];
  const flows = [
    { occurredAtMs: 50, quantity: 9 },
    { occurredAtMs: 100, quantity: 5 },
    { occurredAtMs: 150, quantity: -4 },
    { occurredAtMs: 160, quantity: 3 },
    { occurredAtMs: 250, quantity: -6 },
    { occurredAtMs: 260, quantity: 2 },
  ];

  test('by hand: 20 counted, 4 left and 3 came: 19 should be; 17 are; then 6 leave and 2 come, in any order of facts', () => {
    const byHand = {
      shouldBe: 13,
      lastCount: { ...counts[1], shouldHaveBeen: 19, difference: -2 },
      cameSince: 2,
      leftSince: 6,
      lastCameAtMs: 260,
      lastLeftAtMs: 250,
    };
    const shuffled = <T>(all: readonly T[]) => fc.shuffledSubarray([...all], { minLength: all.length });
    fc.assert(
      fc.property(shuffled(counts), shuffled(flows), (some, others) => {
        expect(boxBalance(some, others)).toEqual(byHand);
      }),
    );
  });

  test('before the first count: what came less what left; nothing known is nothing', () => {
    expect(boxBalance([], flows)).toMatchObject({ shouldBe: 9, lastCount: null });
    expect(boxBalance([], [])).toMatchObject({ shouldBe: 0, lastCameAtMs: null, lastLeftAtMs: null });
  });
});
