/** Days of places worked by hand: what counted when, from readings of each minute that matters. Times are UTC unless they say otherwise. */
import { describe, expect, test } from 'vitest';
import { dayRecord } from '../../src/domain/exposure/days.ts';
import { segmentsOf } from '../../src/domain/exposure/segments.ts';
import type { Monitoring, Reading, Segment, Source } from '../../src/domain/exposure/shapes.ts';
import { createAdder, sumsOf } from '../../src/domain/exposure/sums.ts';
import { eachIn, pack, unpack } from '../../src/domain/exposure/track.ts';

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const DAY_MS = 24 * HOUR_MS;
const DAY = Date.UTC(2026, 10, 25);

const chiller: Monitoring = {
  how: 'sensor',
  upperCentiC: 800,
  lowerCentiC: null,
  assumedCentiC: null,
  between: 'warmer-end',
  gapMs: HOUR_MS,
  delayMs: 30 * MINUTE_MS,
  lagMs: 0,
  version: 1,
};

/** '06:40' of the day, or of the day after with '+06:40', before with '-23:50'. */
function at(time: string): number {
  const sign = time.startsWith('+') ? 1 : time.startsWith('-') ? -1 : 0;
  const [hours = 0, minutes = 0] = time.replace(/^[+-]/, '').split(':').map(Number);
  return DAY + sign * DAY_MS + hours * HOUR_MS + minutes * MINUTE_MS;
}
const reading = (time: string, temperatureC: number, doubt = false): Reading => ({
  atMs: at(time),
  centiC: Math.round(temperatureC * 100),
  doubt,
});
const sensor = (points: readonly (readonly [string, number])[], kind: Source['kind'] = 'air'): Source => ({
  kind,
  readings: points.map(([time, temperatureC]) => reading(time, temperatureC)),
});
/** Every five minutes from one time up to and not including another. */
function steady(from: string, to: string, temperatureC: number): (readonly [string, number])[] {
  const out: (readonly [string, number])[] = [];
  for (let ms = at(from); ms < at(to); ms += 5 * MINUTE_MS) {
    const minutes = (ms - DAY) / MINUTE_MS;
    const sign = minutes < 0 ? '-' : minutes >= 1440 ? '+' : '';
    const inDay = ((minutes % 1440) + 1440) % 1440;
    out.push([`${sign}${Math.floor(inDay / 60)}:${inDay % 60}`, temperatureC]);
  }
  return out;
}
const clock = (ms: number): string => {
  const minutes = (ms - DAY) / MINUTE_MS;
  return minutes === 1440 ? '24:00' : new Date(ms).toISOString().slice(11, 16);
};
/** '06:00-06:10 11' or, where nothing was seen, '06:00-06:10 8?' */
const shown = (segments: readonly Segment[]): string[] =>
  segments.map(
    (one) =>
      `${clock(one.fromMs)}-${clock(one.toMs)} ${one.centiC / 100}${one.monitored ? '' : '?'}${one.doubt ? '!' : ''}`,
  );
const day = (sources: readonly Source[], monitoring: Monitoring = chiller): Segment[] =>
  segmentsOf(sources, monitoring, DAY, DAY + DAY_MS);

describe('between readings', () => {
  const door = sensor([
    ['-23:58', 3],
    ...steady('00:00', '10:00', 3),
    ['10:00', 3],
    ['10:02', 9],
    ['10:04', 4],
    ...steady('10:05', '+00:10', 3),
  ]);

  test('the warmer end counts: a door opening of two readings is four minutes warm', () => {
    expect(shown(day([door]))).toEqual(['00:00-10:00 3', '10:00-10:04 9', '10:04-10:05 4', '10:05-24:00 3']);
  });

  test('with step the earlier reading holds', () => {
    expect(shown(day([door], { ...chiller, between: 'step' }))).toEqual([
      '00:00-10:02 3',
      '10:02-10:04 9',
      '10:04-10:05 4',
      '10:05-24:00 3',
    ]);
  });

  test('with line each minute counts at its warmer end', () => {
    // 3 to 9 in two minutes: 6 in the middle; 9 to 4: 6.5 in the middle.
    expect(shown(day([door], { ...chiller, between: 'line' }))).toEqual([
      '00:00-10:00 3',
      '10:00-10:01 6',
      '10:01-10:03 9',
      '10:03-10:04 6.5',
      '10:04-10:05 4',
      '10:05-24:00 3',
    ]);
  });
});

