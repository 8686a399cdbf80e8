import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  allergenCodes,
  allergenLabel,
  declaredBeyond,
  isAllergenCode,
  leftUnsaid,
  notNamed,
  unionAllergens,
  usAllergensOf,
} from '../../src/domain/allergens.ts';

// Regulation (EU) No 1169/2011 Annex II, in its order.
const EU_14 =
  'gluten-cereals crustaceans eggs fish peanuts soybeans milk nuts celery mustard sesame sulphites lupin molluscs'.split(
    ' ',
  );
// FALCPA names eight; the FASTER Act adds sesame from 1 January 2023.
const US_9 = 'milk eggs fish crustacean-shellfish tree-nuts peanuts wheat soybeans sesame'.split(' ');
// Annex II points 1 and 8 name these.
const CEREALS = ['wheat', 'rye', 'barley', 'oats', 'spelt', 'kamut'];
const NUTS = 'almonds hazelnuts walnuts cashews pecans brazil-nuts pistachios macadamia'.split(' ');

const someCodes = fc.array(fc.constantFrom(...allergenCodes), { maxLength: 12 });

describe('the list', () => {
  test('has the fourteen of Annex II, in its order', () => {
    expect(allergenCodes.filter((code) => !code.includes(':'))).toEqual(EU_14);
  });

  test('names the cereals and the nuts right after their group', () => {
    const named = (group: string): string[] =>
      allergenCodes.filter((code) => code.startsWith(`${group}:`)).map((code) => code.slice(group.length + 1));
    expect(named('gluten-cereals')).toEqual(CEREALS);
    expect(named('nuts')).toEqual(NUTS);
    expect(allergenCodes.indexOf('nuts:almonds')).toBe(allergenCodes.indexOf('nuts') + 1);
    expect(allergenCodes.length).toBe(14 + CEREALS.length + NUTS.length);
  });

  test('knows its codes and no others', () => {
    expect(isAllergenCode('nuts:almonds')).toBe(true);
    for (const code of ['almonds', 'nuts:', 'nuts:oats', 'Milk', 'constructor', '']) {
      expect(isAllergenCode(code)).toBe(false);
    }
  });

  test('has a word to print for each', () => {
    expect(allergenLabel('nuts:brazil-nuts')).toBe('Brazil nuts');
    expect(new Set(allergenCodes.map(allergenLabel)).size).toBe(allergenCodes.length);
    expect(() => allergenLabel('almonds')).toThrow(RangeError);
  });
});

describe('union', () => {
  test('of gravy and stuffing, in Annex II order, names kept', () => {
    expect(unionAllergens([['celery', 'gluten-cereals:wheat'], ['nuts:almonds', 'celery', 'milk'], []])).toEqual([
      'gluten-cereals:wheat',
      'milk',
      'nuts:almonds',
      'celery',
    ]);
  });

  test('a general code beside a named one stays: it may be another nut', () => {
    expect(unionAllergens([['nuts:almonds'], ['nuts']])).toEqual(['nuts', 'nuts:almonds']);
  });

  test('loses nothing, adds nothing, and does not care about order or repeats', () => {
    fc.assert(
      fc.property(someCodes, someCodes, (a, b) => {
        const union = unionAllergens([a, b]);
        expect(new Set(union)).toEqual(new Set([...a, ...b]));
        expect(union).toEqual(unionAllergens([b, a, b]));
        expect(union).toEqual(unionAllergens([union]));
      }),
    );
  });

  test('an unknown code is a fault, never left out', () => {
    expect(() => unionAllergens([['milk'], ['moon-dust']])).toThrow(RangeError);
  });
});

describe('US nine', () => {
  test('all of them, from all of the EU codes', () => {
    expect(usAllergensOf(allergenCodes)).toEqual(US_9);
  });

  test.each([
    [['gluten-cereals:wheat'], ['wheat']],
    [['gluten-cereals:spelt'], ['wheat']],
    [['gluten-cereals'], ['wheat']],
    [['gluten-cereals:rye', 'gluten-cereals:oats', 'gluten-cereals:barley'], []],
    [['crustaceans', 'molluscs'], ['crustacean-shellfish']],
    [['nuts:pistachios'], ['tree-nuts']],
    [['celery', 'mustard', 'lupin', 'sulphites'], []],
  ])('%j gives %j', (codes, expected) => {
    expect(usAllergensOf(codes)).toEqual(expected);
  });

  test('an unknown code is a fault', () => {
    expect(() => usAllergensOf(['moon-dust'])).toThrow(RangeError);
  });
});

describe('a label against what is expected', () => {
  test.each<[string[], string[], string[], string[]]>([
    // declared, expected; beyond, left unsaid
    [['milk'], ['milk'], [], []],
    [['milk', 'eggs'], ['milk'], ['eggs'], []],
    [[], ['milk', 'celery'], [], ['milk', 'celery']],
    [['nuts:almonds'], ['nuts'], [], []],
    [['nuts'], ['nuts:almonds'], ['nuts'], []],
    [['nuts:almonds'], ['nuts:hazelnuts'], ['nuts:almonds'], ['nuts:hazelnuts']],
    [
      ['gluten-cereals:rye'],
      ['gluten-cereals:wheat', 'milk'],
      ['gluten-cereals:rye'],
      ['gluten-cereals:wheat', 'milk'],
    ],
  ])('%j where %j is expected', (declared, expected, beyond, unsaid) => {
    expect(declaredBeyond(declared, expected)).toEqual(beyond);
    expect(leftUnsaid(declared, expected)).toEqual(unsaid);
  });

  // Annex II points 1 and 8 want the cereal and the nut named; "fish" and "milk" need no name.
  test('a cereal and a nut want a name, nothing else does', () => {
    expect(notNamed(allergenCodes)).toEqual(['gluten-cereals', 'nuts']);
    expect(notNamed(['gluten-cereals:oats', 'fish'])).toEqual([]);
  });
});
