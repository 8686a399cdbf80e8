/** A closed month beside what is known now; every figure is worked out by hand. */
import { expect, test } from 'vitest';
import { restate, type Side } from '../../src/domain/restated.ts';

const LINES = ['opening', 'received', 'revalued', 'served', 'closing'];
const QUANTITIES = ['opening', 'received', 'served', 'closing'];

const shin = { itemId: 'i1', itemCode: 'SHIN', itemName: 'Beef shin', unit: 'g' as const };
const packs = { itemId: 'i2', itemCode: 'PACK', itemName: 'Stew, packs', unit: 'piece' as const };

/** 10 kg at 8.00 a kilogram came, 6 kg were served. */
const closed: Side = {
  items: [
    {
      ...shin,
      inUnits: { opening: 0, received: 10_000, served: 6_000, closing: 4_000 },
      inGrams: { opening: 0, received: 10_000, served: 6_000, closing: 4_000 },
      inMoney: { opening: 0, received: 8_000, revalued: 0, served: 4_800, closing: 3_200 },
    },
  ],
  totals: {
    inGrams: { opening: 0, received: 10_000, served: 6_000, closing: 4_000 },
    inMoney: { opening: 0, received: 8_000, revalued: 0, served: 4_800, closing: 3_200 },
  },
};

/** Told since: 1 kg more was served, and 20 packs of 300 g that cost nothing had come. */
const now: Side = {
  items: [
    {
      ...shin,
      inUnits: { opening: 0, received: 10_000, served: 7_000, closing: 3_000 },
      inGrams: { opening: 0, received: 10_000, served: 7_000, closing: 3_000 },
      inMoney: { opening: 0, received: 8_000, revalued: 0, served: 5_600, closing: 2_400 },
    },
    {
      ...packs,
      inUnits: { opening: 0, received: 20, served: 0, closing: 20 },
      inGrams: { opening: 0, received: 6_000, served: 0, closing: 6_000 },
      inMoney: { opening: 0, received: 0, revalued: 0, served: 0, closing: 0 },
    },
  ],
  totals: {
    inGrams: { opening: 0, received: 16_000, served: 7_000, closing: 9_000 },
    inMoney: { opening: 0, received: 8_000, revalued: 0, served: 5_600, closing: 2_400 },
  },
};

test('only what differs, with all three sides, in units, grams and money', () => {
  const { rows, totals } = restate(closed, now, LINES, QUANTITIES);
  expect(rows.map(({ itemCode, line, difference }) => [itemCode, line, difference])).toEqual([
    ['PACK', 'received', { quantity: 20, grams: 6_000, valueMinor: 0 }],
    ['PACK', 'closing', { quantity: 20, grams: 6_000, valueMinor: 0 }],
    ['SHIN', 'served', { quantity: 1_000, grams: 1_000, valueMinor: 800 }],
    ['SHIN', 'closing', { quantity: -1_000, grams: -1_000, valueMinor: -800 }],
  ]);
  expect(rows[2]).toMatchObject({
    closed: { quantity: 6_000, grams: 6_000, valueMinor: 4_800 },
    now: { quantity: 7_000, grams: 7_000, valueMinor: 5_600 },
  });
  expect(totals.map(({ line, difference }) => [line, difference.grams, difference.valueMinor])).toEqual([
    ['opening', 0, 0],
    ['received', 6_000, 0],
    ['revalued', null, 0],
    ['served', 1_000, 800],
    ['closing', 5_000, -800],
  ]);
});

test('what is not there any more differs by all of it; the same month differs by nothing', () => {
  const back = restate(now, closed, LINES, QUANTITIES);
  expect(back.rows[0]).toMatchObject({ itemCode: 'PACK', line: 'received', difference: { quantity: -20 } });
  expect(restate(now, now, LINES, QUANTITIES).rows).toEqual([]);
});