describe('where nothing was heard', () => {
  test('more than the gap over midnight counts at the upper limit, from the last reading to the next', () => {
    const night = sensor([...steady('-22:00', '-23:05', 3), ...steady('02:00', '+00:10', 3)]);
    expect(shown(day([night]))).toEqual(['00:00-02:00 8?', '02:00-24:00 3']);
    // The day before: heard until 23:00.
    const eve = segmentsOf([night], chiller, DAY - DAY_MS, DAY);
    expect(eve.at(-1)).toEqual({ fromMs: at('-23:00'), toMs: DAY, centiC: 800, monitored: false, doubt: false });
  });

  test('exactly the gap is still monitored', () => {
    const hour = sensor([
      ['-23:30', 3],
      ['00:30', 4],
      ['01:31', 4],
      ['01:40', 4],
    ]);
    expect(shown(day([hour])).slice(0, 3)).toEqual(['00:00-00:30 4', '00:30-01:31 8?', '01:31-01:40 4']);
  });

  test('what was seen last counts when it was warmer than the limit, also before the first and after the last reading', () => {
    const warm = sensor([
      ['-12:00', 9.5],
      ['06:00', 12.25],
      ['06:10', 4],
    ]);
    expect(shown(day([warm]))).toEqual(['00:00-06:00 9.5?', '06:00-06:10 12.25', '06:10-24:00 8?']);
    expect(shown(day([sensor([['06:00', 4]])]))).toEqual(['00:00-24:00 8?']);
    expect(shown(day([]))).toEqual(['00:00-24:00 8?']);
  });

  test('two sensors that fell silent within the hour are heard together: the warmer one was seen last', () => {
    const power = [
      sensor([...steady('00:00', '10:00', 3), ['10:00', 12]]),
      sensor([...steady('00:00', '10:00', 3), ['10:04', 3]]),
    ];
    expect(shown(day(power)).at(-1)).toBe('10:04-24:00 12?');
    const hoursAgo = [sensor([['08:00', 12]]), sensor([...steady('00:00', '10:00', 3)])];
    expect(shown(day(hoursAgo)).at(-1)).toBe('09:55-24:00 8?');
  });

  test('where nobody looks what was stated is assumed', () => {
    expect(shown(day([], { ...chiller, how: 'none', assumedCentiC: 500 }))).toEqual(['00:00-24:00 5?']);
    // Somebody who looks may assume more than the limit, and never less.
    expect(shown(day([], { ...chiller, assumedCentiC: 500 }))).toEqual(['00:00-24:00 8?']);
    expect(shown(day([], { ...chiller, assumedCentiC: 1200 }))).toEqual(['00:00-24:00 12?']);
  });
});

describe('several values', () => {
  test('of one time are a conflict, and the warmest counts, in any order', () => {
    const one = {
      kind: 'air' as const,
      readings: [reading('00:00', 3), reading('00:30', 3), reading('00:30', 7), reading('01:00', 3)],
    };
    const other = { kind: 'air' as const, readings: [...one.readings].reverse() };
    expect(shown(day([one])).slice(0, 1)).toEqual(['00:00-01:00 7']);
    expect(day([other])).toEqual(day([one]));
  });

  test('of two sensors: the warmer one that is heard', () => {
    const back = sensor(steady('00:00', '+00:10', 3));
    const door = sensor([...steady('08:00', '09:00', 5), ...steady('12:00', '13:00', 2)]);
    expect(shown(day([back, door]))).toEqual(['00:00-08:00 3', '08:00-08:55 5', '08:55-24:00 3']);
  });
});

describe('lag', () => {
  const lagging = { ...chiller, lagMs: 30 * MINUTE_MS };
  const dayFood = (sources: readonly Source[]) => dayRecord(sources, lagging, DAY)?.segments ?? [];

  test('air that is warm for less than the lag leaves food cold; two warm hours are two warm hours, a lag later', () => {
    const short = sensor([
      ...steady('-22:00', '06:00', 3),
      ...steady('06:00', '06:20', 11),
      ...steady('06:20', '+01:10', 3),
    ]);
    // warm air from 05:55 to 06:20: 25 minutes
    expect(shown(dayFood([short]))).toEqual(['00:00-24:00 3']);
    const long = sensor([
      ...steady('-22:00', '06:00', 3),
      ...steady('06:00', '08:00', 11),
      ...steady('08:00', '+01:10', 3),
    ]);
    // warm air from 05:55 to 08:00
    expect(shown(dayFood([long]))).toEqual(['00:00-06:25 3', '06:25-08:30 11', '08:30-24:00 3']);
  });

  test('warm air of the evening before reaches into the day', () => {
    const late = sensor([
      ...steady('-22:00', '-22:30', 3),
      ...steady('-22:30', '-23:50', 10),
      ...steady('-23:50', '+01:10', 3),
    ]);
    // warm air from 22:25 to 23:50; food until 00:20
    expect(shown(dayFood([late]))).toEqual(['00:00-00:20 10', '00:20-24:00 3']);
  });

  test('a sensor in something like food needs none, and the warmer of both counts', () => {
    const air = sensor([
      ...steady('-22:00', '06:00', 3),
      ...steady('06:00', '06:20', 11),
      ...steady('06:20', '+01:10', 3),
    ]);
    const simulant = sensor(
      [...steady('-22:00', '06:00', 2), ...steady('06:00', '06:20', 4), ...steady('06:20', '+01:10', 2)],
      'simulant',
    );
    expect(shown(dayFood([air, simulant]))).toEqual(['00:00-05:55 3', '05:55-06:20 4', '06:20-24:00 3']);
  });

  test('where one kind is silent the other is heard; where both are, what was seen last is of both', () => {
    const air = sensor([...steady('-22:00', '06:00', 3), ...steady('12:00', '+01:10', 3)]);
    const simulant = sensor([...steady('-22:00', '08:00', 4)], 'simulant');
    // Air until 05:55 and from 12:00, the simulant until 07:55. Food follows the silence by as much as it follows warm air.
    expect(shown(dayFood([air, simulant]))).toEqual([
      '00:00-07:55 4',
      '07:55-12:00 8?',
      '12:00-12:30 8',
      '12:30-24:00 3',
    ]);
  });
});

