/** What a conversion gives, worked out by hand. */
import { describe, expect, test } from 'vitest';
import { amountsOf, type AmountsQuestion } from '../../src/domain/conversion-amounts.ts';
import { Refused } from '../../src/domain/errors.ts';

/** 40 packs of 302.5 g each */
const packs = { itemId: 'pack', unit: 'piece', lotQuantity: 40, lotMassMg: 12_100_000, portionsPerUnit: null } as const;
const tub = { itemId: 'tub', unit: 'g', lotQuantity: 5_000, lotMassMg: 5_000_000, portionsPerUnit: null } as const;
const stew = { itemId: 'stew', name: 'Stew', unit: 'g', unitMassMg: 1_000 } as const;
const plate = { itemId: 'plate', name: 'Stew, portion', unit: 'piece', unitMassMg: 150_000 } as const;
const gravy = { itemId: 'gravy', name: 'Gravy', unit: 'ml', unitMassMg: 1_050 } as const;

function given(question: Partial<AmountsQuestion> & Pick<AmountsQuestion, 'source' | 'target'>) {
  const { quantity, massMg, consumedMg, unexplainedMg } = amountsOf({ kind: 'open', quantity: 1, ...question });
  return [quantity, massMg, consumedMg.toFraction(), unexplainedMg.toFraction()];
}

describe('amounts', () => {
  test('a pack opened is its own mass in grams, to the nearest gram; the lot keeps the milligrams', () => {
    expect(given({ source: packs, target: stew, quantity: 2 })).toEqual([605, 605_000, '605000', '0']);
    expect(given({ source: packs, target: stew })).toEqual([303, 302_500, '302500', '0']);
    expect(given({ source: { ...packs, lotQuantity: 3, lotMassMg: 1_000_000 }, target: stew })).toEqual([
      333,
      333_333,
      '1000000/3',
      '1/3',
    ]);
    // 302.5 g at 1.05 g a millilitre: 288.095 ml
    expect(given({ source: packs, target: gravy })).toEqual([288, 302_500, '302500', '0']);
  });

  test('the same item keeps its count', () => {
    const same = { itemId: 'pack', name: 'Pack', unit: 'piece', unitMassMg: 300_000 } as const;
    expect(given({ kind: 'freeze', source: packs, target: same, quantity: 4 })).toEqual([4, 1_210_000, '1210000', '0']);
    const frozen = { ...same, itemId: 'frozen-pack' };
    expect(given({ kind: 'freeze', source: packs, target: frozen, quantity: 4 })).toEqual([
      4,
      1_210_000,
      '1210000',
      '0',
    ]);
  });

  test('portions of a pack are what the item says, whatever it weighs', () => {
    const two = { ...packs, portionsPerUnit: 2 };
    expect(given({ kind: 'portion', source: two, target: plate, quantity: 3 })).toEqual([6, 907_500, '907500', '0']);
  });

  test('portions by mass have to come out even', () => {
    expect(given({ kind: 'portion', source: tub, target: plate, quantity: 1_500 })).toEqual([
      10,
      1_500_000,
      '1500000',
      '0',
    ]);
    const odd = () => given({ kind: 'portion', source: tub, target: plate, quantity: 1_600 });
    expect(odd).toThrow(Refused);
    expect(odd).toThrow('portions-do-not-divide: 1600 g is no whole number of Stew, portion');
  });

  test('what was counted stands, and the rest is unexplained, on either side', () => {
    const cut = (toQuantity: number) =>
      given({ kind: 'portion', source: tub, target: plate, quantity: 1_600, toQuantity });
    expect(cut(10)).toEqual([10, 1_500_000, '1600000', '100000']);
    expect(cut(11)).toEqual([11, 1_650_000, '1600000', '-50000']);
  });

  test('no lot is more than can be said', () => {
    const grains = { ...packs, lotQuantity: 1, lotMassMg: 1, portionsPerUnit: 10_000 };
    expect(() => given({ kind: 'portion', source: grains, target: plate, quantity: 1e9 })).toThrow('rule-broken');
  });

  test('a portion is counted', () => {
    expect(() => given({ kind: 'portion', source: tub, target: stew })).toThrow('rule-broken');
  });
});
