/** The fortnight as it was meant to go: what came, what was cooked, where it went. What did not go as meant is in mishaps.ts. */
import { satellites, type Satellite } from './catalogue.ts';
import { cageCodes } from './exchange-crates.ts';
import { cook, receiveGoods, type Cooking } from './kitchen.ts';
import { everyMeal, trip, type Trip } from './vans.ts';
import { LAST_DAY } from './calendar.ts';
import { clock, type Story } from './story.ts';

export function goodsIn(story: Story): void {
  receiveGoods(story, 0, 'brook', 'goods-receipt/first', [
    ['beef-shin-0', 'beef-shin', 12_000, 'BRK-7702', 6, 11_400],
    ['carrots-0', 'carrots', 18_000, 'BRK-7703', null, 1_620],
  ]);
  receiveGoods(story, 0, 'marl', 'goods-receipt/marl-0', [
    ['onions-0', 'onions', 25_000, 'MH 2210', null, 1_750],
    ['potatoes-0', 'potatoes', 20_000, 'MH 2214', null, 1_300],
  ]);
  receiveGoods(story, 0, 'quern', 'goods-receipt/quern-0', [
    ['flour-0', 'flour', 16_000, 'Q26-311-4', 200, 1_440],
    ['long-grain-0', 'long-grain', 25_000, 'Q26-288-1', 300, 3_900],
    ['bouillon-0', 'bouillon', 5_000, 'Q26-290-7', 400, 4_150],
    ['oil-0', 'oil', 10_000, 'Q26-270-2', 250, 2_480],
    ['thyme-0', 'thyme', 250, 'Q26-199-3', 500, 390],
    ['pepper-0', 'pepper', 500, 'Q26-201-9', 600, 840],
    ['peas-0', 'peas', 5_000, 'Q26-301-2', 300, 910],
  ]);
  receiveGoods(story, 1, 'pantry', 'goods-receipt/pantry-1', [
    ['tomatoes-0', 'tomatoes', 30_000, 'WP-88120', 500, 4_200],
    ['tomato-puree-0', 'tomato-puree', 3_000, 'WP-88204', 400, 960],
    ['lentils-0', 'lentils', 15_000, 'WP-87711', 350, 2_550],
  ]);
  receiveGoods(story, 1, 'saffron', 'goods-receipt/saffron-1', [
    ['curry-powder-0', 'curry-powder', 2_000, 'SY/4471', 400, 1_980],
    ['garlic-0', 'garlic', 400, 'SY/4490', 8, 320],
  ]);
  receiveGoods(story, 1, 'marl', 'goods-receipt/marl-1', [['celery-0', 'celery', 1_600, 'MH 2219', 9, 340]]);
  for (const [no, day] of [2, 5, 9, 12].entries()) {
    receiveGoods(story, day, 'linden', `goods-receipt/linden-${day}`, [
      [`chicken-thigh-${no}`, 'chicken-thigh', 12_000, `LP${story.calendar.short(day)}A`, 4, 7_800],
    ]);
    receiveGoods(story, day, 'dale', `goods-receipt/dale-${day}`, [
      [`milk-${no}`, 'milk', 6_000, `D${story.calendar.short(day)}-1`, 7, 690],
      [`cream-${no}`, 'cream', 1_500, `D${story.calendar.short(day)}-2`, 9, 510],
      [`butter-${no}`, 'butter', 900, `D${story.calendar.short(day)}-3`, 40, 720],
    ]);
    receiveGoods(story, day, 'marl', `goods-receipt/marl-leeks-${day}`, [
      [`leeks-${no}`, 'leeks', no === 1 ? 6_000 : 5_000, `MH 22${30 + no}`, 8, 1_150],
    ]);
  }
  receiveGoods(story, 4, 'brook', 'goods-receipt/brook-4', [
    ['beef-shin-1', 'beef-shin', 24_000, 'BRK-7718', 6, 22_800],
  ]);
  receiveGoods(story, 6, 'dale', 'goods-receipt/dale-6', [['yoghurt-0', 'yoghurt', 5_000, 'D-YG-118', 14, 1_250]]);
  receiveGoods(story, 7, 'pantry', 'goods-receipt/pantry-7', [
    ['tomatoes-1', 'tomatoes', 30_000, 'WP-88391', 500, 4_200],
    ['lentils-1', 'lentils', 20_000, 'WP-88020', 350, 3_400],
  ]);
  receiveGoods(story, 7, 'marl', 'goods-receipt/marl-7', [['celery-1', 'celery', 2_400, 'MH 2251', 9, 510]]);
  receiveGoods(story, 8, 'brook', 'goods-receipt/carrots-1', [
    ['carrots-1', 'carrots', 12_500, 'BRK-7741', null, 1_130],
    ['beef-shin-2', 'beef-shin', 24_400, 'BRK-7742', 6, 23_180],
  ]);
  receiveGoods(story, 8, 'marl', 'goods-receipt/marl-8', [
    ['onions-1', 'onions', 25_000, 'MH 2258', null, 1_750],
    ['potatoes-1', 'potatoes', 18_000, 'MH 2261', null, 1_170],
  ]);
  receiveGoods(story, 8, 'saffron', 'goods-receipt/saffron-8', [['garlic-1', 'garlic', 500, 'SY/4533', 8, 400]]);
  receiveGoods(story, 10, 'pantry', 'goods-receipt/dressing', [
    ['dressing-1', 'dressing', 6_000, 'WP-88470', 60, 2_880],
  ]);
  receiveGoods(story, 12, 'brook', 'goods-receipt/brook-12', [
    ['beef-shin-3', 'beef-shin', 26_000, 'BRK-7795', 6, 24_700],
    ['carrots-2', 'carrots', 10_000, 'BRK-7796', null, 900],
  ]);
}

