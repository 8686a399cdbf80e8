import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Piece } from '../../src/domain/life/exposure.ts';
import {
  baranyiLog10,
  growthWork,
  lnInitialState,
  threePhaseLog10,
  toNaturalRate,
} from '../../src/domain/life/growth.ts';
import { growthAt5CLog10PerDay, highestInitialCfuPerG, listeriaLog10Increase } from '../../src/domain/life/listeria.ts';

const held = (temperatureC: number, durationH: number): Piece => ({
  durationH,
  fromC: temperatureC,
  toC: temperatureC,
});

describe('Listeria monocytogenes: rate at 5 °C from a rate elsewhere', () => {
  test.each([
    ['Duffes 1999, cold-smoked salmon', 4, 2.1, 28, 0.107],
    ['Duffes 1999', 8, 5.4, 21, 0.116],
    ['Hudson & Mott 1993b', 10, 4.25, 5.2083, 0.249],
    ['Szabo & Cahill 1999', 4, 3.9, 28, 0.198],
    ['Dillon & Patel 1993', 4, 2.8, 21, 0.19],
    ['Guyer & Jemmi 1991', 10, 3.25, 10, 0.099],
    ['Pelroy 1994b', 10, 5, 11, 0.139],
    ['Peterson 1993, 7 days', 10, 4, 7, 0.175],
    ['Peterson 1993, 20 days', 10, 6, 20, 0.092],
    ['Rosso 1996', 4, 1, 10, 0.142],
  ])(
    'FDA/FSIS/CDC 2003, Listeria risk assessment, appendix 8 table 1 (%s at %d °C)',
    (_row, temperatureC, log10, days, printed) => {
      const at5C = growthAt5CLog10PerDay({ log10PerDay: log10 / days, temperatureC }, -1.18);
      expect(Math.abs(at5C - printed)).toBeLessThanOrEqual(0.001);
    },
  );

  test.each([
    ['4 °C for 5 days, then 10 °C for a day', [held(4, 120), held(10, 24)], 1.0043],
    ['8 °C for 10 days', [held(8, 240)], 3.2657],
  ])(
    'published inputs (FDA/FSIS/CDC 2003, Hudson & Mott row, 0.148), increase recomputed: %s',
    (_what, pieces, log10) => {
      const increase = listeriaLog10Increase(pieces, { at5CLog10PerDay: 0.148, minTemperatureC: -1.18 });
      expect(Math.abs(increase / log10 - 1)).toBeLessThan(0.005);
    },
  );

  test('EFSA Journal 2020;18(4):6092 table 14, corn: what may be there at the start for 100 cfu/g at the end', () => {
    const rates = { 5: 0.0214, 9: 0.046 };
    const hours = [12, 24, 48, 72, 96, 120];
    const initial = (log10PerH: number) => hours.map((h) => highestInitialCfuPerG(log10PerH * h));
    // As printed: two digits above ten, else one.
    const printed = (value: number) => (value >= 10 ? Math.round(value) : Number(value.toPrecision(1)));
    expect(initial(rates[5]).map(printed)).toEqual([55, 31, 9, 3, 0.9, 0.3]);
    expect(initial(rates[9]).map(printed)).toEqual([28, 8, 0.6, 0.05, 0.004, 0.0003]);
  });

  test('a colder minimum: more growth in the cold, less in the warm (EFSA 2020 corn, about -3.7 °C)', () => {
    const at = (temperatureC: number, minTemperatureC: number) =>
      listeriaLog10Increase([held(temperatureC, 24)], { at5CLog10PerDay: 0.148, minTemperatureC });
    expect(at(2, -3.7)).toBeGreaterThan(at(2, -1.18));
    expect(at(10, -3.7)).toBeLessThan(at(10, -1.18));
  });
});

describe('primary models at one temperature', () => {
  test('Baranyi & Roberts 1994, explicit form as in Korean J. Food Preserv. 26(2):135 table 1; curve by formula only', () => {
    const culture = { initialLog10: 2, maxLog10: 8, lagWork: 0.05 * 40 };
    const counts = [0, 24, 48, 72, 120, 240, 480].map((hours) => baranyiLog10(culture, 0.05 * hours));
    [2.0, 2.1186, 2.3723, 2.7647, 3.744, 6.3335, 7.9999].forEach((expected, at) =>
      expect(counts[at]).toBeCloseTo(expected, 3),
    );
  });

  test('kosfaj 37(4):579 table 4: ln q0 for h0 0.65, published inputs', () => {
    expect(lnInitialState(0.65)).toBeCloseTo(0.08824, 5);
  });

  test('PMC4619785 table 8, L. monocytogenes CECT 4031 at 37 °C, three-phase: published parameters, curve recomputed', () => {
    const mu = toNaturalRate(0.487);
    const culture = { initialLog10: 1.988, maxLog10: 9, lagWork: mu * 2 };
    const counts = [0, 2, 4, 6, 8, 10].map((hours) => threePhaseLog10(culture, mu * hours));
    [1.988, 1.988, 2.962, 3.936, 4.91, 5.884].forEach((expected, at) => expect(counts[at]).toBeCloseTo(expected, 3));
  });

  test('neither much work nor a long lag overflows, and no count passes the most there can be', () => {
    for (const work of [0, 1e-12, 1, 29.999, 30, 30.001, 1e3, 1e6]) {
      for (const lagWork of [0, 1e-9, 2, 50, 300]) {
        const count = baranyiLog10({ initialLog10: 2, maxLog10: 8, lagWork }, work);
        expect(count).toBeGreaterThanOrEqual(2 - 1e-9);
        expect(count).toBeLessThanOrEqual(8 + 1e-9);
      }
    }
  });
});

