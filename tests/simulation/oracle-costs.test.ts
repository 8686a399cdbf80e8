/**
 * The oracle of costs against figures that do not come from it: published ones, sums of paths, and stories small enough to work out by
 * hand. The arithmetic stands beside each.
 */
import Fraction from 'fraction.js';
import { describe, expect, test } from 'vitest';
import type { MonthFact } from '../support/oracle/month-facts.ts';
import { pathsFrom, requirementOf, type RecipeTree } from '../support/oracle/requirement.ts';
import { at, batch, bothSides, buy, costsOf, done, into, out, SEPTEMBER } from '../support/oracle/small-kitchen.ts';

const unitOf = (facts: readonly MonthFact[], lotId: string): string => costsOf(facts).costOf(lotId).unit.toFraction();

function expectConserved(facts: readonly MonthFact[]): void {
  const [paidAndAdded, elsewhere] = bothSides(facts);
  expect(elsewhere).toBe(paidAndAdded);
}

describe('costs of lots', () => {
  test('edible portion: 5.2 kg at 11.95 a kg trimmed to 4.6 kg cost 13.51 a kg (G. Wall, Trade Calculations, 2007)', () => {
    // 5.2 x 11.95 = 62.14; 62.14 / 4.6 = 13.5087 (worked-examples.json: yield-ep-cost)
    const facts = [
      buy('carrot1', 5200, 6214),
      batch('B', 'wall'),
      into('B', 'carrot1', 5200),
      out('B', 'S', 'soup', 4600),
    ];
    expect(
      costsOf([...facts, done('B')])
        .costOf('S')
        .unit.mul(1000)
        .div(100)
        .valueOf(),
    ).toBeCloseTo(13.5087, 4);
  });

  test('edible portion: 0.99 a pound at a yield of 36 % is 2.75 (worked-examples.json: yield-ep-cost-36)', () => {
    const facts = [
      buy('carrot1', 1000, 99),
      batch('B', 'thirty-six'),
      into('B', 'carrot1', 1000),
      out('B', 'S', 'soup', 360),
    ];
    expect(costsOf(facts).costOf('S').unit.mul(1000).toFraction()).toBe('275');
  });

  // Carrots 10 kg for 12.00 (0.12 a gram), onions 5 kg for 4.00 (0.08 a gram).
  // Soup, yield 90 %: 6000 g carrots (720) and 4000 g onions (320): 1040 went in, 9000 g were planned, 8100 g came out.
  //   It carries 1040 x 8100 / 9000 = 936, so 936 / 8100 = 26/225 a gram; 104 was lost beyond the plan.
  // Stew, yield 80 %: 900 g of leftover soup (900 x 26/225 = 104), 2100 g carrots (252), labour 1.50: 506. 2400 g were planned
  //   and made: it carries all, 506 / 2400 = 253/1200 a gram.
  // Packs: 2000 g of stew (2000 x 253/1200 = 1265/3) into 6 packs of 300 g: 1800 of 2000 g. They carry 1265/3 x 9/10 = 759/2,
  //   that is 253/4 a pack; 253/6 is lost. Opened, one pack is 300 g of stew at 253/1200 again.
  // Pie, yield 50 %, gets what is left of all: 600 g soup (208/3), 300 g from the pack (253/4): 1591/12 went in, 450 g
  //   were planned, 600 g came out: more than the plan carries no more than went in, 1591/7200 a gram.
  const rework: MonthFact[] = [
    buy('carrot1', 10_000, 1200),
    buy('onion1', 5000, 400),
    batch('S', 'soup'),
    into('S', 'carrot1', 6000),
    into('S', 'onion1', 4000),
    out('S', 'soup1', 'soup', 8100),
    done('S'),
    {
      ...at(SEPTEMBER),
      kind: 'rate',
      rateKind: 'labour',
      siteId: null,
      recipeId: 'stew',
      perBatchMinor: 150,
      perKgMinor: null,
      fromDate: '2026-09-01',
      throughDate: null,
    },
    batch('T', 'stew'),
    into('T', 'soup1', 900),
    into('T', 'carrot1', 2100),
    out('T', 'stew1', 'stew', 2400),
    done('T'),
    {
      ...at(SEPTEMBER),
      kind: 'packing',
      batchId: 'T',
      fills: [
        {
          from: { lotId: 'stew1', placeId: 'k', quantity: 2000 },
          packs: { lotId: 'packs1', itemId: 'pack', placeId: 'k', quantity: 6 },
        },
      ],
    },
    {
      ...at(SEPTEMBER),
      kind: 'conversion',
      from: { lotId: 'packs1', placeId: 'k', quantity: 1 },
      into: { lotId: 'open1', itemId: 'stew', placeId: 'k', quantity: 300 },
    },
    batch('P', 'pie'),
    into('P', 'soup1', 600),
    into('P', 'open1', 300),
    out('P', 'pie1', 'pie', 600),
  ];

  test('rework through three dishes, worked by hand: planned loss is carried, loss beyond the plan is not, nothing is lost', () => {
    const units = ['soup1', 'stew1', 'packs1', 'open1', 'pie1'].map((lotId) => unitOf(rework, lotId));
    expect(units).toEqual(['26/225', '253/1200', '253/4', '253/1200', '1591/7200']);
    const { processes } = costsOf(rework);
    expect([...processes.values()].map((one) => one.rest.toFraction())).toEqual(['104', '0', '253/6', '0', '0']);
    expectConserved(rework);
  });

  test('an open batch keeps what its output does not carry; a price corrected later reaches every level', () => {
    const half = rework.filter((fact) => fact.kind !== 'completion' || fact.batchId !== 'S');
    expect(costsOf(half).processes.get('S')?.state).toBe('open');
    // carrots at 24.00: soup carries (1440 + 320) x 9/10 = 1584, 44/225 a gram
    const dearer: MonthFact = {
      ...at(SEPTEMBER),
      kind: 'price',
      lotId: 'carrot1',
      priceMinor: 2400,
      perQuantity: 10_000,
      freeOfCharge: false,
    };
    expect(unitOf([...rework, dearer], 'soup1')).toBe('44/225');
    // stew: 900 x 44/225 = 176, 2100 x 0.24 = 504, 150: 830 / 2400
    expect(unitOf([...rework, dearer], 'stew1')).toBe('83/240');
    expectConserved([...rework, dearer]);
  });

  test('a rate for each kilogram is carried whole; what has no price makes all that follows uncosted, and free food does not', () => {
    const rate: MonthFact = {
      ...at(SEPTEMBER),
      kind: 'rate',
      rateKind: 'energy',
      siteId: null,
      recipeId: null,
      perBatchMinor: null,
      perKgMinor: 30,
      fromDate: '2026-09-01',
      throughDate: null,
    };
    const facts = [
      buy('carrot1', 1000, 90),
      buy('onion1', 1000, null),
      rate,
      batch('B', 'soup'),
      into('B', 'carrot1', 1000),
      into('B', 'onion1', 1000),
      out('B', 'S', 'soup', 900),
    ];
    // 90 x 900/1800 = 45 and 0.9 kg x 30 = 27: 72 / 900
    expect([unitOf(facts, 'S'), costsOf(facts).costOf('S').uncosted]).toEqual(['2/25', true]);
    expectConserved(facts);
    const free: MonthFact = {
      ...at(SEPTEMBER),
      kind: 'price',
      lotId: 'onion1',
      priceMinor: 0,
      perQuantity: null,
      freeOfCharge: true,
    };
    expect([unitOf([...facts, free], 'S'), costsOf([...facts, free]).costOf('S').uncosted]).toEqual(['2/25', false]);
  });
});

