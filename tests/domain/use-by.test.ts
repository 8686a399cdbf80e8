import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  capByInputs,
  dateEndingAt,
  formatUseBy,
  overrideEarlier,
  useByFrom,
  type LifeRule,
  type UseBy,
} from '../../src/domain/use-by.ts';

// Instants are written with their offset, so the expected values need no time zone library.
const at = (iso: string): number => Date.parse(iso);
const HOUR_MS = 3_600_000;
const LONDON = 'Europe/London';
const NEW_YORK = 'America/New_York';

function given(rule: LifeRule, anchors: Parameters<typeof useByFrom>[1], zone: string): UseBy {
  const useBy = useByFrom(rule, anchors, zone);
  if ('refusal' in useBy) throw new Error(`refused: ${useBy.refusal}`);
  return useBy;
}

describe('rules of the trade', () => {
  // No longer than five days: DHSS 1980 / DoH 1989. That the production day is one of them: from memory.
  const ukCookChill: LifeRule = { lifeDays: 5, anchor: 'end-of-cooking', dayOne: 'anchor-day-is-day-one' };
  // FDA Food Code 3-501.17, as adopted by Georgia and Minnesota: seven calendar days including the day of preparation.
  const usDateMark: LifeRule = { lifeDays: 7, anchor: 'production', dayOne: 'anchor-day-is-day-one' };

  test('UK cook-chill, cooked on a Tuesday morning: five days with that Tuesday, to the end of Saturday', () => {
    expect(given(ukCookChill, { endOfCooking: at('2026-11-24T11:20:00Z') }, LONDON)).toEqual({
      date: '2026-11-28',
      endsAtMs: at('2026-11-29T00:00:00Z'),
      anchor: 'end-of-cooking',
    });
  });

  test('a stew off the heat at 23:40 and packed after midnight counts from the evening before', () => {
    const anchors = { endOfCooking: at('2026-11-24T23:40:00Z'), firstSeal: at('2026-11-25T01:10:00Z') };
    expect(given(ukCookChill, anchors, LONDON).date).toBe('2026-11-28');
    expect(given({ ...ukCookChill, anchor: 'first-seal' }, anchors, LONDON).date).toBe('2026-11-29');
  });

  test('summer time: 23:40 in London is still that day, though UTC says 22:40', () => {
    expect(given(ukCookChill, { endOfCooking: at('2026-07-01T23:40:00+01:00') }, LONDON)).toMatchObject({
      date: '2026-07-05',
      endsAtMs: at('2026-07-06T00:00:00+01:00'),
    });
  });

  test('US date mark: made on 1 November, last day 7 November', () => {
    expect(given(usDateMark, { production: at('2026-11-01T09:00:00-05:00') }, NEW_YORK)).toMatchObject({
      date: '2026-11-07',
      endsAtMs: at('2026-11-08T00:00:00-05:00'),
    });
  });

  test('the day after as day one gives one day more', () => {
    const rule: LifeRule = { lifeDays: 10, anchor: 'first-seal', dayOne: 'day-after-is-day-one' };
    expect(given(rule, { firstSeal: at('2026-02-20T10:00:00Z') }, LONDON).date).toBe('2026-03-02');
  });

  test('one day with the anchor day as day one is that day', () => {
    const rule: LifeRule = { lifeDays: 1, anchor: 'opening', dayOne: 'anchor-day-is-day-one' };
    expect(given(rule, { opening: at('2028-02-29T10:00:00Z') }, LONDON).date).toBe('2028-02-29');
  });
});

