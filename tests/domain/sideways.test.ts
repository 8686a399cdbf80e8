import { describe, expect, test } from 'vitest';
import {
  afterRaw,
  commonCauses,
  nearlySameCode,
  SHIFT_PAUSE_MS,
  shiftsOf,
  type PackedPass,
} from '../../src/domain/sideways.ts';

describe('after raw food on one machine', () => {
  const pass = (lotId: string, at: number, raw = false): PackedPass => ({
    key: `run-${lotId}:0001`,
    runId: `run-${lotId}`,
    lotId,
    beginsMs: at,
    endsMs: at + 5,
    allergens: [],
    raw,
  });
  const passes = [pass('before', 0), pass('raw', 10, true), pass('one', 20), pass('two', 30), pass('three', 50)];
  const told = (scope: string[], cleaned: number[] = []) =>
    afterRaw(passes, cleaned, new Set(scope))
      .map(({ lotIds, isRaw }) => `${lotIds.join()}${isRaw ? ' raw' : ''}`)
      .sort();

  test('raw packs in scope: what came after them until the clean-down', () => {
    expect(told(['raw'])).toEqual(['one', 'three', 'two']);
    expect(told(['raw'], [40])).toEqual(['one', 'two']);
    expect(told(['raw'], [17])).toEqual([]);
  });
  test('packs in scope that came after raw ones: these, and whatever else came after them', () => {
    expect(told(['two'], [40])).toEqual(['one', 'raw raw']);
    expect(told(['before'])).toEqual([]);
    expect(told(['three'], [40])).toEqual([]);
  });
});

test('a shift ends with a pause of eleven hours, and other shifts of the person do not count', () => {
  const run = (runId: string, hour: number) => ({
    runId,
    siteId: 's',
    beginsMs: hour * 3_600_000,
    endsMs: (hour + 1) * 3_600_000,
  });
  expect(SHIFT_PAUSE_MS).toBe(39_600_000);
  // 6-7, 13-14; the next at 25 is 11 hours after, 24 would be 10
  expect(shiftsOf([run('c', 25), run('a', 6), run('b', 13)], new Set(['b']))).toEqual([
    { fromMs: 6 * 3_600_000, toMs: 14 * 3_600_000 },
  ]);
  expect(shiftsOf([run('c', 24), run('a', 6), run('b', 13)], new Set(['b']))).toEqual([
    { fromMs: 6 * 3_600_000, toMs: 25 * 3_600_000 },
  ]);
});

test('codes that may be one code written differently', () => {
  const near = [
    ['LOT-12O', 'lot 120'],
    ['AB1234', 'AB-1243'],
    ['AB1234', 'AB124'],
    ['AB1234', 'AC1234'],
    ['7', ' 7.'],
  ] as const;
  const far = [
    ['L2411', 'L2412'],
    ['AB1', 'AC1'],
    ['AB1234', 'AB12'],
    ['--', '..'],
    ['AB1234', 'BA1243'],
  ] as const;
  expect(near.filter(([a, b]) => !nearlySameCode(a, b) || !nearlySameCode(b, a))).toEqual([]);
  expect(far.filter(([a, b]) => nearlySameCode(a, b) || nearlySameCode(b, a))).toEqual([]);
});

test('what two lots have before them, nearest first; of one alone everything before it', () => {
  // shin and onion into batch b: load; load into runs r1 and r2: p1, p2; p2 also from gravy, by r2
  const edges = [
    ['shin', 'load', 'b'],
    ['onion', 'load', 'b'],
    ['load', 'p1', 'r1'],
    ['load', 'p2', 'r2'],
    ['gravy', 'p2', 'r2'],
    ['onion', 'gravy', 'g'],
  ].map(([parentLotId = '', childLotId = '', processId = '']) => ({ parentLotId, childLotId, processId }));
  const told = (lots: string[]) => commonCauses(lots, edges).map(({ id, steps }) => `${id} ${steps}`);
  expect(told(['p1', 'p2'])).toEqual(['load 1', 'b 2', 'onion 2', 'shin 2']);
  expect(told(['p1'])).toEqual(['r1 1', 'load 1', 'b 2', 'onion 2', 'shin 2']);
  expect(told(['load', 'p1'])).toEqual(['load 1', 'b 2', 'onion 2', 'shin 2']);
});
