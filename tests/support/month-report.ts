/** The rest of the invented month: waste, kitchens, batches, and the report they make together. Every sum is added on paper; see the items. */
import type { MonthReportAnswer } from '../../src/features/reporting/month/shapes.ts';
import type { BookLine } from '../../src/features/reporting/pages/index.ts';
import {
  grams,
  id,
  ITEMS,
  LINES,
  money,
  SITES,
  TOTAL_GRAMS,
  TOTAL_MONEY,
  type Grams,
  type Money,
} from './month-items.ts';

type Waste = MonthReportAnswer['waste'][number];
type Reason = readonly [code: string, label: string, standard: string, stage: string];
const MADE = 'processing-and-manufacturing';
const SERVICE = 'restaurants-and-food-services';
const TRIM: Reason = ['trim', 'Trim and peelings', 'trim', MADE];
const PAST: Reason = ['past-use-by', 'Past its use-by', 'past-use-by', SERVICE];
const BROKEN: Reason = ['damaged', 'Damaged', 'damaged', SERVICE];
const TOO_MUCH: Reason = ['over-production', 'Made more than was needed', 'over-production', SERVICE];
const SEAL: Reason = ['seal-failure', 'Seal failed or pouch blown', 'seal-failure', MADE];
const PLATE: Reason = ['trolley', 'Left on the trolley', 'plate-return', SERVICE];
const WARM: Reason = ['temperature', 'Too warm, or frozen when it should not be', 'temperature', SERVICE];

function waste(
  site: number,
  itemNo: number,
  [reason, reasonLabel, standardReason, stage]: Reason,
  destination: string | null,
  material: Waste['material'],
  [quantity, weight, valueMinor]: readonly [number, number, number],
): Waste {
  const about = ITEMS.find((one) => one.itemId === id(itemNo));
  if (!about) throw new Error('No such item');
  const { itemId, itemCode, itemName, category, unit, itemKind } = about;
  return {
    siteId: id(site),
    siteName: SITES[site - 1]?.siteName ?? '',
    itemId,
    itemCode,
    itemName,
    category,
    packaging: itemKind === 'packaging',
    reason,
    reasonLabel,
    standardReason,
    stage,
    destination,
    material,
    quantity,
    unit,
    grams: weight,
    valueMinor,
    linesHref: `${LINES}&site=${id(site)}&itemId=${itemId}&line=wasted&reason=${reason}`,
  };
}

const WASTE: Waste[] = [
  waste(1, 11, TRIM, 'animal-feed', 'inedible-parts', [6_000, 6_000, 4_800]),
  waste(1, 11, PAST, 'anaerobic-digestion', 'food', [3_500, 3_500, 2_800]),
  waste(1, 12, TRIM, 'composting', 'inedible-parts', [12_000, 12_000, 1_440]),
  waste(1, 12, BROKEN, 'composting', 'food', [2_000, 2_000, 240]),
  waste(1, 13, TOO_MUCH, 'anaerobic-digestion', 'food', [6_000, 6_000, 4_800]),
  waste(1, 14, SEAL, 'anaerobic-digestion', 'food', [2, 4_000, 3_250]),
  waste(1, 15, BROKEN, null, 'food', [6, 60, 150]),
  waste(1, 17, TOO_MUCH, null, 'food', [2_000, 2_000, 200]),
  waste(2, 14, PLATE, 'anaerobic-digestion', 'food', [3, 6_000, 4_875]),
  waste(2, 14, PAST, 'refuse', 'food', [1, 2_000, 1_625]),
  waste(4, 14, PAST, 'refuse', 'food', [2, 4_000, 3_250]),
  waste(5, 14, WARM, 'refuse', 'food', [1, 2_000, 1_625]),
];

const sum = (
  code: string,
  label: string,
  foodG: number,
  inediblePartsG: number,
  valueMinor: number,
  [inBatchesFoodG, inBatchesInediblePartsG] = [0, 0],
) => ({
  code,
  label,
  foodG,
  inediblePartsG,
  inBatchesFoodG,
  inBatchesInediblePartsG,
  valueMinor,
});

/** Of the 6,000 g trimmed from six batches of stew, 4,200 g are peel that nobody eats: food, inedible parts. */
const TRIMMED: [number, number] = [1_800, 4_200];
const LOST_IN_STEW = {
  siteId: id(1),
  siteName: SITES[0]?.siteName ?? '',
  itemId: id(13),
  itemName: 'Beef stew, bulk',
  category: 'Main courses',
  stage: MADE,
  batches: 6,
};
const LOSSES: MonthReportAnswer['batchLosses'] = [
  { ...LOST_IN_STEW, kind: 'cooking-loss', leavesAsWater: true, destination: null, foodG: 42_000, inediblePartsG: 0 },
  {
    ...LOST_IN_STEW,
    kind: 'trim',
    leavesAsWater: false,
    destination: 'composting',
    foodG: 1_800,
    inediblePartsG: 4_200,
  },
];

