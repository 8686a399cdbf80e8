/** The long tables of the month: items in three measures, waste row by row and gathered, batches, recipes, lots without a price. */
import type { MonthReportAnswer } from '../month/shapes.ts';
import { destinationLabel, discardReasonLabel, stageLabel } from './labels.ts';
import { lostOf } from './lost.ts';
import { left, linesHref, linked, right, spread, words, type Cell, type Table } from './table.ts';
import { wasteAnchor } from './tables.ts';
import {
  IN_LINES,
  LINE_WORDS,
  moneyText,
  numberText,
  OUT_LINES,
  percentText,
  safeHref,
  usedLines,
  type MoneyName,
} from './words.ts';

type Item = MonthReportAnswer['items'][number];
type Measure = 'inUnits' | 'inGrams' | 'inMoney';
type Amounts = Readonly<Partial<Record<MoneyName, number>>>;

/** What prices changed is on no line of the ledger: the row's own link shows what moved. */
const NOT_A_LINE: readonly MoneyName[] = ['revalued'];
const NAME_SHARE = 17;
const REST_SHARE = 83;

const MEASURE_WORDS: Readonly<Record<Measure, string>> = {
  inUnits: 'in each item’s own unit',
  inGrams: 'in grams',
  inMoney: 'in money, at cost',
};

export const ITEM_TABLES = { inMoney: 'items-money', inGrams: 'items-grams', inUnits: 'items-units' } as const;

/** Opening and what came, then what went and closing: each row adds up. Lines in which nothing moved are left out. */
export function itemsTable(report: MonthReportAnswer, measure: Measure): Table {
  const { code, minorDigits } = report.currency;
  const amounts = report.items.map((item): Amounts => item[measure]);
  const names = [...usedLines(IN_LINES, amounts), ...usedLines(OUT_LINES, amounts)];
  const text = (value: number): string => (measure === 'inMoney' ? moneyText(value, minorDigits) : numberText(value));
  const cells = (row: Amounts, href: string | null): Cell[] =>
    names.map((name) => {
      const value = row[name] ?? 0;
      return linked(value, text(value), NOT_A_LINE.includes(name) ? href : safeHref(href, { line: name }));
    });
  const rowOf = (item: Item): Cell[] => {
    const href = safeHref(item.linesHref);
    const unit = measure === 'inUnits' ? [words(item.unit)] : [];
    return [{ text: `${item.itemName} (${item.itemCode})`, href }, ...unit, ...cells(item[measure], href)];
  };
  // Units of different kinds have no sum.
  const totals = measure === 'inUnits' ? null : report.totals[measure];
  const plus = new Set<MoneyName>(IN_LINES);
  return {
    id: ITEM_TABLES[measure],
    heading: `Items, ${MEASURE_WORDS[measure]}`,
    caption:
      `${measure === 'inMoney' ? `${code}. ` : ''}Columns marked + make the left side of the sum, those marked = the right side; both are equal in every row. ` +
      'Lines in which nothing moved are left out.',
    columns: [
      left('Item', NAME_SHARE),
      ...(measure === 'inUnits' ? [left('Unit', 5)] : []),
      ...spread(
        names.map((name) => `${plus.has(name) ? '+' : '='}\u00A0${LINE_WORDS[name]}`),
        [...amounts, ...(totals === null ? [] : [totals])].map((row: Amounts) =>
          names.map((name) => text(row[name] ?? 0)),
        ),
        REST_SHARE,
      ),
    ],
    rows: report.items.map(rowOf),
    ...(totals === null ? {} : { total: [words('All items'), ...cells(totals, linesHref(report))] }),
    none: 'Nothing stood and nothing moved.',
  };
}

type WasteRow = MonthReportAnswer['waste'][number];

function wasteRow(row: WasteRow, minorDigits: number): Cell[] {
  const href = safeHref(row.linesHref);
  const standard = discardReasonLabel(row.standardReason);
  return [
    words(row.siteName),
    words(row.itemName),
    words(row.reasonLabel === standard ? standard : `${row.reasonLabel} (standard: ${standard})`),
    words(stageLabel(row.stage)),
    words(destinationLabel(row.destination)),
    words(row.material === 'food' ? 'food' : 'inedible parts'),
    { text: numberText(row.quantity), href },
    words(row.unit),
    { text: numberText(row.grams), href },
    { text: moneyText(row.valueMinor, minorDigits), href },
  ];
}

/** By kitchen in the order of the report, the dearest first. */
function wasteTableOf(
  report: MonthReportAnswer,
  packaging: boolean,
): Pick<Table, 'rows' | 'total' | 'anchors' | 'columns'> {
  const { code, minorDigits } = report.currency;
  const order = lostOf(report).sites.map((site) => site.siteId);
  const rows = report.waste
    .filter((row) => row.packaging === packaging)
    .sort(
      (a, b) => order.indexOf(a.siteId) - order.indexOf(b.siteId) || b.valueMinor - a.valueMinor || b.grams - a.grams,
    );
  const grams = rows.reduce((sum, row) => sum + row.grams, 0);
  const minor = rows.reduce((sum, row) => sum + row.valueMinor, 0);
  const blank = words('');
  return {
    columns: [
      left('Kitchen', 15),
      left('Item', 15),
      left('Reason', 16),
      left('Stage', 13),
      left('Went to', 12),
      left('Material', 8),
      right('Quantity', 8),
      left('Unit', 5),
      right('Grams', 8),
      right(code, 8),
    ],
    rows: rows.map((row) => wasteRow(row, minorDigits)),
    total: [
      words('All'),
      ...Array.from({ length: 7 }, () => blank),
      words(numberText(grams)),
      words(moneyText(minor, minorDigits)),
    ],
    anchors: rows.map((row, at) =>
      !packaging && rows.findIndex((one) => one.siteId === row.siteId) === at ? wasteAnchor(row.siteId) : null,
    ),
  };
}

