/** Lives of opened, heated, frozen and thawed food, by instants worked out by hand. London is UTC+1 from 28 March to 25 October. */
import { describe, expect, test } from 'vitest';
import {
  convert,
  leftWhenFrozen,
  lessLeft,
  type Anchors,
  type ConversionQuestion,
} from '../../src/domain/conversions.ts';

const at = (iso: string): number => Date.parse(iso);
const LONDON = 'Europe/London';
const NO_LIVES = { life: null, openedLifeH: null, regeneratedLifeH: null, frozenLifeDays: null, thawedLifeH: null };

interface Given extends Partial<Omit<ConversionQuestion, 'kind' | 'occurredAtMs' | 'source' | 'lives'>> {
  readonly useBy?: string | null;
  readonly anchors?: Anchors;
  readonly handling?: 'raw' | 'ready-to-eat';
  readonly lives?: Partial<ConversionQuestion['lives']>;
}

function done(kind: ConversionQuestion['kind'], when: string, given: Given = {}) {
  const { useBy, anchors, handling, lives, ...more } = given;
  const converted = convert({
    kind,
    occurredAtMs: at(when),
    zone: LONDON,
    source: {
      useByAtMs: useBy === null || useBy === undefined ? null : at(useBy),
      anchors: anchors ?? {},
      handling: handling ?? 'ready-to-eat',
    },
    lives: { ...NO_LIVES, ...lives },
    ...more,
  });
  const end = converted.useBy;
  const ends = end && { at: new Date(end.endsAtMs).toISOString(), date: end.date };
  return { ...converted, ends, why: converted.limits.map((limit) => limit.why) };
}

/** End of 29 November in London */
const END_29 = '2026-11-30T00:00:00Z';

describe('opening', () => {
  test('hours count from the opening, and the time is told', () => {
    const opened = done('open', '2026-11-25T11:40:00Z', { useBy: END_29, lives: { openedLifeH: 24 } });
    expect(opened.ends).toEqual({ at: '2026-11-26T11:40:00.000Z', date: null });
    expect(opened.why).toEqual(['opened-life', 'source-use-by']);
    expect(opened.anchors.opening).toBe(at('2026-11-25T11:40:00Z'));
    expect(opened.assumed).toEqual([]);
  });

  test('never later than the date of the pack', () => {
    const opened = done('open', '2026-11-29T20:00:00Z', { useBy: END_29, lives: { openedLifeH: 24 } });
    expect(opened.ends).toEqual({ at: '2026-11-30T00:00:00.000Z', date: '2026-11-29' });
  });

  test('no hours are made up: the date of the pack rules, and that is said', () => {
    const opened = done('open', '2026-11-25T11:40:00Z', { useBy: END_29 });
    expect(opened.ends).toEqual({ at: '2026-11-30T00:00:00.000Z', date: '2026-11-29' });
    expect(opened.assumed).toEqual([
      'No life once opened is set for this item.',
      'It keeps the date of what it came from.',
    ]);
    const undated = done('open', '2026-11-25T11:40:00Z');
    expect(undated.ends).toBeNull();
    expect(undated.assumed).toContain('Nothing limits how long it keeps: ask the quality lead.');
  });

  test.each(['decant', 'portion', 'open', 'regenerate'] as const)('%s gives no second fresh clock', (kind) => {
    const anchors = { opening: at('2026-11-25T08:00:00Z') };
    const again = done(kind, '2026-11-25T20:00:00Z', { useBy: END_29, anchors, lives: { openedLifeH: 24 } });
    expect(again.anchors.opening).toBe(anchors.opening);
    expect(again.ends?.at).toBe('2026-11-26T08:00:00.000Z');
  });

  test('decanting a sealed pack opens it', () => {
    const tub = done('decant', '2026-11-25T08:00:00Z', { useBy: END_29, lives: { openedLifeH: 6 } });
    expect(tub.ends?.at).toBe('2026-11-25T14:00:00.000Z');
  });

  test('a life in days that counts from the opening', () => {
    const life = { lifeDays: 3, anchor: 'opening', dayOne: 'anchor-day-is-day-one' } as const;
    const jar = done('open', '2026-11-25T08:00:00Z', { useBy: END_29, lives: { life } });
    expect(jar.ends).toEqual({ at: '2026-11-28T00:00:00.000Z', date: '2026-11-27' });
    expect(jar.assumed).toEqual([]);
  });

  test('24 hours over the night when clocks go back end at 15:00 when they began at 16:00 by the clock', () => {
    // 16:00 BST is 15:00 UTC; a day later it is 15:00 GMT
    const opened = done('open', '2026-10-24T16:00:00+01:00', { lives: { openedLifeH: 24 } });
    expect(opened.ends).toEqual({ at: '2026-10-25T15:00:00.000Z', date: null });
  });
});