describe('when the clocks change', () => {
  const twoDays: LifeRule = { lifeDays: 2, anchor: 'production', dayOne: 'anchor-day-is-day-one' };
  const oneDay: LifeRule = { lifeDays: 24, anchor: 'production', dayOne: 'day-after-is-day-one' };

  test.each([
    ['London, spring: Sunday has 23 hours', LONDON, '2026-03-28T12:00:00Z', '2026-03-29', '2026-03-30T00:00:00+01:00'],
    ['London, autumn: 25 hours', LONDON, '2026-10-24T12:00:00+01:00', '2026-10-25', '2026-10-26T00:00:00Z'],
    ['New York, spring', NEW_YORK, '2026-03-07T12:00:00-05:00', '2026-03-08', '2026-03-09T00:00:00-04:00'],
    ['New York, autumn', NEW_YORK, '2026-10-31T12:00:00-04:00', '2026-11-01', '2026-11-02T00:00:00-05:00'],
  ])('%s', (_, zone, made, date, end) => {
    expect(given(twoDays, { production: at(made) }, zone)).toEqual({ date, endsAtMs: at(end), anchor: 'production' });
  });

  test('cooked at 01:30 in the hour that comes twice, either one: same date', () => {
    for (const made of ['2026-10-25T01:30:00+01:00', '2026-10-25T01:30:00Z']) {
      expect(given(oneDay, { production: at(made) }, LONDON).date).toBe('2026-11-18');
    }
  });

  test('hours are hours: 12 h over the spring night end 13 hours later on the wall', () => {
    const rule: LifeRule = { lifeH: 12, anchor: 'opening', dayOne: 'anchor-day-is-day-one' };
    const useBy = given(rule, { opening: at('2026-03-28T20:00:00Z') }, LONDON);
    expect(useBy).toEqual({ date: null, endsAtMs: at('2026-03-29T08:00:00Z'), anchor: 'opening' });
    expect(formatUseBy(useBy.endsAtMs, LONDON)).toBe('2026-03-29 09:00');
  });

  test('Santiago has no midnight on 6 September 2026: the day before ends where 01:00 begins', () => {
    expect(given(twoDays, { production: at('2026-09-04T12:00:00-04:00') }, 'America/Santiago')).toMatchObject({
      date: '2026-09-05',
      endsAtMs: at('2026-09-06T01:00:00-03:00'),
    });
  });

  test('Havana has midnight twice on 1 November 2026: the day before ends at the first', () => {
    const useBy = given(twoDays, { production: at('2026-10-30T12:00:00-04:00') }, 'America/Havana');
    expect(useBy).toMatchObject({ date: '2026-10-31', endsAtMs: at('2026-11-01T00:00:00-04:00') });
    expect(formatUseBy(useBy.endsAtMs, 'America/Havana')).toBe('2026-10-31');
  });

  test('any rule, any moment of ten years: the last instant is on the date, the next is not', () => {
    const zones = fc.constantFrom(LONDON, NEW_YORK, 'Australia/Lord_Howe', 'America/Santiago', 'Africa/Cairo', 'UTC');
    const ms = fc.integer({ min: at('2020-01-01T00:00:00Z'), max: at('2030-01-01T00:00:00Z') });
    fc.assert(
      fc.property(zones, ms, fc.integer({ min: 1, max: 40 }), (zone, production, lifeDays) => {
        const { date, endsAtMs } = given({ ...twoDays, lifeDays }, { production }, zone);
        // An independent reading of the local date, by the platform's own Intl.
        const day = new Intl.DateTimeFormat('en-CA', { timeZone: zone, dateStyle: 'short' });
        expect(day.format(endsAtMs - 1)).toBe(date);
        expect(day.format(endsAtMs) > (date ?? '')).toBe(true);
        expect(Date.parse(date ?? '') - Date.parse(day.format(production))).toBe((lifeDays - 1) * 24 * HOUR_MS);
        expect(dateEndingAt(endsAtMs, zone)).toBe(date);
      }),
    );
  });
});

describe('days and hours together', () => {
  const rule: LifeRule = { lifeDays: 3, lifeH: 48, anchor: 'opening', dayOne: 'anchor-day-is-day-one' };

  test('the earlier end rules', () => {
    expect(given(rule, { opening: at('2026-11-24T08:00:00Z') }, LONDON).endsAtMs).toBe(at('2026-11-26T08:00:00Z'));
    expect(given({ ...rule, lifeH: 90 }, { opening: at('2026-11-24T08:00:00Z') }, LONDON)).toMatchObject({
      date: '2026-11-26',
      endsAtMs: at('2026-11-27T00:00:00Z'),
    });
  });

  test('hours that end with the day are shown as its date', () => {
    const useBy = given({ ...rule, lifeDays: undefined }, { opening: at('2026-11-24T00:00:00Z') }, LONDON);
    expect(useBy).toMatchObject({ date: '2026-11-25', endsAtMs: at('2026-11-26T00:00:00Z') });
  });
});

