import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { integrated, piecesBetween, type BetweenReadings, type Piece } from '../../src/domain/life/exposure.ts';
import { meanKineticTemperatureC } from '../../src/domain/life/mean-kinetic.ts';
import { project } from '../../src/domain/life/projection.ts';
import {
  factorOf,
  q10Factor,
  relativeRateOfSpoilage,
  squareRootFactor,
  type RateModel,
} from '../../src/domain/life/relative-rates.ts';
import { usedByTable } from '../../src/domain/life/tables.ts';
import { timeToToxinH, usedOfToxinTime } from '../../src/domain/life/toxin-time.ts';

const held = (temperatureC: number, durationH: number): Piece => ({
  durationH,
  fromC: temperatureC,
  toC: temperatureC,
});

describe('relative rates', () => {
  test.each([
    [2, 1.44],
    [4, 1.96],
    [5, 2.25],
    [8, 3.24],
    [10, 4],
    [15, 6.25],
  ])('Olley & Ratkowsky 1973, coefficient from memory: %d °C', (temperatureC, rate) => {
    expect(relativeRateOfSpoilage(temperatureC)).toBeCloseTo(rate, 6);
  });

  test('Olley & Ratkowsky 1973, coefficient from memory: days at 0, 5 and 15 °C come to 5.8125 days at 0 °C', () => {
    const pieces = [held(0, 48), held(5, 24), held(15, 6)];
    const projected = project(
      { kind: 'square-root', minTemperatureC: -10 },
      { temperatureC: 0, lifeH: 240 },
      pieces,
      null,
    );
    expect(projected.equivalentAgeH / 24).toBeCloseTo(5.8125, 6);
  });

  test('20 weeks at 20 °C and 10 weeks at 30 °C are a Q10 of 2 (a textbook passage, second-hand)', () => {
    expect(20 / q10Factor(30, 20, 2)).toBe(10);
  });

  test('below the minimum nothing grows: the square alone would rise again', () => {
    expect(squareRootFactor(-30, 4, -10)).toBe(0);
    expect(() => squareRootFactor(5, -10, -10)).toThrow(RangeError);
  });

  test('Arrhenius by hand: E/R of 10,000 K from 23 to 25 °C is exp(33.77237 - 33.54579), exponents as in a tutorial (second-hand)', () => {
    // Its kelvin begins at -273.1 °C; over these two degrees that is a difference in the fourth place.
    const factor = factorOf({ kind: 'arrhenius', activationEnergyKjPerMol: 83.144 }, 25, 23);
    expect(factor).toBeCloseTo(Math.exp(33.77237 - 33.54579), 3);
  });
});

describe('mean kinetic temperature, USP 29 <1160>', () => {
  test.each([
    ['23 and 25 °C (exponents published, result recomputed)', [held(23, 1), held(25, 1)], 24.0532, 4],
    ['2 and 8 °C (formula only)', [held(2, 1), held(8, 1)], 5.5364, 3],
    ['22 h at 4 °C, 2 h at 15 °C (formula only)', [held(4, 22), held(15, 2)], 5.7063, 3],
    ['166 h at 5 °C, 2 h at 25 °C (formula only)', [held(5, 166), held(25, 2)], 5.8856, 3],
  ])('%s', (_what, pieces, expected, digits) => {
    expect(meanKineticTemperatureC(pieces)).toBeCloseTo(expected, digits);
  });

  test('a high energy does not underflow: it comes near to the warmest', () => {
    expect(meanKineticTemperatureC([held(-60, 1), held(20, 1)], 5_000)).toBeCloseTo(20, 0);
    expect(() => meanKineticTemperatureC([])).toThrow(RangeError);
  });
});

describe('time-temperature tables', () => {
  const rows = [
    { temperatureC: 8, lifeH: 120 },
    { temperatureC: 4, lifeH: 240 },
  ];
  test('by hand: between rows the warmer one counts, below the coldest the coldest, above the warmest nothing is left', () => {
    expect(usedByTable(rows, [held(4, 24)])).toBe(0.1);
    expect(usedByTable(rows, [held(-18, 24)])).toBe(0.1);
    expect(usedByTable(rows, [held(4.1, 24)])).toBe(0.2);
    expect(usedByTable(rows, [{ durationH: 24, fromC: 8, toC: 2 }])).toBe(0.2);
    expect(usedByTable(rows, [held(8.1, 0.1)])).toBe(Infinity);
  });
  test('a table that gives the warm as much as the cold is no table', () => {
    expect(() => usedByTable([...rows, { temperatureC: 10, lifeH: 120 }], [held(4, 1)])).toThrow(RangeError);
    expect(() => usedByTable([], [held(4, 1)])).toThrow(RangeError);
  });
});

