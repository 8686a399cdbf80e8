/** Excursions worked by hand. */
import { describe, expect, test } from 'vitest';
import { areaCMin, excursionsOf, type WatchedStretch } from '../../src/domain/exposure/excursions.ts';
import type { Segment } from '../../src/domain/exposure/shapes.ts';

const MINUTE_MS = 60_000;

/** Minutes from the start, temperature, and whether it was seen ('?') or its time is in doubt ('!'). */
function stretch(
  parts: readonly (readonly [minutes: number, temperatureC: number, mark?: string])[],
  more: Partial<WatchedStretch> = {},
): WatchedStretch {
  let at = 0;
  const segments: Segment[] = parts.map(([minutes, temperatureC, mark = '']) => {
    const fromMs = at;
    at += minutes * MINUTE_MS;
    return { fromMs, toMs: at, centiC: Math.round(temperatureC * 100), monitored: mark !== '?', doubt: mark === '!' };
  });
  return { segments, upperCentiC: 800, lowerCentiC: null, assumedCentiC: null, delayMs: 30 * MINUTE_MS, ...more };
}
const found = (stretches: readonly WatchedStretch[], last: Parameters<typeof excursionsOf>[1] = null) =>
  excursionsOf(stretches, last).map((one) => ({
    from: one.startMs / MINUTE_MS,
    to: one.endMs === null ? null : one.endMs / MINUTE_MS,
    peak: one.peakCentiC / 100,
    area: areaCMin(one.areaCentiMs),
    ...(one.side === 'below' && { below: true }),
    ...(one.suspected && { suspected: true }),
    ...(one.unmonitoredMs > 0 && { unmonitored: one.unmonitoredMs / MINUTE_MS }),
  }));

describe('an excursion', () => {
  test('lasts longer than the delay; as long is none, and the limit itself is within', () => {
    expect(
      found([
        stretch([
          [60, 3],
          [30, 11],
          [60, 8],
        ]),
      ]),
    ).toEqual([]);
    expect(
      found([
        stretch([
          [60, 3],
          [31, 11],
          [60, 8],
        ]),
      ]),
    ).toEqual([{ from: 60, to: 91, peak: 11, area: 93 }]);
  });

  test('adds up the degrees beyond the limit by the minute, and keeps the first moment of its peak', () => {
    // 1.5 x 20 + 3 x 10 + 0.25 x 20 = 65
    const warm = stretch([
      [10, 3],
      [20, 9.5],
      [10, 11],
      [20, 8.25],
      [10, 3],
    ]);
    expect(found([warm])).toEqual([{ from: 10, to: 60, peak: 11, area: 65 }]);
    expect(excursionsOf([warm], null)[0]?.peakAtMs).toBe(30 * MINUTE_MS);
  });

  test('goes on over midnight, each day by its own limit', () => {
    const night = stretch([
      [100, 3],
      [20, 9],
    ]);
    const next = stretch(
      [
        [20, 9],
        [100, 3],
      ],
      { upperCentiC: 500 },
    );
    const shifted = {
      ...next,
      segments: next.segments.map((one) => ({
        ...one,
        fromMs: one.fromMs + 120 * MINUTE_MS,
        toMs: one.toMs + 120 * MINUTE_MS,
      })),
    };
    // 1 x 20 + 4 x 20
    expect(found([night, shifted])).toEqual([{ from: 100, to: 140, peak: 9, area: 100 }]);
  });

  test('is open while its last reading is outside, and ended when that is not', () => {
    const warm = stretch([
      [60, 3],
      [45, 9],
    ]);
    const lastMs = 105 * MINUTE_MS;
    expect(found([warm], { atMs: lastMs, centiC: 900 })).toEqual([{ from: 60, to: null, peak: 9, area: 45 }]);
    expect(found([warm], { atMs: lastMs, centiC: 400 })).toEqual([{ from: 60, to: 105, peak: 9, area: 45 }]);
  });

  test('is suspected when what is sure of it lasts no longer than the delay', () => {
    expect(
      found([
        stretch([
          [20, 9, '!'],
          [30, 9],
          [20, 9, '!'],
        ]),
      ]),
    ).toEqual([{ from: 0, to: 70, peak: 9, area: 70, suspected: true }]);
    expect(
      found([
        stretch([
          [20, 9, '!'],
          [31, 9],
          [20, 9, '!'],
        ]),
      ]),
    ).toEqual([{ from: 0, to: 71, peak: 9, area: 71 }]);
  });

  test('says how much of it was not seen; what is only assumed is none', () => {
    expect(
      found([
        stretch([
          [10, 9],
          [40, 9, '?'],
          [10, 3],
        ]),
      ]),
    ).toEqual([{ from: 0, to: 50, peak: 9, area: 50, unmonitored: 40 }]);
    expect(
      found([
        stretch(
          [
            [10, 3],
            [600, 25, '?'],
            [10, 3],
          ],
          { assumedCentiC: 2500 },
        ),
      ]),
    ).toEqual([]);
  });

  test('can be below the lower limit', () => {
    expect(
      found([
        stretch(
          [
            [10, 3],
            [40, -1.5],
            [10, 3],
          ],
          { lowerCentiC: 0 },
        ),
      ]),
    ).toEqual([{ from: 10, to: 50, peak: -1.5, area: 60, below: true }]);
  });
});
