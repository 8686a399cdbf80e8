import { describe, expect, test } from 'vitest';
import diets from '../../shared/diets.json' with { type: 'json' };
import { conflictSentence, dietConflict, isDietCode } from '../../src/domain/diets.ts';

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

describe('may an item be sent for a requirement', () => {
  const item = (textureLevel: number | null, ...dietCodes: string[]) => ({ textureLevel, dietCodes });

  test.each<[string, number | null, number | null, boolean]>([
    ['the same level', 4, 4, true],
    ['a more solid one: it can choke', 7, 4, false],
    ['a thinner one: it can be breathed in', 3, 4, false],
    ['the next one is another one', 6, 5, false],
    ['no level in place of one', null, 4, false],
    ['no level in place of regular food, when level 7 is what was asked for', null, 7, false],
    ['any level where none was asked for', 4, null, true],
    ['none where none was asked for', null, null, true],
    ['thin drinks are level 0, which is a level', null, 0, false],
    ['level 0 for level 0', 0, 0, true],
  ])('%s', (_what, is, asked, good) => {
    expect(dietConflict(item(is), item(asked)) === null).toBe(good);
  });

  test('every diet that was asked for must be among those of the item; more do no harm', () => {
    expect(dietConflict(item(null, 'vegan', 'vegetarian'), item(null, 'vegan'))).toBeNull();
    expect(dietConflict(item(null, 'vegetarian'), item(null, 'gluten-free', 'vegan', 'vegetarian'))).toEqual({
      texture: null,
      missingDiets: ['gluten-free', 'vegan'],
    });
    // Nobody infers one diet from another: what an item suits is stated on it.
    expect(dietConflict(item(null, 'vegan'), item(null, 'vegetarian'))).not.toBeNull();
  });

  test('the refusal says both textures by name, that it is dangerous, and the diets', () => {
    const conflict = dietConflict(item(7), item(4, 'halal'));
    if (conflict === null) throw new Error('it was let through');
    const said = conflictSentence(conflict, 'Beef stew');
    expect(said).toContain('level 7 (Regular)');
    expect(said).toContain('level 4 (Pureed / Extremely Thick)');
    expect(said).toContain('can choke');
    expect(said).toContain('Beef stew is not marked as halal.');
  });
});