describe('a night on which the clocks change', () => {
  // Europe/London, 25 October 2026: 01:00 UTC is 02:00 BST and becomes 01:00 GMT; 29 March 2026: 01:00 UTC becomes 02:00 BST.
  test.each([
    [
      'back: 01:30 comes twice, and the hour between counts once each',
      Date.UTC(2026, 9, 25),
      '2026-10-25T01:30:00+01:00',
      '2026-10-25T01:30:00+00:00',
      60,
    ],
    [
      'forward: 00:30 GMT and 02:30 BST are an hour apart',
      Date.UTC(2026, 2, 29),
      '2026-03-29T00:30:00+00:00',
      '2026-03-29T02:30:00+01:00',
      60,
    ],
  ])('%s', (_name, dayMs, first, second, minutes) => {
    const readings = [first, second].map((text) => ({ atMs: Date.parse(text), centiC: 900, doubt: false }));
    const record = dayRecord([{ kind: 'air', readings }], { ...chiller, gapMs: 2 * HOUR_MS }, dayMs);
    const heard = record?.segments.filter((one) => one.monitored) ?? [];
    expect(heard.map((one) => one.toMs - one.fromMs)).toEqual([minutes * MINUTE_MS]);
    expect(record?.sums.spanMs).toBe(DAY_MS);
  });
});

describe('sums', () => {
  test('of a part of a day begin and end at its stretches, and one without length ends no run', () => {
    const parts = unpack(pack(day([sensor([...steady('00:00', '06:00', 9), ...steady('06:00', '12:00', 3)])]), DAY));
    const seen: string[] = [];
    eachIn(parts, at('05:55') - DAY, at('13:00') - DAY, (spanMs, centiC, monitored) =>
      seen.push(`${spanMs / MINUTE_MS} ${centiC}${monitored ? '' : '?'}`),
    );
    // Warm until 06:00, the first cold reading; heard until 11:55.
    expect(seen).toEqual(['5 900', '355 300', '65 800?']);
    seen.length = 0;
    eachIn(parts, at('06:00') - DAY, at('07:00') - DAY, (spanMs, centiC) =>
      seen.push(`${spanMs / MINUTE_MS} ${centiC}`),
    );
    expect(seen).toEqual(['60 300']);
    const adder = createAdder();
    adder.segment(MINUTE_MS, 900, true, 800);
    adder.segment(0, 300, true, 800);
    adder.segment(MINUTE_MS, 900, true, 800);
    expect(adder.take().runs[2]?.counted.longestMs).toBe(2 * MINUTE_MS);
  });

  test('of a day: milliseconds at each temperature, unmonitored ones once more, runs above thresholds', () => {
    const place = sensor([
      ...steady('00:00', '06:00', 2.5),
      ...steady('06:00', '06:30', 5.5),
      ...steady('06:30', '12:00', 2.5),
      ['12:00', 9],
      ['18:00', 2.5],
      ...steady('18:05', '+00:10', 2.5),
    ]);
    const segments = day([place]);
    expect(shown(segments)).toEqual([
      '00:00-05:55 2.5',
      '05:55-06:30 5.5',
      '06:30-11:55 2.5',
      '11:55-12:00 9',
      '12:00-18:00 9?',
      '18:00-24:00 2.5',
    ]);
    const sums = sumsOf(segments, 850);
    const minutes = (list: readonly number[]) => list.map((ms) => ms / MINUTE_MS);
    expect([sums.hist.centiC, minutes(sums.hist.ms)]).toEqual([
      [250, 550, 900],
      [355 + 325 + 360, 35, 365],
    ]);
    expect([sums.unmonitored.centiC, minutes(sums.unmonitored.ms)]).toEqual([[900], [360]]);
    const runs = sums.runs.map(({ counted, monitored }) =>
      [counted.longestMs, counted.totalMs, monitored.longestMs, monitored.totalMs].map((ms) => ms / MINUTE_MS),
    );
    // above 3, 5, 8 and 10 °C, and above the place's own 8.5 °C
    expect(runs).toEqual([
      [365, 400, 35, 40],
      [365, 400, 35, 40],
      [365, 365, 5, 5],
      [0, 0, 0, 0],
      [365, 365, 5, 5],
    ]);
  });
});
