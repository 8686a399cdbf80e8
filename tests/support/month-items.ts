/**
 * A month of five invented kitchens, made up by hand so that it adds up by hand: every sum below was added on paper and is written out, none
 * is computed. Prices: beef 8.00 a kilogram, carrots 1.20 (1.00 before a correction of their opening stock), rice 2.00, pouches 0.25 each.
 * Six stew batches of 40 kg input at 256.00 each with labour, 80 % expected: what came of it is carried at 8.00 a kilogram, 96.00 is lost.
 * 84 packs of 2 kg: (1344.00 + 21.00) / 84 = 16.25 each. Rice pudding: (16.00 + 8.00) / 24 kg = 1.00 a kilogram.
 */
import type { MonthReportAnswer } from '../../src/features/reporting/month/shapes.ts';

export type Money = MonthReportAnswer['totals']['inMoney'];
export type Grams = MonthReportAnswer['totals']['inGrams'];
type Item = MonthReportAnswer['items'][number];

export const id = (no: number): string => `00000000-0000-4000-8000-${String(no).padStart(12, '0')}`;
export const LINES = '/v1/reports/waste-and-yield/lines?month=2026-10';

const NO_GRAMS: Grams = {
  opening: 0,
  received: 0,
  produced: 0,
  returnedIn: 0,
  transferIn: 0,
  adjusted: 0,
  consumed: 0,
  served: 0,
  servedDerived: 0,
  staffMeals: 0,
  donated: 0,
  tasted: 0,
  sampled: 0,
  wasted: 0,
  transferOut: 0,
  returnedToSupplier: 0,
  closing: 0,
};
export const grams = (some: Partial<Grams>): Grams => ({ ...NO_GRAMS, ...some });
export const money = (some: Partial<Money>): Money => ({ ...NO_GRAMS, revalued: 0, ...some });

export const SITES = [
  { siteId: id(1), siteCode: 'CK', siteName: 'Quayside central kitchen', timeZone: 'Europe/Dublin' },
  { siteId: id(2), siteCode: 'W1', siteName: 'Hillview ward kitchen', timeZone: 'Europe/Dublin' },
  { siteId: id(3), siteCode: 'S1', siteName: 'Mill Lane school', timeZone: 'Europe/Dublin' },
  { siteId: id(4), siteCode: 'H1', siteName: 'Fern House care home', timeZone: 'Europe/Dublin' },
  { siteId: id(5), siteCode: 'C1', siteName: 'Harbour staff canteen', timeZone: 'Europe/Dublin' },
];

function item(
  no: number,
  about: readonly [code: string, name: string, kind: Item['itemKind'], category: string | null, unit: Item['unit']],
  inUnits: Partial<Grams>,
  gramsOfUnit: number,
  inMoney: Partial<Money>,
): Item {
  const [itemCode, itemName, itemKind, category, unit] = about;
  const weighed = Object.fromEntries(Object.entries(inUnits).map(([name, value]) => [name, value * gramsOfUnit]));
  return {
    itemId: id(no),
    itemCode,
    itemName,
    itemKind,
    category,
    unit,
    inUnits: grams(inUnits),
    inGrams: grams(weighed),
    inMoney: money(inMoney),
    uncostedQuantity: 0,
    linesHref: `${LINES}&itemId=${id(no)}`,
  };
}

export const ITEMS: Item[] = [
  item(
    11,
    ['ING-BEEF', 'Beef shin, diced', 'ingredient', 'Meat', 'g'],
    {
      opening: 20_000,
      received: 180_000,
      adjusted: -500,
      consumed: 160_000,
      wasted: 9_500,
      returnedToSupplier: 10_000,
      closing: 20_000,
    },
    1,
    {
      opening: 16_000,
      received: 144_000,
      adjusted: -400,
      consumed: 128_000,
      wasted: 7_600,
      returnedToSupplier: 8_000,
      closing: 16_000,
    },
  ),
  item(
    12,
    ['ING-CARR', 'Carrots', 'ingredient', 'Vegetables', 'g'],
    { opening: 5_000, received: 95_000, consumed: 80_000, wasted: 14_000, closing: 6_000 },
    1,
    { opening: 500, received: 11_400, revalued: 100, consumed: 9_600, wasted: 1_680, closing: 720 },
  ),
  item(
    13,
    ['PREP-STEW', 'Beef stew, bulk', 'prepared', 'Main courses', 'g'],
    {
      produced: 180_000,
      consumed: 168_000,
      staffMeals: 4_000,
      tasted: 500,
      sampled: 500,
      wasted: 6_000,
      closing: 1_000,
    },
    1,
    { produced: 144_000, consumed: 134_400, staffMeals: 3_200, tasted: 400, sampled: 400, wasted: 4_800, closing: 800 },
  ),
  item(
    14,
    ['PACK-STEW', 'Beef stew, pouch of 2 kg', 'packed', 'Main courses', 'piece'],
    {
      opening: 10,
      produced: 84,
      returnedIn: 2,
      adjusted: -1,
      served: 60,
      servedDerived: 15,
      donated: 3,
      wasted: 9,
      closing: 8,
    },
    2_000,
    {
      opening: 16_250,
      produced: 136_500,
      returnedIn: 3_250,
      adjusted: -1_625,
      served: 97_500,
      servedDerived: 24_375,
      donated: 4_875,
      wasted: 14_625,
      closing: 13_000,
    },
  ),
  item(
    15,
    ['PKG-POUCH', 'Pouch, 300 x 400 mm', 'packaging', null, 'piece'],
    { opening: 200, consumed: 84, wasted: 6, closing: 110 },
    10,
    { opening: 5_000, consumed: 2_100, wasted: 150, closing: 2_750 },
  ),
  item(
    16,
    ['ING-RICE', 'Rice, short grain', 'ingredient', 'Dry goods', 'g'],
    { opening: 10_000, consumed: 8_000, closing: 2_000 },
    1,
    { opening: 2_000, consumed: 1_600, closing: 400 },
  ),
  item(
    17,
    ['PREP-RICE', 'Rice pudding', 'prepared', 'Desserts', 'g'],
    { produced: 24_000, served: 20_000, wasted: 2_000, closing: 2_000 },
    1,
    { produced: 2_400, served: 2_000, wasted: 200, closing: 200 },
  ),
];

/** Added on paper from the seven items above. */
export const TOTAL_GRAMS = grams({
  opening: 57_000,
  received: 275_000,
  produced: 372_000,
  returnedIn: 4_000,
  adjusted: -2_500,
  consumed: 416_840,
  served: 140_000,
  servedDerived: 30_000,
  staffMeals: 4_000,
  donated: 6_000,
  tasted: 500,
  sampled: 500,
  wasted: 49_560,
  returnedToSupplier: 10_000,
  closing: 48_100,
});
export const TOTAL_MONEY = money({
  opening: 39_750,
  received: 155_400,
  produced: 282_900,
  returnedIn: 3_250,
  adjusted: -2_025,
  revalued: 100,
  consumed: 275_700,
  served: 99_500,
  servedDerived: 24_375,
  staffMeals: 3_200,
  donated: 4_875,
  tasted: 400,
  sampled: 400,
  wasted: 29_055,
  returnedToSupplier: 8_000,
  closing: 33_870,
});