const SHARE = 'grams served + wasted';
const site = (
  no: number | null,
  inGrams: Partial<Grams>,
  inMoney: Partial<Money>,
  [wastedFoodG, wastedMinor, percent, abnormalLossMinor]: readonly [number, number, number | null, number],
): MonthReportAnswer['bySite'][number] => ({
  siteId: no === null ? null : id(no),
  siteCode: no === null ? '' : (SITES[no - 1]?.siteCode ?? ''),
  siteName: no === null ? 'On the road' : (SITES[no - 1]?.siteName ?? ''),
  inGrams: grams(inGrams),
  inMoney: money(inMoney),
  wastedFoodG,
  wastedMinor,
  wastedPercentOfServedAndWasted: { value: percent, of: SHARE },
  abnormalLossMinor,
});

/** 80 packs went out, so 160 kg and 1300.00 are in no total: they arrived. Wasted money is of everything, with the pouches (1.50); grams are of food. */
const BY_SITE = [
  site(
    1,
    {
      opening: 43_000,
      received: 275_000,
      produced: 372_000,
      adjusted: -500,
      consumed: 416_840,
      served: 20_000,
      staffMeals: 4_000,
      tasted: 500,
      sampled: 500,
      wasted: 35_560,
      transferOut: 160_000,
      returnedToSupplier: 10_000,
      closing: 42_100,
    },
    {
      opening: 28_375,
      received: 155_400,
      produced: 282_900,
      adjusted: -400,
      revalued: 100,
      consumed: 275_700,
      served: 2_000,
      staffMeals: 3_200,
      tasted: 400,
      sampled: 400,
      wasted: 17_680,
      transferOut: 130_000,
      returnedToSupplier: 8_000,
      closing: 28_995,
    },
    [35_500, 17_680, 64, 9_600],
  ),
  site(
    2,
    {
      opening: 8_000,
      transferIn: 60_000,
      returnedIn: 2_000,
      served: 50_000,
      servedDerived: 6_000,
      wasted: 8_000,
      closing: 6_000,
    },
    {
      opening: 6_500,
      transferIn: 48_750,
      returnedIn: 1_625,
      served: 40_625,
      servedDerived: 4_875,
      wasted: 6_500,
      closing: 4_875,
    },
    [8_000, 6_500, 12.5, 0],
  ),
  site(
    3,
    { opening: 6_000, transferIn: 40_000, adjusted: -2_000, served: 30_000, servedDerived: 8_000, donated: 6_000 },
    { opening: 4_875, transferIn: 32_500, adjusted: -1_625, served: 24_375, servedDerived: 6_500, donated: 4_875 },
    [0, 0, 0, 0],
  ),
  site(
    4,
    { transferIn: 36_000, returnedIn: 2_000, served: 28_000, servedDerived: 6_000, wasted: 4_000 },
    { transferIn: 29_250, returnedIn: 1_625, served: 22_750, servedDerived: 4_875, wasted: 3_250 },
    [4_000, 3_250, 10.5, 0],
  ),
  site(
    5,
    { transferIn: 24_000, served: 12_000, servedDerived: 10_000, wasted: 2_000 },
    { transferIn: 19_500, served: 9_750, servedDerived: 8_125, wasted: 1_625 },
    [2_000, 1_625, 8.3, 0],
  ),
  site(null, { transferIn: 160_000, transferOut: 160_000 }, { transferIn: 130_000, transferOut: 130_000 }, [
    0,
    0,
    null,
    0,
  ]),
];

/** Day, output in grams, unexplained, yield; lost = 256.00 x (1 - output / 32 kg). */
const STEW: readonly (readonly [string, number, number, number, number])[] = [
  ['2026-10-05', 31_000, 1_000, 77.5, 800],
  ['2026-10-08', 30_000, 2_000, 75, 1_600],
  ['2026-10-13', 32_000, 0, 80, 0],
  ['2026-10-19', 29_000, 3_000, 72.5, 2_400],
  ['2026-10-22', 32_000, 0, 80, 0],
  ['2026-10-28', 26_000, 6_000, 65, 4_800],
];