describe('heating', () => {
  test('regenerated food keeps its hours, and remembers', () => {
    const hot = done('regenerate', '2026-11-25T11:30:00Z', {
      useBy: END_29,
      lives: { regeneratedLifeH: 2, openedLifeH: 24 },
    });
    expect(hot.ends?.at).toBe('2026-11-25T13:30:00.000Z');
    expect(hot.anchors.regenerated).toBe(at('2026-11-25T11:30:00Z'));
    expect(hot.killStep).toBe(false);
    const again = done('regenerate', '2026-11-25T13:00:00Z', {
      useBy: '2026-11-25T13:30:00Z',
      anchors: hot.anchors,
      lives: { regeneratedLifeH: 2 },
    });
    expect(again.ends?.at).toBe('2026-11-25T13:30:00.000Z');
  });

  const raw = { handling: 'raw', useBy: '2026-11-26T00:00:00Z', lives: { regeneratedLifeH: 4 } } as const;
  test('raw food cooked through is ready to eat, and its own hours rule, past the date of the raw pack', () => {
    const cooked = done('cook', '2026-11-25T22:00:00Z', { ...raw, coreTemperatureC: 76 });
    expect(cooked).toMatchObject({ handling: 'ready-to-eat', killStep: true, capsUseBy: false });
    expect(cooked.ends?.at).toBe('2026-11-26T02:00:00.000Z');
  });

  test.each([undefined, 59.99])('cooked with a core temperature of %s it stays raw, and its date stays', (core) => {
    const pink = done('cook', '2026-11-25T22:00:00Z', { ...raw, coreTemperatureC: core });
    expect(pink).toMatchObject({ handling: 'raw', killStep: false, capsUseBy: true });
    expect(pink.ends?.at).toBe('2026-11-26T00:00:00.000Z');
  });

  test('cooking brings nothing back: past its date it stays past its date', () => {
    const late = done('cook', '2026-11-26T10:00:00Z', { ...raw, coreTemperatureC: 80 });
    expect(late.ends?.at).toBe('2026-11-26T00:00:00.000Z');
  });

  test('where nothing says how long it keeps after cooking, the date of the raw pack stays', () => {
    const cooked = done('cook', '2026-11-25T10:00:00Z', { ...raw, lives: {}, coreTemperatureC: 80 });
    expect(cooked.ends?.at).toBe('2026-11-26T00:00:00.000Z');
    expect(cooked.capsUseBy).toBe(true);
  });
});