describe('requirements by sums of paths', () => {
  // A portion of 300 g of pie filling is half stew, half soup; stew takes soup back in. All is made as planned.
  const g = (numerator: number, denominator = 1) => new Fraction(numerator, denominator);
  const TREE: RecipeTree = {
    // 1 / 0.9 grams in for each gram out, 6 to 4
    soup: { carrot: g(2, 3), onion: g(4, 9) },
    // 1 / 0.8 in for each out, 3 to 7
    stew: { soup: g(3, 8), carrot: g(7, 8) },
    // 1 / 0.5
    pie: { stew: g(1), soup: g(1) },
    portion: { pie: g(300) },
  };

  test('worked by hand: by three paths a portion needs 537.5 g of carrots, by two 183.33 g of onions', () => {
    // pie>stew>soup>carrot 300 x 3/8 x 2/3 = 75; pie>stew>carrot 300 x 7/8 = 262.5; pie>soup>carrot 300 x 2/3 = 200: 537.5
    // pie>stew>soup>onion 300 x 3/8 x 4/9 = 50; pie>soup>onion 300 x 4/9 = 133.33: 183.33
    expect(pathsFrom(TREE, 'portion')).toHaveLength(5);
    const needs = requirementOf(TREE, 'portion');
    expect([needs.get('carrot')?.toFraction(), needs.get('onion')?.toFraction()]).toEqual(['1075/2', '550/3']);
  });

  test('the cost of a portion is what its paths need at the prices paid', () => {
    // grams for 72 portions' worth, each level exactly as planned: 21600 g pie from 21600 g stew and 21600 g soup
    const facts = [
      buy('carrot1', 100_000, 11_111),
      buy('onion1', 100_000, 7_777),
      batch('S', 'soup'),
      into('S', 'carrot1', 19_800),
      into('S', 'onion1', 13_200),
      out('S', 'soup1', 'soup', 29_700),
      done('S'),
      batch('T', 'stew'),
      into('T', 'soup1', 8100),
      into('T', 'carrot1', 18_900),
      out('T', 'stew1', 'stew', 21_600),
      done('T'),
      batch('P', 'pie'),
      into('P', 'stew1', 21_600),
      into('P', 'soup1', 21_600),
      out('P', 'pie1', 'pie', 21_600),
      done('P'),
    ];
    const needs = requirementOf(TREE, 'portion');
    const paid = (needs.get('carrot') ?? g(0))
      .mul(11_111, 100_000)
      .add((needs.get('onion') ?? g(0)).mul(7_777, 100_000));
    expect(costsOf(facts).costOf('pie1').unit.mul(300).toFraction()).toBe(paid.toFraction());
    // nothing was added on the way, so a gram of pie is a gram of what was bought
    expect(costsOf(facts).costOf('pie1').boughtMgPerUnit.toFraction()).toBe('1000');
    expectConserved(facts);
  });
});
