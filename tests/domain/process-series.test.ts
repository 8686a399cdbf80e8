/** Series as they are sent, units, and what is measured in one number. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { Refused } from '../../src/domain/errors.ts';
import { celsiusOf, celsiusStepOf, fahrenheitOf } from '../../src/domain/process-checks/fahrenheit.ts';
import { judge } from '../../src/domain/process-checks/judge.ts';
import { MOST_POINTS, readSeries, type SentPoint } from '../../src/domain/process-checks/series.ts';
import type { CheckKind, Limit, Measured } from '../../src/domain/process-checks/shapes.ts';

/** What is said, and where. */
function refusal(act: () => unknown): string {
  try {
    act();
  } catch (error) {
    if (error instanceof Refused) return `${error.code} ${error.more.errors?.[0]?.pointer ?? ''} ${error.detail}`;
    throw error;
  }
  throw new Error('it was taken');
}
const c = (...pairs: readonly (readonly [number, number])[]): SentPoint[] =>
  pairs.map(([minute, temperatureC]) => ({ minute, temperatureC }));

describe('a series that cannot be used is refused, with the point', () => {
  test.each<[string, SentPoint[], RegExp]>([
    ['empty', [], /^series-unusable #\/series The series is empty/],
    ['one point', c([0, 70]), /#\/series The series has one point; at least two/],
    ['out of order', c([0, 70], [5, 71], [4, 72]), /#\/series\/2\/minute Minute 4 \(point 3\) comes after minute 5/],
    ['repeated', c([0, 70], [5, 71], [5, 71]), /#\/series\/2\/minute Minute 5 stands twice \(points 2 and 3\)/],
    [
      'too hot, maybe Fahrenheit',
      c([0, 70], [5, 165]),
      /#\/series\/1\/temperatureC Point 2 reads 165 °C.*temperatureF/,
    ],
    ['too hot for either', c([0, 70], [5, 1650]), /Point 2 reads 1650 °C.*150 °C\)\.$/],
    ['too cold', c([0, -61], [5, 1]), /#\/series\/0\/temperatureC/],
    [
      'too hot in Fahrenheit',
      [
        { minute: 0, temperatureF: 303 },
        { minute: 1, temperatureF: 70 },
      ],
      /303 °F.*-76 to 302 °F/,
    ],
    [
      'mixed units',
      [
        { minute: 0, temperatureC: 20 },
        { minute: 1, temperatureF: 70 },
      ],
      /#\/series\/1\/temperatureF .*one unit/,
    ],
    [
      'both units',
      [
        { minute: 0, temperatureC: 20, temperatureF: 68 },
        { minute: 1, temperatureC: 21 },
      ],
      /#\/series\/0 .*not both/,
    ],
    ['no temperature', [{ minute: 0 }, { minute: 1, temperatureC: 21 }], /#\/series\/0 .*unit is taken from the name/],
    ['not a number', c([0, 70], [5, NaN]), /#\/series\/1\/temperatureC/],
    ['no time', c([0, 70], [Infinity, 70]), /#\/series\/1\/minute/],
  ])('%s', (_what, points, said) => {
    expect(refusal(() => readSeries(points))).toMatch(said);
  });

  test('too many: the limit is named', () => {
    const many = Array.from({ length: MOST_POINTS + 1 }, (_, minute) => ({ minute, temperatureC: 20 }));
    expect(refusal(() => readSeries(many))).toContain('50001 points; at most 50000');
    expect(readSeries(many.slice(1))).toHaveLength(50_000);
  });

  test('a series that is only warm for Celsius is taken as declared: the unit is never guessed', () => {
    expect(readSeries(c([0, 130], [90, 80]))[0]?.temperatureC).toBe(130);
  });
});

test('Fahrenheit: 212 °F is 100 °C, 32 °F is 0 °C, -40 is -40; a z of 13.5 °F is 7.5 °C', () => {
  expect([212, 32, -40, 41].map(celsiusOf)).toEqual([100, 0, -40, 5]);
  expect([100, 0, -40, 5].map(fahrenheitOf)).toEqual([212, 32, -40, 41]);
  expect(celsiusStepOf(13.5)).toBe(7.5);
});

test('Celsius to Fahrenheit and back is the same temperature', () => {
  fc.assert(
    fc.property(fc.double({ min: -60, max: 150, noNaN: true }), (temperatureC) => {
      expect(Math.abs(celsiusOf(fahrenheitOf(temperatureC)) - temperatureC)).toBeLessThan(1e-10);
    }),
  );
});

describe('one number, a time, a sample, an answer', () => {
  const value = (atLeast: number | null, atMost: number | null): Limit => ({ form: 'value', atLeast, atMost });
  const of = (is: number): Measured => ({ form: 'value', value: is });
  const minutes = (is: number): Measured => ({ form: 'elapsed', fromMs: 0, toMs: is * 60_000 });
  const sample: Limit = { form: 'sample', leastTested: 5, mostFailed: 0 };
  test.each<[string, CheckKind, Measured, Limit, 'passed' | 'failed', string | null]>([
    ['hot-holding at the limit', 'temperature', of(63), value(63, null), 'passed', null],
    [
      'hot-holding below it',
      'temperature',
      of(62.9),
      value(63, null),
      'failed',
      'The temperature is 62.9 °C; at least 63 °C is wanted.',
    ],
    [
      'core before the chamber',
      'core-temperature',
      of(4.1),
      value(null, 3),
      'failed',
      'The core temperature is 4.1 °C; at most 3 °C is allowed.',
    ],
    ['pH', 'ph', of(4.4), value(null, 4.4), 'passed', null],
    ['out of chill', 'elapsed-time', minutes(45), value(null, 45), 'passed', null],
    [
      'out of chill too long',
      'elapsed-time',
      minutes(45.5),
      value(null, 45),
      'failed',
      'The time is 45.5 minutes; at most 45 minutes is allowed.',
    ],
    ['seals', 'seal-test', { form: 'sample', tested: 5, failed: 0 }, sample, 'passed', null],
    [
      'too few seals',
      'seal-test',
      { form: 'sample', tested: 4, failed: 0 },
      sample,
      'failed',
      '4 tested; at least 5 are wanted.',
    ],
    [
      'a leaking seal',
      'seal-test',
      { form: 'sample', tested: 5, failed: 1 },
      sample,
      'failed',
      '1 of 5 failed; at most 0 may.',
    ],
    ['yes', 'yes-no', { form: 'answer', yes: true }, { form: 'answer' }, 'passed', null],
    ['no', 'yes-no', { form: 'answer', yes: false }, { form: 'answer' }, 'failed', 'The answer is no.'],
  ])('%s', (_what, kind, measured, limit, result, reason) => {
    const judged = judge(kind, measured, limit);
    expect(judged.result).toBe(result);
    expect(judged.reasons[0] ?? null).toBe(reason);
  });

  test('what does not go together is refused, not judged', () => {
    expect(refusal(() => judge('cooling', of(3), { form: 'answer' }))).toMatch(/rule-broken.*measured as one value/);
    expect(refusal(() => judge('elapsed-time', minutes(-1), value(null, 45)))).toMatch(
      /end comes before the beginning/,
    );
    expect(refusal(() => judge('seal-test', { form: 'sample', tested: 1, failed: 2 }, sample))).toMatch(
      /more than there were/,
    );
  });
});