describe('advisory time to toxin of psychrotrophic C. botulinum', () => {
  test.each([
    [3.3, 20.279],
    [4.4, 11.008],
    [5, 8.62],
    [8, 3.737],
    [10, 2.506],
    [21.1, 0.47],
  ])('Skinner & Larkin 1998, coefficients from memory: %d °C', (temperatureC, days) => {
    expect(Math.abs((timeToToxinH(temperatureC) ?? 0) / 24 / days - 1)).toBeLessThan(0.005);
  });

  test.each([
    ['Skinner & Larkin 1998, earliest seen', 30, 0.5],
    ['Skinner & Larkin 1998, earliest seen', 16, 2],
    ['Skinner & Larkin 1998, earliest seen', 12, 3],
    ['Skinner & Larkin 1998, earliest seen', 8, 6],
    ['Skinner & Larkin 1998, earliest seen', 4, 15],
    ['Garcia et al. 1987, J. Food Prot. 50(4):330-336, salmon fillets', 30, 1],
    ['Garcia et al. 1987, salmon fillets', 12, 3],
    ['Garcia et al. 1987, salmon fillets', 8, 6],
    ['J. Food Prot. 1987 50(5):390-398, salmon homogenate', 30, 1],
    ['J. Food Prot. 1987 50(5):390-398, salmon homogenate', 16, 2],
    ['J. Food Prot. 1987 50(5):390-398, salmon homogenate', 12, 6],
    ['J. Food Prot. 1987 50(5):390-398, salmon homogenate', 8, 9],
    ['J. Food Prot. 1987 50(5):390-398, salmon homogenate', 4, 15],
    ['Peck et al. 2008, Trends Food Sci. Technol. 19:207: within 10 days at up to 8 °C', 8, 10],
  ])('never longer than toxin was seen: %s, %d °C, %d days', (_source, temperatureC, days) => {
    expect(timeToToxinH(temperatureC)).toBeLessThan(days * 24);
  });

  test('nothing is said below 3 °C (FSA factsheet 2008)', () => {
    expect(timeToToxinH(2.99)).toBeNull();
    expect(timeToToxinH(-18)).toBeNull();
    expect(timeToToxinH(3)).toBeGreaterThan(0);
    expect(usedOfToxinTime([held(2.9, 10_000)])).toBe(0);
  });

  test('half the line at 8 °C and half of it at 30 °C are the whole of it; a line into the warm finds where 3 °C is passed', () => {
    const pieces = [8, 30].map((temperatureC) => held(temperatureC, (timeToToxinH(temperatureC) ?? 0) / 2));
    expect(usedOfToxinTime(pieces)).toBeCloseTo(1, 9);
    const above = usedOfToxinTime([{ durationH: 27, fromC: 3, toC: 30 }]);
    expect(usedOfToxinTime([{ durationH: 32, fromC: -2, toC: 30 }])).toBeCloseTo(above, 6);
  });
});

describe('along a line', () => {
  test('the square root relation by hand: from -10 °C to 5 °C the mean is a third of the rate at the end', () => {
    const mean = integrated({ durationH: 1, fromC: -10, toC: 5 }, relativeRateOfSpoilage);
    expect(mean).toBeCloseTo(2.25 / 3, 9);
  });
  test('and so from far below, where the rate is zero most of the way', () => {
    const mean = integrated({ durationH: 1, fromC: -60, toC: -9 }, relativeRateOfSpoilage);
    expect(mean).toBeCloseTo(0.01 / 3 / 51, 12);
  });
  test('readings must ascend', () => {
    const same = { atMs: 0, temperatureC: 4 };
    expect(() => piecesBetween([same, same], 'line')).toThrow(RangeError);
  });
});

