/**
 * Lethality by the general method, against what was published. Where an expected value is from memory the title says so. The values were read in
 * the sources that the titles name, not made by the code.
 */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import kitchenFile from '../../shared/policies/lethality-targets.json' with { type: 'json' };
import { judge } from '../../src/domain/process-checks/judge.ts';
import { lethality, type Lethal } from '../../src/domain/process-checks/lethality.ts';
import { readSeries } from '../../src/domain/process-checks/series.ts';
import type { LethalityTarget, SeriesPoint } from '../../src/domain/process-checks/shapes.ts';
import { lethalityTarget, numbersOf } from '../../src/domain/process-checks/targets.ts';

/** Minutes at a constant temperature that reach the target: what an equivalents table lists. */
function minutesAt(temperatureC: number, code: string): number {
  const target = lethalityTarget(code);
  const held = (minute: number) => ({ minute, temperatureC });
  return target.targetMinutes / lethality([held(0), held(1)], target).equivalentMinutes;
}

describe('90 °C for 10 minutes, psychrotrophic C. botulinum', () => {
  // Whole minutes down to 88 °C and below, one decimal above 90 °C, as printed.
  test.each([
    [80, 129, 0],
    [81, 100, 0],
    [82, 77, 0],
    [83, 60, 0],
    [84, 46, 0],
    [85, 36, 0],
    [86, 28, 0],
    [87, 22, 0],
    [88, 17, 0],
    [89, 13, 0],
    [90, 10, 0],
    [91, 7.9, 1],
    [92, 6.3, 1],
    [93, 5.0, 1],
    [94, 4.0, 1],
    [95, 3.2, 1],
    [96, 2.5, 1],
    [97, 2.0, 1],
    [98, 1.6, 1],
    [99, 1.3, 1],
    [100, 1.0, 1],
  ])(
    'FSA vacuum-packing training, module 3 (Chilled Food Association 2006): %d °C for %d minutes',
    (at, printed, decimals) => {
      expect(minutesAt(at, 'botulinum-90').toFixed(decimals)).toBe(printed.toFixed(decimals));
    },
  );

  test.each([
    [85, 36, 8.99],
    [80, 230, 6.21],
  ])(
    'Fernandez and Peck 1997, abstract: the experiment at %d °C needed %d minutes, implied z %d °C',
    (at, minutes, z) => {
      const table = kitchenFile.equivalents.find(({ code }) => code === 'botulinum-90-experiment')?.rows ?? [];
      const [below, above] = [at, at + 5].map((temperatureC) => table.find((row) => row.temperatureC === temperatureC));
      expect(below?.minutes).toBe(minutes);
      expect(5 / Math.log10((below?.minutes ?? 0) / (above?.minutes ?? 1))).toBeCloseTo(z, 2);
    },
  );

  test('Fernandez and Peck 1997: at 80 °C the experiment is stricter than the line, and a pass that needs such heat says so', () => {
    const hour = (minute: number) => ({ minute, temperatureC: 80 });
    const target = lethalityTarget('botulinum-90');
    const points = [hour(0), hour(130)];
    const judged = judge('lethality', { form: 'series', points }, { form: 'lethality', target });
    expect(judged.result).toBe('passed');
    expect(judged.reasons.join(' ')).toContain('needed 230 minutes at 80 °C where this line says 129');
    expect(judged.numbers).toMatchObject({ countedMinutesFromLeastShown: 0 });
  });

  test('Peck et al. 1995, abstract: 85 °C for 19 minutes is looser, and bound to below 12 °C and 28 days', () => {
    const [peck] = kitchenFile.combined;
    expect(peck).toMatchObject({ temperatureC: 85, minutes: 19, belowC: 12, mostDays: 28, standing: 'looser' });
    expect(19).toBeLessThan(minutesAt(85, 'botulinum-90'));
  });

  test('FDA Hazards and Controls, appendix 4 (from memory): 85 °C, z 7 °C: rate 0.193, 51.8 minutes', () => {
    expect(minutesAt(85, 'botulinum-90-fda')).toBeCloseTo(51.8, 1);
    expect(10 / minutesAt(85, 'botulinum-90-fda')).toBeCloseTo(0.193, 3);
    expect(minutesAt(80, 'botulinum-90-fda')).toBeCloseTo(268.3, 1);
    expect(lethalityTarget('botulinum-90-fda').source.basis).toBe('from-memory');
  });
});