/** Square root of the rate linear in temperature; 0.05 1/h at 8 °C. */
const rateAt = (temperatureC: number) => 0.05 * (Math.max(0, temperatureC + 1.18) / 9.18) ** 2;

/** The pair of equations itself, by the classic method with many fixed steps: nothing in common with the code under test. */
function byRungeKutta(pieces: readonly Piece[], lagWork: number, initialLog10: number, maxLog10: number): number {
  const most = maxLog10 * Math.LN10;
  const slope = (mu: number, [y, lnQ]: readonly [number, number]): [number, number] => {
    const ready = 1 / (1 + Math.exp(-lnQ));
    return [mu * ready * (1 - Math.exp(y - most)), mu];
  };
  let state: [number, number] = [initialLog10 * Math.LN10, -Math.log(Math.exp(lagWork) - 1)];
  for (const { durationH, fromC, toC } of pieces) {
    const steps = 4_000;
    const h = durationH / steps;
    const temperatureAt = (share: number) => fromC + share * (toC - fromC);
    for (let at = 0; at < steps; at += 1) {
      const mus = [0, 0.5, 1].map((part) => rateAt(temperatureAt((at + part) / steps))) as [number, number, number];
      const along = (k: readonly [number, number], part: number): [number, number] => [
        state[0] + h * part * k[0],
        state[1] + h * part * k[1],
      ];
      const k1 = slope(mus[0], state);
      const k2 = slope(mus[1], along(k1, 0.5));
      const k3 = slope(mus[1], along(k2, 0.5));
      const k4 = slope(mus[2], along(k3, 1));
      state = [0, 1].map(
        (i) => (state[i] ?? 0) + (h / 6) * ((k1[i] ?? 0) + 2 * (k2[i] ?? 0) + 2 * (k3[i] ?? 0) + (k4[i] ?? 0)),
      ) as [number, number];
    }
  }
  return state[0] / Math.LN10;
}

describe('growth under a temperature that varies', () => {
  const profiles: readonly (readonly [string, readonly Piece[]])[] = [
    ['held', [held(8, 200)]],
    ['in steps', [held(2, 48), held(12, 10), held(4, 100)]],
    [
      'along lines, below the minimum and back',
      [
        { durationH: 24, fromC: 6, toC: -10 },
        { durationH: 24, fromC: -10, toC: 14 },
        { durationH: 72, fromC: 14, toC: 3 },
      ],
    ],
    ['until it is full', [{ durationH: 600, fromC: 8, toC: 20 }]],
  ];
  test.each(profiles)('Baranyi & Roberts agrees with a Runge-Kutta solution of the equations: %s', (_name, pieces) => {
    const culture = { initialLog10: 2, maxLog10: 8, lagWork: 0.65 };
    const count = baranyiLog10(culture, growthWork(pieces, rateAt));
    expect(count).toBeCloseTo(byRungeKutta(pieces, 0.65, 2, 8), 6);
  });

  test('three-phase by hand: 40 h at 8 °C are the lag of 2, then 46.05 h make one log10', () => {
    const culture = { initialLog10: 2, maxLog10: 8, lagWork: 2 };
    const count = threePhaseLog10(culture, growthWork([held(8, 40), held(-2, 500), held(8, 46.0517)], rateAt));
    expect(count).toBeCloseTo(3, 5);
  });

  const celsius = fc.double({ min: -20, max: 40, noNaN: true });
  const piece = fc.record({ durationH: fc.double({ min: 0.01, max: 200, noNaN: true }), fromC: celsius, toC: celsius });
  test('more warmth never gives a smaller count', () => {
    fc.assert(
      fc.property(
        fc.array(piece, { minLength: 1, maxLength: 6 }),
        fc.array(fc.double({ min: 0, max: 10, noNaN: true }), { minLength: 6, maxLength: 6 }),
        fc.double({ min: 0, max: 5, noNaN: true }),
        (pieces, warmer, lagWork) => {
          const warmed = pieces.map(({ durationH, fromC, toC }, at) => {
            const by = warmer[at] ?? 0;
            return { durationH, fromC: fromC + by, toC: toC + by };
          });
          const culture = { initialLog10: 2, maxLog10: 8, lagWork };
          for (const model of [baranyiLog10, threePhaseLog10]) {
            const before = model(culture, growthWork(pieces, rateAt));
            expect(model(culture, growthWork(warmed, rateAt))).toBeGreaterThanOrEqual(before - 1e-8);
          }
          const listeria = { at5CLog10PerDay: 0.148, minTemperatureC: -1.18 };
          const increase = listeriaLog10Increase(pieces, listeria);
          expect(listeriaLog10Increase(warmed, listeria)).toBeGreaterThanOrEqual(increase * (1 - 1e-8));
        },
      ),
      { numRuns: 300 },
    );
  });
});