const celsius = fc.double({ min: -60, max: 150, noNaN: true });
const hours = fc.double({ min: 0.01, max: 1_000, noNaN: true });
const piece = fc.record({ durationH: hours, fromC: celsius, toC: celsius });
const model: fc.Arbitrary<RateModel> = fc.oneof(
  fc.record({
    kind: fc.constant('square-root' as const),
    minTemperatureC: fc.double({ min: -60, max: 3, noNaN: true }),
  }),
  fc.record({ kind: fc.constant('q10' as const), q10: fc.double({ min: 1, max: 20, noNaN: true }) }),
  fc.record({
    kind: fc.constant('arrhenius' as const),
    activationEnergyKjPerMol: fc.double({ min: 0.1, max: 500, noNaN: true }),
  }),
);
const reference = { temperatureC: 4, lifeH: 240 };
const least = (remainingH: number | null): number => remainingH ?? Infinity;

describe('whatever the model', () => {
  test('more warmth never gives more life', () => {
    const warmer = fc.array(fc.double({ min: 0, max: 30, noNaN: true }), { minLength: 5, maxLength: 5 });
    fc.assert(
      fc.property(model, fc.array(piece, { minLength: 1, maxLength: 5 }), warmer, celsius, (a, pieces, by, then) => {
        const warmed = pieces.map((one, at) => ({
          ...one,
          fromC: one.fromC + (by[at] ?? 0),
          toC: one.toC + (by[at] ?? 0),
        }));
        const before = project(a, reference, pieces, then);
        const after = project(a, reference, warmed, then);
        // The integration is good to 1e-10 of the piece at its warmer end, which grows with the warmth: compared with room for that.
        expect(after.usedFraction).toBeGreaterThanOrEqual(before.usedFraction * (1 - 1e-6) - 2e-6);
        const warmerThen = project(a, reference, pieces, then + (by[0] ?? 0));
        expect(least(warmerThen.remainingH)).toBeLessThanOrEqual(least(before.remainingH));
        const toxin = usedOfToxinTime(pieces);
        expect(usedOfToxinTime(warmed)).toBeGreaterThanOrEqual(toxin * (1 - 1e-6) - 1e-9);
      }),
      { numRuns: 500 },
    );
  });

  test('of held temperatures exactly, and longer never gives more life', () => {
    fc.assert(
      fc.property(model, celsius, hours, fc.double({ min: 0, max: 90, noNaN: true }), hours, (a, at, h, by, more) => {
        const before = project(a, reference, [held(at, h)], 4);
        expect(project(a, reference, [held(at + by, h)], 4).usedFraction).toBeGreaterThanOrEqual(before.usedFraction);
        const longer = project(a, reference, [held(at, h + more)], 4);
        expect(least(longer.remainingH)).toBeLessThanOrEqual(least(before.remainingH));
      }),
      { numRuns: 500 },
    );
  });

  test('the warmer end gives no more life than the step or the line', () => {
    const readings = fc
      .array(fc.tuple(fc.integer({ min: 1, max: 7_200_000 }), fc.double({ min: -10, max: 40, noNaN: true })), {
        minLength: 2,
        maxLength: 8,
      })
      .map((list) => {
        let atMs = 0;
        return list.map(([gapMs, temperatureC]) => ({ atMs: (atMs += gapMs), temperatureC }));
      });
    fc.assert(
      fc.property(model, readings, (a, list) => {
        const used = (rule: BetweenReadings) => project(a, reference, piecesBetween(list, rule), null).usedFraction;
        expect(used('warmer-end')).toBeGreaterThanOrEqual(used('step'));
        expect(used('warmer-end')).toBeGreaterThanOrEqual(used('line'));
      }),
      { numRuns: 300 },
    );
  });

  test('the mean kinetic temperature lies between the plain mean and the warmest', () => {
    fc.assert(
      fc.property(fc.array(fc.tuple(hours, celsius), { minLength: 1, maxLength: 6 }), (list) => {
        const pieces = list.map(([h, temperatureC]) => held(temperatureC, h));
        const all = list.reduce((sum, [h]) => sum + h, 0);
        const mean = list.reduce((sum, [h, temperatureC]) => sum + h * temperatureC, 0) / all;
        const mkt = meanKineticTemperatureC(pieces);
        expect(mkt).toBeGreaterThanOrEqual(mean - 1e-6);
        expect(mkt).toBeLessThanOrEqual(Math.max(...list.map(([, temperatureC]) => temperatureC)) + 1e-6);
      }),
    );
  });
});