/** Packs for wards 3, 7 and 9, the school, the care home and the hotel, to go out the day after. */
function shares(cookedOn: number, counts: readonly number[]): Cooking['deliver'] {
  return satellites.flatMap((site, at): [Satellite, number, number][] => {
    const count = counts[at] ?? 0;
    return count === 0 ? [] : [[site, count, cookedOn + 1]];
  });
}

type Short = readonly [
  name: string,
  dish: Cooking['dish'],
  day: number,
  packs: readonly number[],
  shares: readonly number[],
  more?: Partial<Cooking>,
];

const STEW = [24, 18, 18, 20, 12, 8];
const RICE = [22, 16, 16, 21, 10, 10];
const DAHL = [20, 16, 16, 18, 12, 8];
const SOUP = [20, 16, 16, 16, 10, 8];
const CHICKEN = [16, 12, 12, 12, 8, 6];
const GRAVY = [4, 3, 3, 3, 2, 1];

const MENU: readonly Short[] = [
  ['stew-a', 'beef-stew', 0, [52, 48], STEW],
  ['rice-a', 'rice', 0, [95], RICE],
  ['dahl-a', 'lentil-dahl', 1, [90], DAHL],
  ['gravy-a', 'gravy', 1, [16], GRAVY],
  ['chicken-a', 'chicken-leek', 2, [66], CHICKEN],
  ['stew-b', 'beef-stew', 4, [50, 50], STEW],
  ['soup-a', 'tomato-soup', 4, [86], SOUP, { extraG: 250 }],
  ['rice-b', 'rice', 4, [95], RICE, { extraG: 1_200 }],
  ['dahl-b', 'lentil-dahl', 5, [90], DAHL],
  ['chicken-b', 'chicken-leek', 5, [66], CHICKEN],
  ['gravy-b', 'gravy', 6, [16], GRAVY, { extraG: 900 }],
  ['stew-c', 'beef-stew', 6, [100], STEW],
  ['soup-b', 'tomato-soup', 7, [86], SOUP],
  ['rice-c', 'rice', 7, [95], RICE],
  [
    'stew-d',
    'beef-stew',
    8,
    [48, 46],
    [24, 20, 18, 20, 12, 0],
    {
      extraG: 2_000,
      // The first day by the plan: the probe was still in the other kitchen when packing began.
      checked: {
        without: ['core'],
        accept: [
          {
            controlPoint: 'core',
            reason:
              'Nobody measured before the vacuum. The chilling record ends at 2.7 °C ten minutes before; pouches are flat, none boiled up',
          },
        ],
      },
    },
  ],
  ['dahl-c', 'lentil-dahl', 8, [90], DAHL],
  // What was left of the stew goes into the soup: rework. Nobody at the hotel gets the carrots of that week.
  [
    'soup-c',
    'tomato-soup',
    9,
    [90],
    [22, 20, 20, 18, 10, 0],
    { rework: { lotName: 'lot/stew-d-load-1', quantityG: 2_000 } },
  ],
  ['chicken-c', 'chicken-leek', 9, [66], CHICKEN],
  ['rice-d', 'rice', 11, [95], RICE],
  ['gravy-c', 'gravy', 11, [16], [5, 4, 3, 2, 2, 0]],
  ['chicken-d', 'chicken-leek', 12, [66], CHICKEN],
  ['awaiting', 'lentil-dahl', 12, [90], [], { stopAfter: 'completion' }],
];

const STARTS = ['06:50', '07:30', '08:10'];

export function cooking(story: Story): void {
  const begun = new Map<number, number>();
  const nextStart = (day: number): string => {
    const no = begun.get(day) ?? 0;
    begun.set(day, no + 1);
    return STARTS[no] ?? '08:40';
  };
  for (const [name, dish, day, packs, counts, more] of MENU) {
    cook(story, { name, dish, day, start: nextStart(day), packs, deliver: shares(day, counts), ...more });
  }
  cook(story, {
    name: 'beef-stew',
    dish: 'beef-stew',
    day: 11,
    start: nextStart(11),
    packs: [100],
    packLotCode: 'STEW-1',
    checked: { byItself: true },
    deliver: [
      ['w3', 30, 12],
      ['w3', 10, 13],
      ['w9', 12, 12],
      ['sch', 14, 12],
      ['care', 12, 12],
      ['w7', 10, 13],
    ],
  });
  cook(story, {
    name: 'open',
    dish: 'beef-stew',
    day: 13,
    start: '06:50',
    packs: [40],
    loadName: 'lot/stew-unpacked',
    from: { carrots: 'lot/carrots-2' },
    // It is still in the blast chiller.
    checked: { without: ['chill'] },
    stopAfter: 'outputs',
    deliver: [],
  });
}

const MISHAPS: Readonly<Record<string, Partial<Trip>>> = {
  'sch-6': { mishap: { missing: 1 } },
  'hot-5': { mishap: { damaged: 1 } },
  'sch-5': { crateCode: 'CRATE-14' },
  'w3-13': { name: 'w3-on-the-road', loadedAt: '09:35', until: 'departed', crateCodes: cageCodes },
  'w7-13': { name: 'w7-planned', loadedAt: '10:40', until: 'planned' },
};

export function deliveries(story: Story): void {
  for (let day = 1; day <= LAST_DAY; day += 1) {
    for (const [at, site] of satellites.entries()) {
      const name = `${site}-${day}`;
      trip(story, { name, day, site, loadedAt: clock('05:30', 3 * at), ...MISHAPS[name] });
    }
  }
  // The last day breaks off before lunch.
  everyMeal(story, LAST_DAY - 1);
}
