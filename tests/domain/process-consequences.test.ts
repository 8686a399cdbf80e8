/** What a failed check holds, case by case as the rules of the house say it; and how what was sent becomes what is judged. */
import { describe, expect, it } from 'vitest';
import { heldBy, limitWords, type AboutKind } from '../../src/domain/process-checks/consequences.ts';
import { keptMeasure, readMeasured } from '../../src/domain/process-checks/measured.ts';
import type { Stage } from '../../src/domain/process-checks/shapes.ts';

const lot = (code: string, waits: boolean, rejected = false) => ({ lotId: code, code, waits, rejected });
const waiting = lot('A', true);
const released = lot('B', false);
const rejected = lot('C', false, true);
const held = (about: AboutKind, repeatable: boolean | null, stage: Stage = 'chill', atOrigin = true) => {
  const { reach, lots } = heldBy({ about, repeatable, stage, atOrigin }, [waiting, released, rejected]);
  return [reach, lots.map(({ code }) => code).join('')];
};

describe('a failed check holds', () => {
  it.each<[AboutKind, boolean | null, string]>([
    // a point that cannot be repeated: whatever is not rejected already
    ['batch', false, 'AB'],
    ['lot', false, 'AB'],
    ['packing-run', false, 'AB'],
    // one that can: what waits for release waits anyway, what has left does not
    ['batch', true, 'B'],
    ['lot', true, 'B'],
    // no plan: a person who releases the batch sees it, what was released is held; a lot, packs or a delivery are held
    ['batch', null, 'B'],
    ['lot', null, 'AB'],
    ['packing-run', null, 'AB'],
    ['goods-receipt', null, 'AB'],
    // what food it is about is not said
    ['dispatch', null, ''],
    ['place', null, ''],
    ['equipment', null, ''],
    ['site', null, ''],
  ])('about %s, repeatable %s: %s', (about, repeatable, codes) => {
    expect(held(about, repeatable)).toEqual(['everywhere', codes]);
  });

  it('at another site at that site only, and at service nothing', () => {
    expect(held('lot', null, 'receipt', false)).toEqual(['site', 'AB']);
    expect(held('lot', null, 'regeneration', false)).toEqual(['site', '']);
    expect(held('lot', null, 'hot-holding')).toEqual(['everywhere', '']);
  });
});

it('a series is kept from its first point, and its ends and extremes beside it', () => {
  const series = [
    { minute: 30, temperatureC: 70 },
    { minute: 32.5, temperatureC: 75 },
    { minute: 40, temperatureC: -1 },
  ];
  const measured = readMeasured('cooling', { series });
  expect(measured).toMatchObject({ points: [{ minute: 0 }, { minute: 2.5 }, { minute: 10 }] });
  const ends = { points: 3, minutes: 10, firstC: 70, lastC: -1, lowestC: -1, highestC: 75 };
  expect(keptMeasure(measured)).toEqual({ form: 'series', ...ends });
});

it('212 °F is 100 °C and 32 °F is 0 °C', () => {
  expect(readMeasured('core-temperature', { temperatureF: 212 })).toEqual({ form: 'value', value: 100 });
  expect(readMeasured('temperature', { temperatureF: 32 })).toEqual({ form: 'value', value: 0 });
});

it('limits are said in words', () => {
  expect(limitWords('temperature', { form: 'value', atLeast: null, atMost: 8 })).toBe('at most 8 °C');
  expect(limitWords('ph', { form: 'value', atLeast: 3.5, atMost: 4.6 })).toBe('at least 3.5 and at most 4.6');
  expect(limitWords('elapsed-time', { form: 'value', atLeast: null, atMost: 30 })).toBe('at most 30 minutes');
  expect(limitWords('seal-test', { form: 'sample', leastTested: 5, mostFailed: 0 })).toContain('at least 5 tried');
});
