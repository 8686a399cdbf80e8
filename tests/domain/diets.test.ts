import { describe, expect, test } from 'vitest';
import diets from '../../shared/diets.json' with { type: 'json' };
import { isDietCode } from '../../src/domain/diets.ts';

describe('texture levels', () => {
  test('The IDDSI Framework 2.0 (July 2019): eight levels, drinks 0 to 4, foods 3 to 7, with its names', () => {
    const names = [
      'Thin',
      'Slightly Thick',
      'Mildly Thick',
      'Liquidised / Moderately Thick',
      'Pureed / Extremely Thick',
      'Minced & Moist',
      'Soft & Bite-Sized',
      'Regular',
    ];
    expect(diets.textures.list.map((one) => one.label)).toEqual(names);
    const levelsFor = (kind: string) =>
      diets.textures.list.flatMap((one) => (one.for.includes(kind) ? [one.level] : []));
    expect(levelsFor('drinks')).toEqual([0, 1, 2, 3, 4]);
    expect(levelsFor('foods')).toEqual([3, 4, 5, 6, 7]);
  });
});

test('A diet is known by its code alone', () => {
  expect(isDietCode('vegan')).toBe(true);
  expect(isDietCode('Vegan')).toBe(false);
  expect(isDietCode('Liquidised / Moderately Thick')).toBe(false);
});