describe('refusals and faults', () => {
  const rule: LifeRule = { lifeDays: 3, anchor: 'thaw-start', dayOne: 'anchor-day-is-day-one' };

  test('no thaw recorded: nothing to count from', () => {
    expect(useByFrom(rule, { endOfCooking: 0 }, LONDON)).toEqual({ refusal: 'anchor-missing' });
  });

  test('neither days nor hours', () => {
    const { anchor, dayOne } = rule;
    expect(useByFrom({ anchor, dayOne }, { thawStart: 0 }, LONDON)).toEqual({ refusal: 'life-missing' });
  });

  test.each([0, -1, 1.5, Number.NaN])('%s days is a fault', (lifeDays) => {
    expect(() => useByFrom({ ...rule, lifeDays }, { thawStart: 0 }, LONDON)).toThrow(RangeError);
  });

  test.each([0, -2, Number.POSITIVE_INFINITY])('%s hours is a fault', (lifeH) => {
    expect(() => useByFrom({ ...rule, lifeH }, { thawStart: 0 }, LONDON)).toThrow(RangeError);
  });

  test('an unknown zone is a fault, never a date in UTC', () => {
    expect(() => useByFrom(rule, { thawStart: 0 }, 'Mars/Base')).toThrow(RangeError);
  });
});

describe('capping by inputs', () => {
  const own = { endsAtMs: 1_000 };
  const inputs = [
    { lotCode: 'STOCK-2', endsAtMs: 700 },
    { lotCode: 'STOCK-1', endsAtMs: 700 },
    { lotCode: 'PEAS', endsAtMs: 5_000 },
  ];

  test('the shortest-dated input rules, and it is named', () => {
    expect(capByInputs(own, inputs, false)).toEqual({
      endsAtMs: 700,
      ruledBy: { kind: 'input', lotCode: 'STOCK-1' },
      why: 'shortest-dated-input',
    });
  });

  test('a kill step between sets it aside, and the answer says so', () => {
    expect(capByInputs(own, inputs, true)).toEqual({
      endsAtMs: 1_000,
      ruledBy: { kind: 'own' },
      why: 'kill-step-since-inputs',
    });
  });

  test.each([
    ['no inputs', []],
    ['longer inputs', [{ lotCode: 'PEAS', endsAtMs: 5_000 }]],
    ['an input ending at the same time', [{ lotCode: 'PEAS', endsAtMs: 1_000 }]],
  ])('%s: own life', (_, list) => {
    const capped = { endsAtMs: 1_000, ruledBy: { kind: 'own' }, why: 'own-life' };
    expect(capByInputs(own, list, false)).toEqual(capped);
    expect(capByInputs(own, list, true)).toEqual(capped);
  });
});

describe('setting an earlier one by hand', () => {
  test('earlier or the same is taken, later is refused', () => {
    expect(overrideEarlier(1_000, 999)).toEqual({ endsAtMs: 999 });
    expect(overrideEarlier(1_000, 1_000)).toEqual({ endsAtMs: 1_000 });
    expect(overrideEarlier(1_000, 1_001)).toEqual({ refusal: 'use-by-later-than-computed' });
  });
});

describe('as people read it', () => {
  test.each([
    ['2026-11-30T00:00:00Z', LONDON, '2026-11-29'],
    ['2026-11-29T14:30:59.999Z', LONDON, '2026-11-29 14:30'],
    ['2026-10-25T01:30:00+01:00', LONDON, '2026-10-25 01:30 UTC+1'],
    ['2026-10-25T01:30:00Z', LONDON, '2026-10-25 01:30 UTC+0'],
    ['2026-11-29T14:30:00Z', NEW_YORK, '2026-11-29 09:30'],
    ['2026-11-29T05:00:00Z', NEW_YORK, '2026-11-28'],
  ])('%s in %s is %s', (iso, zone, text) => {
    expect(formatUseBy(at(iso), zone)).toBe(text);
  });
});