export function wasteTable(report: MonthReportAnswer): Table {
  return {
    id: 'waste',
    heading: 'Waste, row by row',
    caption:
      'Each kitchen’s own reason, with the standard one where it differs; stages of Delegated Decision (EU) 2019/1597; destinations of the ' +
      'Food Loss and Waste Standard. Without packaging.',
    ...wasteTableOf(report, false),
    none: 'Nothing was wasted.',
  };
}

export function packagingTable(report: MonthReportAnswer): Table {
  return {
    id: 'packaging',
    heading: 'Packaging thrown away',
    caption: 'In no sum of food waste.',
    ...wasteTableOf(report, true),
    none: 'None.',
  };
}

const sumOf = (kinds: Readonly<Record<string, number>>): number =>
  Object.values(kinds).reduce((sum, grams) => sum + grams, 0);

type Made = Pick<
  MonthReportAnswer['recipes'][number],
  | 'inputG'
  | 'gainsG'
  | 'outputG'
  | 'lossesG'
  | 'unexplainedG'
  | 'yieldPercent'
  | 'expectedYieldPercent'
  | 'costMinor'
  | 'abnormalLossMinor'
>;

const madeColumns = (code: string) => [
  right('Input, g', 9),
  right('+ Gains, g', 8),
  right('= Output, g', 9),
  right('= Planned loss, g', 9),
  right('= Unexplained, g', 10),
  right('Yield', 8),
  right('Expected', 8),
  right(`Cost, ${code}`, 9),
  right(`Lost beyond plan, ${code}`, 9),
];

function madeCells(made: Made, minorDigits: number): Cell[] {
  const losses = Object.entries(made.lossesG).filter(([, grams]) => grams !== 0);
  const under =
    made.yieldPercent !== null && made.expectedYieldPercent !== null && made.yieldPercent < made.expectedYieldPercent;
  return [
    words(numberText(made.inputG)),
    words(numberText(sumOf(made.gainsG))),
    words(numberText(made.outputG)),
    words(numberText(losses.reduce((sum, [, grams]) => sum + grams, 0))),
    words(numberText(made.unexplainedG)),
    words(`${under ? '▼ ' : ''}${percentText(made.yieldPercent)}`),
    words(percentText(made.expectedYieldPercent)),
    words(moneyText(made.costMinor, minorDigits)),
    words(moneyText(made.abnormalLossMinor, minorDigits)),
  ];
}

const MADE_CAPTION =
  'Input + gains = output + planned loss + unexplained, in grams. ▼: below what the recipe expects. Yield: percent of input.';

export function batchesTable({ batches, sites, currency: { code, minorDigits } }: MonthReportAnswer): Table {
  const names = new Map(sites.map((site) => [site.siteId, site.siteCode]));
  return {
    id: 'batches',
    heading: 'Batches completed',
    caption: MADE_CAPTION,
    columns: [left('Batch', 12), left('Made', 14), left('Kitchen', 7), left('On', 9), ...madeColumns(code)],
    rows: batches.map((batch) => [
      { text: batch.code, href: `/v1/batches/${encodeURIComponent(batch.batchId)}` },
      words(batch.itemName),
      words(names.get(batch.siteId) ?? ''),
      words(batch.completedOn),
      ...madeCells(batch, minorDigits),
    ]),
    none: 'No batch was completed.',
  };
}

export function recipesTable({ recipes, currency: { code, minorDigits } }: MonthReportAnswer): Table {
  return {
    id: 'recipes',
    heading: 'Recipes',
    caption: `Their batches together. ${MADE_CAPTION}`,
    columns: [left('Recipe', 22), right('Batches', 7), ...madeColumns(code)],
    rows: recipes.map((recipe) => [
      words(`${recipe.itemName} (${recipe.recipeCode})`),
      words(numberText(recipe.batches)),
      ...madeCells(recipe, minorDigits),
    ]),
    none: 'No batch was completed.',
  };
}

export function uncostedTable({ uncostedLots: { count, lots } }: MonthReportAnswer): Table {
  const more = count > lots.length ? ` ${numberText(count - lots.length)} more: see /v1/reports/uncosted-lots.` : '';
  return {
    id: 'uncosted',
    heading: 'Lots without a full price',
    caption: `${count === 1 ? '1 lot' : `${numberText(count)} lots`}: some of what went in has no price, so the money above is too low by it.${more}`,
    columns: [left('Lot', 24), left('Item', 40), left('Why', 36)],
    rows: lots.map((lot) => [
      { text: lot.lotCode, href: `/v1/lots/${encodeURIComponent(lot.lotId)}/cost` },
      words(lot.itemName),
      words(lot.reason),
    ]),
    none: 'None: every lot has its price.',
  };
}