const BATCHES: MonthReportAnswer['batches'] = [
  ...STEW.map(([completedOn, outputG, unexplainedG, yieldPercent, abnormalLossMinor], at) => ({
    batchId: id(31 + at),
    code: `STEW-${completedOn.slice(2).replaceAll('-', '')}-A`,
    siteId: id(1),
    recipeId: id(21),
    itemName: 'Beef stew, bulk',
    completedOn,
    inputG: 40_000,
    gainsG: {},
    outputG,
    lossesG: { 'cooking-loss': 7_000, trim: 1_000 },
    unexplainedG,
    yieldPercent,
    expectedYieldPercent: 80,
    costMinor: 25_600,
    abnormalLossMinor,
  })),
  ...['2026-10-09', '2026-10-23'].map((completedOn, at) => ({
    batchId: id(41 + at),
    code: `RICE-${completedOn.slice(2).replaceAll('-', '')}-A`,
    siteId: id(1),
    recipeId: id(22),
    itemName: 'Rice pudding',
    completedOn,
    inputG: 4_000,
    gainsG: { 'water-uptake': 8_000 },
    outputG: 12_000,
    lossesG: {},
    unexplainedG: 0,
    yieldPercent: 300,
    expectedYieldPercent: 300,
    costMinor: 1_200,
    abnormalLossMinor: 0,
  })),
];

const SUMMARY: MonthReportAnswer['summary'] = {
  boughtG: 275_000,
  inG: 651_000,
  servedG: 170_000,
  servedDerivedG: 30_000,
  otherUseG: 11_000,
  wastedG: 49_500,
  wastedFoodG: 31_500,
  wastedInediblePartsG: 18_000,
  wastedMinor: 29_055,
  servedMinor: 123_875,
  adjustedG: -2_500,
  adjustedMinor: -2_025,
  portionsServed: 680,
  portionsPerKgBought: 2.47,
  wastedPercentOfIn: { value: 7.6, of: 'grams received + produced + back from service' },
  wastedPercentOfServedAndWasted: { value: 22.6, of: SHARE },
  yieldPercent: { value: 82.3, of: 'grams put into batches' },
};

const category = (name: string | null): MonthReportAnswer['categories'][number] => {
  const own = ITEMS.filter((one) => one.category === name);
  const add = <T extends Readonly<Record<string, number>>>(rows: readonly T[]): T =>
    rows.reduce(
      (all, row) =>
        Object.fromEntries(Object.entries(row).map(([line, value]) => [line, value + (all[line] ?? 0)])) as T,
    );
  return { category: name, inGrams: add(own.map((one) => one.inGrams)), inMoney: add(own.map((one) => one.inMoney)) };
};

