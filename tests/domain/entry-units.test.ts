import { describe, expect, test } from 'vitest';
import { quantitySaid, type CountedItem, type Said } from '../../src/domain/entry-units.ts';
import { Refused } from '../../src/domain/errors.ts';

/** A case of twelve tins of 400 g; a half-size gastronorm (GN 1/2, EN 631) filled with 2.5 kg. */
const tomatoes: CountedItem = {
  name: 'Chopped tomatoes',
  unit: 'g',
  entryUnits: [
    { code: 'tin', quantity: 400 },
    { code: 'case', quantity: 4_800 },
    { code: 'gn-1/2', quantity: 2_500 },
  ],
};
const at = (field: string) => `#/lines/0/${field}`;

function refusalOf(said: Said, item = tomatoes): { code: string; pointer: string | undefined; members: unknown } {
  try {
    quantitySaid(item, said, at);
  } catch (error) {
    if (error instanceof Refused) {
      return { code: error.code, pointer: error.more.errors?.[0]?.pointer, members: error.more.members };
    }
    throw error;
  }
  throw new Error('it was taken');
}

describe('a quantity', () => {
  test.each<[Said, number]>([
    [{ quantity: 1_200 }, 1_200],
    [{ entryUnit: 'tin', entryQuantity: 3 }, 1_200],
    [{ entryUnit: 'case', entryQuantity: 2 }, 9_600],
    [{ entryUnit: 'case', entryQuantity: 0.5 }, 2_400],
    // 1/1000 of 4800 is 4.8, but 0.125 x 4800 = 600
    [{ entryUnit: 'case', entryQuantity: 0.125 }, 600],
    [{ entryUnit: 'gn-1/2', entryQuantity: 1.5 }, 3_750],
    [{ entryUnit: 'tin', entryQuantity: 0 }, 0],
    // 0.29 is not a binary number; 0.29 x 400 = 116
    [{ entryUnit: 'tin', entryQuantity: 0.29 }, 116],
  ])('said as %j is %i g', (said, expected) => {
    expect(quantitySaid(tomatoes, said, at)).toBe(expected);
  });

  test.each<[string, Said, string, string]>([
    ['in what the item is not counted in', { entryUnit: 'tray', entryQuantity: 1 }, 'entry-unit-unknown', 'entryUnit'],
    ['neither way', {}, 'rule-broken', 'quantity'],
    ['both ways', { quantity: 5, entryUnit: 'tin', entryQuantity: 1 }, 'rule-broken', 'quantity'],
    ['without how many', { entryUnit: 'tin' }, 'rule-broken', 'entryQuantity'],
    ['without of what', { entryQuantity: 2 }, 'rule-broken', 'entryUnit'],
    ['in a part that is not whole', { entryUnit: 'case', entryQuantity: 0.001 }, 'rule-broken', 'entryQuantity'],
    ['beyond what can be recorded', { entryUnit: 'case', entryQuantity: 1e9 }, 'rule-broken', 'entryQuantity'],
  ])('%s is refused', (_what, said, code, field) => {
    expect(refusalOf(said)).toMatchObject({ code, pointer: at(field) });
  });

  test('in an unknown unit is told the known ones', () => {
    expect(refusalOf({ entryUnit: 'tray', entryQuantity: 1 }).members).toEqual({
      entryUnits: ['tin', 'case', 'gn-1/2'],
    });
  });
});
