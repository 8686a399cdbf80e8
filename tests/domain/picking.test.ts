/** Every expected number here is counted by hand from the table in front of it. */
import { describe, expect, test } from 'vitest';
import meals from '../../shared/meals.json' with { type: 'json' };
import { mealAtMs, pickFrom, type FreePart, type Wanted } from '../../src/domain/picking.ts';

const HOUR_MS = 3_600_000;
const NOW = Date.UTC(2026, 10, 25, 9);
const LUNCH = Date.UTC(2026, 10, 25, 12);
const DINNER = Date.UTC(2026, 10, 25, 17, 30);

const part = (lotId: string, packs: number, lifeLeftH: number | null, more: Partial<FreePart> = {}): FreePart => ({
  lotId,
  lotCode: lotId,
  placeId: 'chiller',
  itemId: 'stew',
  packs,
  useByMs: lifeLeftH === null ? null : LUNCH + lifeLeftH * HOUR_MS,
  ...more,
});
const want = (portions: number, more: Partial<Wanted> = {}): Wanted => ({
  requirementId: 'r',
  itemId: 'stew',
  portions,
  portionsPerPack: 1,
  mealAtMs: LUNCH,
  suits: true,
  ...more,
});
/** `lot:packs` of each pick, then how many packs and portions are short. */
function told(wanted: readonly Wanted[], parts: readonly FreePart[], lifeLeftH = 0): string[] {
  return pickFrom(wanted, parts, lifeLeftH, NOW).map(
    ({ requirementId, picks, shortPacks, shortPortions }) =>
      `${requirementId}: ${picks.map((pick) => `${pick.lotId}:${pick.packs}`).join(' ')} short ${shortPacks}/${shortPortions}`,
  );
}

describe('what is picked', () => {
  test.each<[string, readonly Wanted[], readonly FreePart[], number, string[]]>([
    [
      'the oldest date first, whatever its code and however it is given',
      [want(7)],
      [part('a', 9, 72), part('z', 5, 24)],
      0,
      ['r: z:5 a:2 short 0/0'],
    ],
    ['no limit comes last', [want(3)], [part('a', 2, null), part('b', 2, 90)], 0, ['r: b:2 a:1 short 0/0']],
    [
      'two without a limit go by their code',
      [want(3)],
      [part('b', 2, null), part('a', 2, null)],
      0,
      ['r: a:2 b:1 short 0/0'],
    ],
    ['past its date at the meal: not at all', [want(2)], [part('a', 2, -1), part('b', 1, 1)], 0, ['r: b:1 short 1/1']],
    ['the very moment of the meal is past', [want(1)], [part('a', 1, 0)], 0, ['r:  short 1/1']],
    [
      'exactly the life left that was asked for will do',
      [want(2)],
      [part('a', 1, 24), part('b', 1, 23)],
      24,
      ['r: a:1 short 1/1'],
    ],
    ['whole packs, rounded up', [want(7, { portionsPerPack: 4 })], [part('a', 5, 24)], 0, ['r: a:2 short 0/0']],
    [
      'short in portions, not in packs times portions',
      [want(7, { portionsPerPack: 4 })],
      [part('a', 1, 24)],
      0,
      ['r: a:1 short 1/3'],
    ],
    ['another item is left alone', [want(1)], [part('a', 9, 24, { itemId: 'soup' })], 0, ['r:  short 1/1']],
    [
      'an item of another texture is never picked',
      [want(2, { suits: false })],
      [part('a', 9, 24)],
      0,
      ['r:  short 2/2'],
    ],
    ['nothing is wanted', [want(0), want(-3)], [part('a', 9, 24)], 0, ['r:  short 0/0', 'r:  short 0/0']],
    [
      'the earlier meal first, and no pack twice',
      [want(4, { requirementId: 'dinner', mealAtMs: DINNER }), want(4, { requirementId: 'lunch' })],
      [part('a', 5, 24), part('b', 2, 48)],
      0,
      ['lunch: a:4 short 0/0', 'dinner: a:1 b:2 short 1/1'],
    ],
    [
      'what is past its date at dinner still does for lunch',
      [want(1, { requirementId: 'dinner', mealAtMs: DINNER }), want(1, { requirementId: 'lunch' })],
      [part('a', 2, 3), part('b', 1, 48)],
      0,
      ['lunch: a:1 short 0/0', 'dinner: b:1 short 0/0'],
    ],
    [
      'place by place of the same lot',
      [want(5)],
      [part('a', 3, 24, { placeId: 'two' }), part('a', 3, 24, { placeId: 'one' })],
      0,
      ['r: a:3 a:2 short 0/0'],
    ],
  ])('%s', (_what, wanted, parts, lifeLeftH, expected) => {
    expect(told(wanted, parts, lifeLeftH)).toEqual(expected);
  });

  test('a meal that is over does not bring back what has gone off since', () => {
    const breakfast = want(1, { mealAtMs: NOW - 2 * HOUR_MS });
    const gone = part('a', 1, 0, { useByMs: NOW - HOUR_MS });
    expect(told([breakfast], [gone])).toEqual(['r:  short 1/1']);
  });
});

describe('when a meal is', () => {
  // European summer time: from the last Sunday of March to the last Sunday of October, 01:00 UTC (Directive 2000/84/EC);
  // in London the same hour (Summer Time Order 2002).
  test.each<[string, string, string, string]>([
    ['2026-10-24', 'lunch', 'Europe/London', '2026-10-24T11:00:00.000Z'],
    ['2026-10-25', 'breakfast', 'Europe/London', '2026-10-25T08:00:00.000Z'],
    ['2026-10-25', 'lunch', 'Europe/London', '2026-10-25T12:00:00.000Z'],
    ['2027-03-27', 'dinner', 'Europe/London', '2027-03-27T17:30:00.000Z'],
    ['2027-03-28', 'dinner', 'Europe/London', '2027-03-28T16:30:00.000Z'],
    ['2027-03-28', 'breakfast', 'Europe/Paris', '2027-03-28T06:00:00.000Z'],
    ['2026-11-25', 'other', 'Europe/London', '2026-11-25T12:00:00.000Z'],
  ])('%s %s in %s', (day, meal, zone, expected) => {
    expect(new Date(mealAtMs(day, meal, zone)).toISOString()).toBe(expected);
  });

  test('a meal, day or zone that there is not is a fault', () => {
    expect(() => mealAtMs('2026-11-25', 'brunch', 'Europe/London')).toThrow(RangeError);
    expect(() => mealAtMs('2026-02-30', 'lunch', 'Europe/London')).toThrow(RangeError);
    expect(() => mealAtMs('2026-11-25', 'lunch', 'Nowhere/Atall')).toThrow(RangeError);
  });

  test('the four meals, and that their times are common practice', () => {
    expect(meals.list.map((meal) => [meal.code, meal.localTime])).toEqual([
      ['breakfast', '08:00'],
      ['lunch', '12:00'],
      ['dinner', '17:30'],
      ['other', '12:00'],
    ]);
    expect(meals.basis).toBe('common practice');
  });
});