describe('70 °C for 2 minutes, L. monocytogenes', () => {
  test('Mackey and Bratchell 1989; European Commission guidance 2008: 70 °C for 2 minutes is six decimal reductions', () => {
    const target = lethalityTarget('listeria-70');
    const held = [0, 0.5, 0.6, 1.1, 2].map((minute) => ({ minute, temperatureC: 70 }));
    const judged = judge('lethality', { form: 'series', points: held }, { form: 'lethality', target });
    expect(judged.result).toBe('passed');
    expect(judged.numbers.logReductionOfTarget).toBeCloseTo(6, 9);
    const shorter = held.map(({ minute, temperatureC }) => ({ minute: minute * 0.99, temperatureC }));
    expect(judge('lethality', { form: 'series', points: shorter }, { form: 'lethality', target }).result).toBe(
      'failed',
    );
  });

  test.each([
    [60, 2585.32],
    [63, 1029.24],
    [65, 556.99],
    [68, 221.74],
    [72, 64.94],
    [75, 25.85],
    [80, 5.57],
  ])('z 7.5 °C (from memory: Chilled Food Association, FDA appendix 4): %d °C for %d seconds', (at, seconds) => {
    expect(minutesAt(at, 'listeria-70') * 60).toBeCloseTo(seconds, 1);
  });

  test('z is told as from memory, and the minutes as published', () => {
    const basis = Object.fromEntries(numbersOf('listeria-70').map((one) => [one.number, one.basis]));
    expect(basis).toMatchObject({ targetMinutes: 'published', zBelowC: 'from-memory', zAboveC: 'from-memory' });
  });

  test.each([
    [60, 45],
    [65, 10],
    [75, 0.5],
    [80, 0.1],
  ])('FSA kitchen advice (second-hand): %d °C for %d minutes is z 7.5 °C rounded up', (at, minutes) => {
    expect(minutesAt(at, 'listeria-70')).toBeLessThan(minutes);
    expect(minutesAt(at, 'listeria-70')).toBeGreaterThan(minutes * 0.85);
  });

  test.each([
    [60, 93],
    [65, 14],
  ])('a page citing the ACMSF (second-hand): %d °C for %d minutes is z 6 °C', (at, minutes) => {
    expect(Math.round(minutesAt(at, 'listeria-70-revised'))).toBe(minutes);
  });
});

describe('process lethality determination worksheet (Salmonella, E. coli O157:H7, lean ground beef 2 % fat)', () => {
  const CORE_F = [40, 64, 82, 97, 113, 128, 138, 142, 145, 148, 145, 140, 137, 136, 135, 134];
  const PRINTED = [0, 0, 0, 0, 0, 0.002, 0.019, 0.074, 0.193, 0.43, 0.667, 0.771, 0.808, 0.831, 0.849, 0.863];
  const points = readSeries(CORE_F.map((temperatureF, at) => ({ minute: at / 2, temperatureF })));
  const at150F: Lethal = { referenceTemperatureC: ((150 - 32) * 5) / 9, zBelowC: 50 / 9, zAboveC: 50 / 9 };
  const { steps, equivalentMinutesStraight } = lethality(points, at150F);

  test.each(CORE_F.map((core, at) => [at + 1, core, PRINTED[at] ?? NaN] as const))(
    'row %i: %d °F, %d minutes at 150 °F so far',
    (row, _core, printed) => expect(Math.abs((steps[row - 1]?.cumulativeMinutes ?? NaN) - printed)).toBeLessThan(0.001),
  );

  test('the trapezoid of the worksheet overstates its own steep series by more than 5 percent, and that is said', () => {
    // The exact integral of 10^((T - 150)/10) over straight lines, pair by pair: dt * (b - a) / ln(b / a), by hand for 145 to 148 °F:
    // 0.5 * (0.630957 - 0.316228) / ln(1.995262) = 0.227809, where the trapezoid has 0.236796.
    expect(lethality(points.slice(8, 10), at150F).equivalentMinutesStraight).toBeCloseTo(0.227809, 5);
    const target: LethalityTarget = {
      code: 'own',
      label: 'five decimal reductions',
      ...at150F,
      targetMinutes: 0.86,
      logReduction: 5,
      source: { source: 'the worksheet', edition: 'not dated', basis: 'published' },
    };
    const judged = judge('lethality', { form: 'series', points }, { form: 'lethality', target });
    expect(judged.result).toBe('failed');
    expect(judged.reasons[0]).toMatch(/wanted\. By the trapezoid it would be 0\.86, which the few points overstate\.$/);
    expect(judged.reasons[1]).toContain('The points are far apart');
    expect(equivalentMinutesStraight).toBeLessThan(0.863);
  });
});