describe('freezing and thawing', () => {
  test('frozen three days before its date, thawed twenty days later: three days, counted from the thaw', () => {
    const frozen = done('freeze', '2026-11-26T15:00:00Z', { useBy: END_29, lives: { frozenLifeDays: 90 } });
    expect(frozen.anchors).toMatchObject({ frozenAt: at('2026-11-26T15:00:00Z'), frozenDaysLeft: 3 });
    // 26 November and 90 days: 4 + 31 + 31 = 66 days to 31 January, 24 more
    expect(frozen.ends).toEqual({ at: '2027-02-25T00:00:00.000Z', date: '2027-02-24' });
    const thawed = done('thaw', '2026-12-16T07:00:00Z', { useBy: '2027-02-25T00:00:00Z', anchors: frozen.anchors });
    expect(thawed.ends).toEqual({ at: '2026-12-20T00:00:00.000Z', date: '2026-12-19' });
    expect(thawed.why).toEqual(['days-left', 'source-use-by']);
    expect(thawed.anchors).toEqual({ thawStart: at('2026-12-16T07:00:00Z') });
  });

  test('frozen on its last day: used on the day that it is thawed', () => {
    const frozen = done('freeze', '2026-11-29T23:30:00Z', { useBy: END_29 });
    expect(frozen.anchors.frozenDaysLeft).toBe(0);
    expect(frozen.ends).toBeNull();
    const thawed = done('thaw', '2026-12-24T06:00:00Z', { anchors: frozen.anchors });
    expect(thawed.ends).toEqual({ at: '2026-12-25T00:00:00.000Z', date: '2026-12-24' });
  });

  test('frozen past its date it comes back past its date', () => {
    const frozen = done('freeze', '2026-12-01T09:00:00Z', { useBy: END_29 });
    expect(frozen.anchors.frozenDaysLeft).toBe(-2);
    const thawed = done('thaw', '2026-12-10T09:00:00Z', { anchors: frozen.anchors });
    expect(thawed.ends).toEqual({ at: '2026-12-09T00:00:00.000Z', date: '2026-12-08' });
  });

  test('days are those of the calendar at the site: over a month, over both changes of the clock', () => {
    const left = (frozenAt: string, end: string) =>
      leftWhenFrozen(at(frozenAt), { endsAtMs: at(end), isDate: true }, LONDON);
    // 28 January to 3 March 2027: 3 + 28 + 3
    expect(left('2027-01-28T10:00:00Z', '2027-03-04T00:00:00Z')).toEqual({ frozenDaysLeft: 34 });
    // 24 October 23:30 summer time to 27 October
    expect(left('2026-10-24T22:30:00Z', '2026-10-28T00:00:00Z')).toEqual({ frozenDaysLeft: 3 });
    // 27 March 23:30 to 30 March, which ends at 23:00 UTC
    expect(left('2027-03-27T23:30:00Z', '2027-03-30T23:00:00Z')).toEqual({ frozenDaysLeft: 3 });
  });

  test('a date of another zone is rounded down to a day that is over by then', () => {
    // the end of 29 November in Berlin is 23:00 of 29 November in London
    const end = { endsAtMs: at('2026-11-29T23:00:00Z'), isDate: true };
    expect(leftWhenFrozen(at('2026-11-26T15:00:00Z'), end, LONDON)).toEqual({ frozenDaysLeft: 2 });
  });

  test('hours stand still while it is frozen: 13 left are 13 left', () => {
    const opened = { opening: at('2026-11-25T08:00:00Z') };
    const frozen = done('freeze', '2026-11-25T19:00:00Z', { useBy: '2026-11-26T08:00:00Z', anchors: opened });
    expect(frozen.anchors.frozenMsLeft).toBe(13 * 3_600_000);
    const thawed = done('thaw', '2026-12-10T06:00:00Z', { anchors: frozen.anchors });
    expect(thawed.ends).toEqual({ at: '2026-12-10T19:00:00.000Z', date: null });
    // opened 11 hours before it was frozen, so 11 hours before it was thawed
    expect(thawed.anchors.opening).toBe(at('2026-12-09T19:00:00Z'));
    const tub = done('decant', '2026-12-10T08:00:00Z', {
      useBy: '2026-12-10T19:00:00Z',
      anchors: thawed.anchors,
      lives: { openedLifeH: 24 },
    });
    expect(tub.ends?.at).toBe('2026-12-10T19:00:00.000Z');
  });

  test('the least of days left, hours once thawed and the date of the frozen pack', () => {
    const anchors = { frozenAt: at('2026-11-01T10:00:00Z'), frozenDaysLeft: 9 };
    const given = { useBy: '2026-12-04T00:00:00Z', anchors, lives: { thawedLifeH: 48 } };
    expect(done('thaw', '2026-12-01T07:15:00Z', given).ends).toEqual({ at: '2026-12-03T07:15:00.000Z', date: null });
    expect(done('thaw', '2026-12-03T07:15:00Z', given).ends).toEqual({
      at: '2026-12-04T00:00:00.000Z',
      date: '2026-12-03',
    });
  });

  test('bought frozen: hours once thawed, a life from the thaw, else its own date', () => {
    const bought = { useBy: '2027-06-01T00:00:00+01:00' };
    const life = { lifeDays: 3, anchor: 'thaw-start', dayOne: 'day-after-is-day-one' } as const;
    expect(done('thaw', '2026-12-01T07:15:00Z', { ...bought, lives: { thawedLifeH: 24 } }).ends?.at).toBe(
      '2026-12-02T07:15:00.000Z',
    );
    expect(done('thaw', '2026-12-01T07:15:00Z', { ...bought, lives: { life } }).ends).toEqual({
      at: '2026-12-05T00:00:00.000Z',
      date: '2026-12-04',
    });
    const plain = done('thaw', '2026-12-01T07:15:00Z', bought);
    expect(plain.ends).toEqual({ at: '2027-05-31T23:00:00.000Z', date: '2027-05-31' });
    expect(plain.assumed).toEqual(['No life once thawed is set for this item.']);
  });

  test('ends at 15:00 by the clock on a day whose night had 25 or 23 hours', () => {
    // out at 15:00 summer time on the 24th, 25 hours: 15:00 winter time on the 25th
    const autumn = done('thaw', '2026-10-24T15:00:00+01:00', { lives: { thawedLifeH: 25 } });
    expect(autumn.ends).toEqual({ at: '2026-10-25T15:00:00.000Z', date: null });
    // out at 15:00 winter time on 27 March, 23 hours: 15:00 summer time on the 28th
    const spring = done('thaw', '2027-03-27T15:00:00Z', { lives: { thawedLifeH: 23 } });
    expect(spring.ends).toEqual({ at: '2027-03-28T14:00:00.000Z', date: null });
    // and a whole day that ends with a change
    const days = done('thaw', '2027-03-27T15:00:00Z', {
      anchors: { frozenAt: at('2027-01-02T09:00:00Z'), frozenDaysLeft: 1 },
    });
    expect(days.ends).toEqual({ at: '2027-03-28T23:00:00.000Z', date: '2027-03-28' });
  });

  test('a date that came forward since: the less of what was left then and what would be left now', () => {
    expect(lessLeft({ frozenAt: 1, frozenDaysLeft: 3 }, { frozenDaysLeft: 1 })).toEqual({
      frozenAt: 1,
      frozenDaysLeft: 1,
    });
    expect(lessLeft({ frozenDaysLeft: 3 }, { frozenDaysLeft: 5 })).toEqual({ frozenDaysLeft: 3 });
    expect(lessLeft({ frozenDaysLeft: 3 }, { frozenMsLeft: 5 })).toEqual({ frozenDaysLeft: 3, frozenMsLeft: 5 });
  });

  test('thawed and frozen again is seen; through a kill step it is not; freezing a frozen pack changes nothing', () => {
    const thawed = done('thaw', '2026-12-01T07:00:00Z', { useBy: '2027-06-01T00:00:00+01:00', handling: 'raw' });
    const refrozen = done('freeze', '2026-12-01T09:00:00Z', { anchors: thawed.anchors });
    expect(refrozen.refrozen).toBe(true);
    const portioned = done('portion', '2026-12-01T08:00:00Z', { anchors: thawed.anchors });
    expect(done('freeze', '2026-12-01T09:00:00Z', { anchors: portioned.anchors }).refrozen).toBe(true);
    const cooked = done('cook', '2026-12-01T09:00:00Z', {
      anchors: thawed.anchors,
      handling: 'raw',
      coreTemperatureC: 75,
      lives: { regeneratedLifeH: 4 },
    });
    expect(done('freeze', '2026-12-01T10:00:00Z', { anchors: cooked.anchors }).refrozen).toBe(false);
    const warm = done('regenerate', '2026-12-01T09:00:00Z', { anchors: thawed.anchors });
    expect(done('freeze', '2026-12-01T10:00:00Z', { anchors: warm.anchors }).refrozen).toBe(true);
    const frozen = done('freeze', '2026-11-26T15:00:00Z', { useBy: END_29 });
    const twice = done('freeze', '2026-11-27T15:00:00Z', { anchors: frozen.anchors });
    expect(twice.refrozen).toBe(false);
    expect(twice.anchors).toEqual(frozen.anchors);
  });
});

test('a sample is kept to the day that was said', () => {
  const sample = done('sample', '2026-11-25T12:00:00Z', { useBy: END_29, disposeAfter: '2026-12-02' });
  expect(sample.ends).toEqual({ at: '2026-12-03T00:00:00.000Z', date: '2026-12-02' });
  expect(sample.capsUseBy).toBe(false);
});

test('a sample of which nobody said how long it is kept goes by the days that are common practice', () => {
  // half an hour before midnight: still the 25th at the site, and seven days from it
  const london = done('sample', '2026-11-25T23:30:00Z', { useBy: END_29 });
  expect(london.ends).toEqual({ at: '2026-12-03T00:00:00.000Z', date: '2026-12-02' });
});