export function monthReport(change: Partial<MonthReportAnswer> = {}): MonthReportAnswer {
  return {
    month: '2026-10',
    throughMonth: '2026-10',
    from: '2026-10-01',
    to: '2026-11-01',
    sites: SITES,
    allSites: true,
    state: 'closed',
    cut: { seq: 48_213, moneyNo: 119, recordedAt: '2026-11-02T09:14:07.311Z' },
    currency: { code: 'EUR', minorDigits: 2 },
    items: ITEMS,
    categories: ['Meat', 'Vegetables', 'Main courses', null, 'Dry goods', 'Desserts'].map(category),
    totals: { inGrams: TOTAL_GRAMS, inMoney: TOTAL_MONEY },
    bySite: BY_SITE,
    waste: WASTE,
    wasteBy: {
      reason: [
        sum('past-use-by', 'Past its use-by', 9_500, 0, 7_675),
        sum('trim', 'Trim and peelings', 0, 18_000, 6_240, TRIMMED),
        sum('over-production', 'Made more than was needed', 8_000, 0, 5_000),
        sum('plate-return', 'Came back on the plate or trolley', 6_000, 0, 4_875),
        sum('seal-failure', 'Seal failed or pouch blown', 4_000, 0, 3_250),
        sum('temperature', 'Too warm, or frozen when it should not be', 2_000, 0, 1_625),
        sum('damaged', 'Damaged', 2_000, 0, 240),
      ],
      destination: [
        sum('animal-feed', 'Animal feed', 0, 6_000, 4_800),
        sum('biomaterial', 'Biomaterial or biochemical processing', 0, 0, 0),
        sum('anaerobic-digestion', 'Co-digestion or anaerobic digestion', 19_500, 0, 15_725),
        sum('composting', 'Composting or aerobic processes', 2_000, 12_000, 1_680, TRIMMED),
        sum('controlled-combustion', 'Controlled combustion', 0, 0, 0),
        sum('land-application', 'Land application', 0, 0, 0),
        sum('landfill', 'Landfill', 0, 0, 0),
        sum('not-harvested', 'Not harvested or ploughed in', 0, 0, 0),
        sum('refuse', 'Refuse or discards', 8_000, 0, 6_500),
        sum('sewer', 'Sewer or wastewater treatment', 0, 0, 0),
        sum('not-said', 'Not said', 2_000, 0, 200),
      ],
      stage: [
        sum('primary-production', 'Primary production', 0, 0, 0),
        sum(MADE, 'Processing and manufacturing', 4_000, 18_000, 9_490, TRIMMED),
        sum('retail-and-other-distribution', 'Retail and other distribution of food', 0, 0, 0),
        sum(SERVICE, 'Restaurants and food services', 27_500, 0, 19_415),
        sum('households', 'Households', 0, 0, 0),
      ],
    },
    batchLosses: LOSSES,
    making: {
      workInProcessOpening: 0,
      revalued: 0,
      consumed: 275_700,
      added: 16_800,
      produced: 282_900,
      abnormalLoss: 9_600,
      abnormalLossAtNoSite: 0,
      workInProcessClosing: 0,
    },
    late: [
      {
        month: '2026-09',
        kind: 'recorded-late',
        line: 'wasted',
        itemId: id(14),
        itemName: 'Beef stew, pouch of 2 kg',
        unit: 'piece',
        quantity: 1,
        grams: 2_000,
        valueMinor: 1_625,
        linesHref: `${LINES}&itemId=${id(14)}&line=wasted`,
      },
      {
        month: '2026-09',
        kind: 'revalued',
        line: 'received',
        itemId: id(12),
        itemName: 'Carrots',
        unit: 'g',
        quantity: 5_000,
        grams: 5_000,
        valueMinor: 100,
        linesHref: null,
      },
    ],
    batches: BATCHES,
    packingRuns: { count: 0, runs: [] },
    recipes: [
      {
        recipeId: id(21),
        recipeCode: 'R-STEW',
        itemName: 'Beef stew, bulk',
        batches: 6,
        inputG: 240_000,
        gainsG: {},
        outputG: 180_000,
        lossesG: { 'cooking-loss': 42_000, trim: 6_000 },
        unexplainedG: 12_000,
        yieldPercent: 75,
        expectedYieldPercent: 80,
        costMinor: 153_600,
        abnormalLossMinor: 9_600,
      },
      {
        recipeId: id(22),
        recipeCode: 'R-RICE',
        itemName: 'Rice pudding',
        batches: 2,
        inputG: 8_000,
        gainsG: { 'water-uptake': 16_000 },
        outputG: 24_000,
        lossesG: {},
        unexplainedG: 0,
        yieldPercent: 300,
        expectedYieldPercent: 300,
        costMinor: 2_400,
        abnormalLossMinor: 0,
      },
    ],
    uncostedLots: {
      count: 1,
      lots: [{ lotId: id(51), lotCode: 'HERBS-261012', itemName: 'Thyme', reason: 'no-price' }],
    },
    summary: SUMMARY,
    comparison: {
      previous: {
        month: '2026-09',
        throughMonth: '2026-09',
        summary: { ...SUMMARY, wastedMinor: 31_400, wastedG: 53_200, servedG: 168_500, portionsServed: 674 },
      },
      lastYear: null,
    },
    notes: [
      'Money is at actual cost: what was paid for what went in, with labour and energy at the rates of the group.',
      'One lot has no price; it is listed, and worth nothing here.',
    ],
    ...change,
  };
}

const NOT_FLOWS = ['opening', 'closing', 'revalued', 'wasted'];

/** One line for each figure of an item that moved, and one for each row of waste: finance's sums must come back to the report. */
export async function* bookLines(report: MonthReportAnswer): AsyncGenerator<BookLine> {
  const entry = {
    lotCode: 'LOT-1',
    entryId: id(99),
    recordedAt: '2026-10-12T08:30:00.000Z',
    occurredOn: '2026-10-12',
    lateMonth: null,
  };
  const nothing = { reason: null, destination: null, material: null };
  for (const one of report.items) {
    for (const [line, quantity] of Object.entries(one.inUnits)) {
      if (quantity === 0 || NOT_FLOWS.includes(line)) continue;
      const name = line as keyof Grams;
      const amounts = { quantity, grams: one.inGrams[name], valueMinor: one.inMoney[name] };
      const { itemCode, itemName, unit } = one;
      yield { ...entry, ...nothing, siteName: 'Quayside central kitchen', itemCode, itemName, unit, line, ...amounts };
    }
  }
  for (const { siteName, itemCode, itemName, reasonLabel, destination, material, unit, ...row } of report.waste) {
    const amounts = { quantity: row.quantity, grams: row.grams, valueMinor: row.valueMinor };
    const about = { siteName, itemCode, itemName, reason: reasonLabel, destination, material, unit };
    yield { ...entry, ...about, line: 'wasted', ...amounts };
  }
}