describe('for any series', () => {
  const series: fc.Arbitrary<SeriesPoint[]> = fc
    .array(
      fc.record({
        step: fc.double({ min: 0.01, max: 60, noNaN: true }),
        temperatureC: fc.double({ min: -20, max: 120, noNaN: true }),
      }),
      { minLength: 2, maxLength: 30 },
    )
    .map((steps) => {
      let minute = 0;
      return steps.map(({ step, temperatureC }) => ({ minute: (minute += step), temperatureC }));
    });
  const oneZ = fc
    .record({
      referenceTemperatureC: fc.integer({ min: 55, max: 95 }),
      zBelowC: fc.double({ min: 4, max: 15, noNaN: true }),
    })
    .map((lethal): Lethal => ({ ...lethal, zAboveC: lethal.zBelowC }));
  const twoZ = fc.record({
    referenceTemperatureC: fc.integer({ min: 55, max: 95 }),
    zBelowC: fc.double({ min: 4, max: 15, noNaN: true }),
    zAboveC: fc.double({ min: 4, max: 15, noNaN: true }),
  });
  const hair = (sum: number) => 1e-9 * Math.max(1, Math.abs(sum));

  test('more heat never lowers either sum', () => {
    fc.assert(
      fc.property(
        series,
        twoZ,
        fc.nat(),
        fc.double({ min: 0, max: 30, noNaN: true }),
        (points, lethal, which, warmerC) => {
          const warmer = points.map((point, at) =>
            at === which % points.length ? { ...point, temperatureC: point.temperatureC + warmerC } : point,
          );
          const [less, more] = [lethality(points, lethal), lethality(warmer, lethal)];
          expect(more.equivalentMinutes).toBeGreaterThanOrEqual(less.equivalentMinutes - hair(less.equivalentMinutes));
          expect(more.equivalentMinutesStraight).toBeGreaterThanOrEqual(
            less.equivalentMinutesStraight - hair(less.equivalentMinutesStraight),
          );
        },
      ),
    );
  });

  test('split at any of its points, the parts add up to the whole', () => {
    fc.assert(
      fc.property(series, twoZ, fc.nat(), (points, lethal, which) => {
        const at = which % points.length;
        const [whole, before, after] = [points, points.slice(0, at + 1), points.slice(at)].map((part) =>
          lethality(part, lethal),
        );
        const sum = (before?.equivalentMinutes ?? 0) + (after?.equivalentMinutes ?? 0);
        expect(Math.abs(sum - (whole?.equivalentMinutes ?? 0))).toBeLessThanOrEqual(hair(sum));
      }),
    );
  });

  test('a point put between two on the straight line changes nothing of the straight sum, and never raises the trapezoid (one z)', () => {
    fc.assert(
      fc.property(
        series,
        oneZ,
        fc.nat(),
        fc.double({ min: 0.01, max: 0.99, noNaN: true }),
        (points, lethal, which, share) => {
          const at = 1 + (which % (points.length - 1));
          const [from, to] = [points[at - 1], points[at]];
          if (!from || !to) throw new Error('no such pair');
          const put = {
            minute: from.minute + share * (to.minute - from.minute),
            temperatureC: from.temperatureC + share * (to.temperatureC - from.temperatureC),
          };
          const finer = lethality([...points.slice(0, at), put, ...points.slice(at)], lethal);
          const coarse = lethality(points, lethal);
          expect(Math.abs(finer.equivalentMinutesStraight - coarse.equivalentMinutesStraight)).toBeLessThanOrEqual(
            1e-7 * Math.max(1, coarse.equivalentMinutesStraight),
          );
          expect(finer.equivalentMinutes).toBeLessThanOrEqual(
            coarse.equivalentMinutes + hair(coarse.equivalentMinutes),
          );
        },
      ),
    );
  });

  test('the straight sum is never more than the trapezoid (one z), and it is what ever finer trapezoids come to (two z)', () => {
    fc.assert(
      fc.property(series, oneZ, (points, lethal) => {
        const { equivalentMinutes, equivalentMinutesStraight } = lethality(points, lethal);
        expect(equivalentMinutesStraight).toBeLessThanOrEqual(equivalentMinutes + hair(equivalentMinutes));
      }),
    );
    const ramp = [
      { minute: 0, temperatureC: 62 },
      { minute: 30, temperatureC: 97 },
      { minute: 41, temperatureC: 71 },
    ];
    const lethal: Lethal = { referenceTemperatureC: 90, zBelowC: 9, zAboveC: 10 };
    let sum = 0;
    const STEPS = 200_000;
    const at = (minute: number) => (minute <= 30 ? 62 + (minute * 35) / 30 : 97 - ((minute - 30) * 26) / 11);
    for (let step = 0; step < STEPS; step += 1) {
      const overC = at(((step + 0.5) / STEPS) * 41) - 90;
      sum += (41 / STEPS) * 10 ** (overC / (overC < 0 ? 9 : 10));
    }
    expect(lethality(ramp, lethal).equivalentMinutesStraight).toBeCloseTo(sum, 4);
  });
});
