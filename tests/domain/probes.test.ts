/**
 * Thermometers against what is known. The pressures and boiling points are published ones: vapour pressure of water at 80, 90, 95 and 100 °C
 * (table of "Vapour pressure of water", read), and the U.S. Standard Atmosphere at 0, 5,000 and 10,000 ft (table of an engineers' site, read).
 */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { Refused } from '../../src/domain/errors.ts';
import { boilingPointC, judgeCalibration, nextDueOn, pressureAt } from '../../src/domain/process-checks/calibration.ts';
import { standingOf, type CalibrationMethod, type CalibrationSeen } from '../../src/domain/process-checks/probes.ts';

const nothing = { referenceC: null, altitudeM: null, airPressureHpa: null, toleranceC: null };
const judged = (method: CalibrationMethod, measuredC: number, more: Partial<typeof nothing> | object = {}) =>
  judgeCalibration({ method, measuredC, ...nothing, ...more });
const refusal = (run: () => unknown): string => {
  try {
    run();
  } catch (error) {
    if (error instanceof Refused) return `${error.code} ${error.more.errors?.[0]?.pointer ?? ''}`;
    throw error;
  }
  return 'none';
};

describe('where water boils', () => {
  test.each([
    [473.73, 80],
    [701.17, 90],
    [845.29, 95],
    [1013.2, 100],
  ])('published vapour pressure: at %d hPa water boils at %d °C, within a tenth', (hpa, celsius) => {
    expect(Math.abs(boilingPointC(hpa) - celsius)).toBeLessThan(0.1);
  });

  test.each([
    [0, 1013.253],
    [1524, 843.229],
    [3048, 696.922],
  ])('U.S. Standard Atmosphere: %d m is %d hPa, within a part in a thousand', (metres, hpa) => {
    expect(Math.abs(pressureAt(metres) / hpa - 1)).toBeLessThan(0.001);
  });

  test('higher up it never boils hotter', () => {
    const height = fc.double({ min: -430, max: 5000, noNaN: true });
    fc.assert(
      fc.property(height, height, (a, b) => {
        const [low, high] = [Math.min(a, b), Math.max(a, b)];
        return boilingPointC(pressureAt(high)) <= boilingPointC(pressureAt(low)) + 1e-9;
      }),
    );
  });
});

describe('a calibration', () => {
  test.each([
    // Centre for Food Safety, Hong Kong: ice water between -1 °C and 1 °C, boiling water between 99 °C and 101 °C
    ['ice-point', 1, {}, 'passed'],
    ['ice-point', -1, {}, 'passed'],
    ['ice-point', 1.01, {}, 'failed'],
    ['boiling-point', 99, {}, 'passed'],
    ['boiling-point', 101, {}, 'passed'],
    ['boiling-point', 98.9, {}, 'failed'],
    // 5,000 ft: 843.2 hPa, about 94.9 °C (a calculator's page, read: 94.9)
    ['boiling-point', 95.5, { altitudeM: 1524 }, 'passed'],
    ['boiling-point', 99.5, { altitudeM: 1524 }, 'failed'],
    ['boiling-point', 95.5, { airPressureHpa: 845.29 }, 'passed'],
    // 0.1 + 0.2 would fail by its last binary digit
    ['laboratory', 0.3, { referenceC: 0.1, toleranceC: 0.2 }, 'passed'],
    ['reference-thermometer', 76.2, { referenceC: 75 }, 'failed'],
  ] as const)('%s that reads %d °C with %j has %s', (method, measuredC, more, result) => {
    expect(judged(method, measuredC, more).result).toBe(result);
  });

  test('says what was assumed: no height is the level of the sea', () => {
    expect(judged('boiling-point', 100).cautions[0]).toContain('the level of the sea was assumed');
    expect(judged('boiling-point', 95, { altitudeM: 1524 }).basis.reference).toContain('1524 m above the sea');
  });

  test.each([
    ['ice-point', { referenceC: 0 }, '#/referenceC'],
    ['laboratory', {}, '#/referenceC'],
    ['ice-point', { altitudeM: 100 }, '#/altitudeM'],
    ['boiling-point', { altitudeM: 100, airPressureHpa: 1000 }, '#/altitudeM'],
    ['ice-point', { toleranceC: 2 }, '#/toleranceC'],
  ] as const)('%s with %j is refused', (method, more, pointer) => {
    expect(refusal(() => judged(method, 0, more))).toBe(`rule-broken ${pointer}`);
  });

  test('counts for a week by ice (common practice), a year by a laboratory; one that failed is due the same day', () => {
    const due = (method: CalibrationMethod, result: 'passed' | 'failed', wanted: string | null = null) =>
      nextDueOn({ method, result }, '2026-11-25', wanted).date;
    expect(due('ice-point', 'passed')).toBe('2026-12-02');
    expect(due('laboratory', 'passed')).toBe('2027-11-25');
    expect(due('ice-point', 'passed', '2026-12-20')).toBe('2026-12-20');
    expect(due('laboratory', 'failed')).toBe('2026-11-25');
    expect(refusal(() => due('ice-point', 'passed', '2027-01-20'))).toBe('rule-broken #/nextDueOn');
  });
});

describe('what a probe is worth', () => {
  const seen = (
    method: CalibrationMethod,
    result: 'passed' | 'failed',
    atMs: number,
    lapsed = false,
  ): CalibrationSeen => ({
    calibrationId: `${method} ${result} ${atMs}`,
    method,
    result,
    occurredAtMs: atMs,
    lapsed,
  });
  test.each<[string, CalibrationSeen[], string, string | null]>([
    ['never calibrated', [], 'never', null],
    ['good', [seen('ice-point', 'passed', 1)], 'good', 'ice-point passed 1'],
    ['overdue', [seen('ice-point', 'passed', 1, true)], 'overdue', 'ice-point passed 1'],
    [
      'a fresh one of another method counts',
      [seen('ice-point', 'passed', 1, true), seen('laboratory', 'passed', 2)],
      'good',
      'laboratory passed 2',
    ],
    [
      'bad in boiling water, good in ice',
      [seen('boiling-point', 'failed', 1), seen('ice-point', 'passed', 2)],
      'failed',
      'boiling-point failed 1',
    ],
    [
      'put right by a laboratory',
      [seen('boiling-point', 'failed', 1), seen('laboratory', 'passed', 2)],
      'good',
      'laboratory passed 2',
    ],
    [
      'failed after the laboratory',
      [seen('laboratory', 'passed', 1), seen('ice-point', 'failed', 2)],
      'failed',
      'ice-point failed 2',
    ],
    [
      'both at one time: the worse',
      [seen('laboratory', 'passed', 1), seen('ice-point', 'failed', 1)],
      'failed',
      'ice-point failed 1',
    ],
  ])('%s', (_name, all, state, calibrationId) => {
    expect(standingOf(all)).toEqual({ state, calibrationId });
    expect(standingOf([...all].reverse())).toEqual({ state, calibrationId });
  });
});
