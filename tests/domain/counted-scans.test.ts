/** Totals of counted scans, by tables worked out by hand and by random orders of arrival. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  governing,
  totalKeyOf,
  totalOf,
  type CountedScan,
  type TotalSaid,
} from '../../src/domain/ledger/counted-scans.ts';

const says = (scanId: string, occurredAtMs: number, quantity: number, crateCode: string | null = null): TotalSaid => ({
  scanId,
  occurredAtMs,
  quantity,
  crateCode,
});

describe('what a total comes to', () => {
  test.each<[string, TotalSaid[], string[], number]>([
    ['nothing said', [], [], 0],
    ['one beep is one', [says('a', 1, 1)], ['a'], 1],
    ['two beeps of one identical label may be one pack', [says('a', 1, 1), says('b', 2, 1)], ['b'], 1],
    ['one of twelve, then how many', [says('a', 1, 1), says('b', 2, 12)], ['b'], 12],
    ['told backwards it is the same', [says('b', 2, 12), says('a', 1, 1)], ['b'], 12],
    ['less than before, if that was later', [says('a', 1, 12), says('b', 2, 11)], ['b'], 11],
    ['at one moment the greater id is the later', [says('b', 1, 4), says('a', 1, 9)], ['b'], 4],
    ['a crate holds what it holds', [says('c', 1, 6, 'CRATE-1')], ['c'], 6],
    ['two crates hold what both hold', [says('c', 1, 6, 'CRATE-1'), says('d', 2, 5, 'CRATE-2')], ['c', 'd'], 11],
    ['packs counted after the crate', [says('c', 1, 6, 'CRATE-1'), says('p', 2, 5)], ['p'], 5],
    ['a stray beep before the crate', [says('p', 1, 1), says('c', 2, 6, 'CRATE-1')], ['c'], 6],
    [
      'a crate after packs were counted: all crates together',
      [says('c', 1, 6, 'CRATE-1'), says('p', 2, 6), says('d', 3, 5, 'CRATE-2')],
      ['c', 'd'],
      11,
    ],
    ['one crate twice', [says('c', 1, 6, 'CRATE-1'), says('d', 2, 6, 'CRATE-1')], ['d'], 6],
  ])('%s', (_what, scans, ids, total) => {
    expect(
      governing(scans)
        .map((scan) => scan.scanId)
        .sort(),
    ).toEqual(ids);
    expect(totalOf(scans)).toBe(total);
  });

  const scans = fc.uniqueArray(
    fc.record({
      scanId: fc.uuid(),
      occurredAtMs: fc.nat(5),
      quantity: fc.integer({ min: 1, max: 20 }),
      crateCode: fc.option(fc.constantFrom('CRATE-1', 'CRATE-2')),
    }),
    { selector: (scan) => scan.scanId, minLength: 1, maxLength: 8 },
  );

  test('no order of arrival changes which scans govern', () => {
    const inTwoOrders = scans.chain((one) =>
      fc.tuple(fc.constant(one), fc.shuffledSubarray(one, { minLength: one.length })),
    );
    fc.assert(
      fc.property(inTwoOrders, ([one, other]) => {
        const ids = (list: readonly TotalSaid[]) => governing(list).map((scan) => scan.scanId);
        expect(ids(other).sort()).toEqual(ids(one).sort());
      }),
    );
  });

  test('the last word governs, and a pack count alone', () => {
    fc.assert(
      fc.property(scans, (list) => {
        const last = list.reduce((late, scan) =>
          scan.occurredAtMs > late.occurredAtMs ||
          (scan.occurredAtMs === late.occurredAtMs && scan.scanId > late.scanId)
            ? scan
            : late,
        );
        const found = governing(list);
        expect(found).toContain(last);
        if (last.crateCode === null) expect(found).toEqual([last]);
        else expect(found.every((scan) => scan.crateCode !== null)).toBe(true);
      }),
    );
  });
});

describe('which scans speak of one total', () => {
  const scan = (more: Partial<CountedScan>): CountedScan => ({
    kind: 'use',
    lotId: 'lot',
    dispatchId: null,
    condition: null,
    placeId: 'chiller',
    occurredOn: '2026-11-25',
    meal: 'lunch',
    servicePoint: 'Bay A',
    purpose: null,
    reason: null,
    destination: null,
    material: null,
    ...more,
  });
  const arrival: Partial<CountedScan> = { kind: 'arrival', dispatchId: 'd1' };
  const discard: Partial<CountedScan> = { kind: 'discard', reason: 'damaged', destination: 'refuse' };
  const putAway: Partial<CountedScan> = { kind: 'put-away' };

  test.each<[string, Partial<CountedScan>, Partial<CountedScan>]>([
    [
      'an arrival, wherever and whenever it is put',
      arrival,
      { ...arrival, placeId: 'shelf', occurredOn: '2026-11-26' },
    ],
    ['an arrival that says nothing was accepted', arrival, { ...arrival, condition: 'accepted' }],
    ['putting away into one place on one day', putAway, { ...putAway, meal: null, servicePoint: null }],
    ['one meal at one point', {}, { dispatchId: 'd1' }],
    ['one reason on one day', discard, { ...discard, meal: 'dinner' }],
  ])('the same: %s', (_what, one, other) => {
    expect(totalKeyOf(scan(other))).toBe(totalKeyOf(scan(one)));
  });

  test.each<[string, Partial<CountedScan>, Partial<CountedScan>]>([
    ['another lot', {}, { lotId: 'other' }],
    ['another kind', {}, putAway],
    ['another dispatch', arrival, { ...arrival, dispatchId: 'd2' }],
    ['another purpose', {}, { purpose: 'staff-meal' }],
    ['what nobody eats', discard, { ...discard, material: 'inedible-parts' }],
    ['damaged', arrival, { ...arrival, condition: 'damaged' }],
    ['put away elsewhere', putAway, { ...putAway, placeId: 'shelf' }],
    ['put away on another day', putAway, { ...putAway, occurredOn: '2026-11-26' }],
    ['another meal', {}, { meal: 'dinner' }],
    ['another service point', {}, { servicePoint: 'Bay B' }],
    ['a place more', {}, { placeId: 'shelf' }],
    ['another day', {}, { occurredOn: '2026-11-26' }],
    ['another reason', discard, { ...discard, reason: 'temperature' }],
    ['another destination', discard, { ...discard, destination: 'composting' }],
  ])('not the same: %s', (_what, one, other) => {
    expect(totalKeyOf(scan(other))).not.toBe(totalKeyOf(scan(one)));
  });
});
