/**
 * The month as a workbook for finance: what the report says, and every ledger line behind it. Numbers are numbers with the digits of
 * their kind, dates are dates, and columns are in one measure, so that a sum under a column is the report's figure. Lines are streamed.
 */
import { writeWorkbook, type SheetColumn, type SheetSource } from '../../../platform/spreadsheet/xlsx.ts';
import type { MonthReportAnswer } from '../month/shapes.ts';
import { destinationLabel, discardReasonLabel, stageLabel } from './labels.ts';
import type { BookLine, BookSums } from './lines.ts';
import { IN_LINES, LINE_WORDS, OUT_LINES, periodText, scopeText, type MoneyName } from './words.ts';
import { date, formatsOf, GRAMS, number, PERCENT, QUANTITY, text, type Formats } from './xlsx-columns.ts';
import { linesSheet, lineWords, sumsSheet } from './xlsx-lines.ts';
import { lossesSheet } from './xlsx-losses.ts';
import { summaryRows } from './xlsx-summary.ts';

const MONEY_LINES: readonly MoneyName[] = [...IN_LINES, ...OUT_LINES];
const QUANTITY_LINES = [...IN_LINES, ...OUT_LINES].filter((name) => name !== 'revalued');

function amountColumns({ code, money }: Formats, names: readonly MoneyName[]): SheetColumn[] {
  return [
    ...QUANTITY_LINES.map((name) => number(`${LINE_WORDS[name]}, g`, GRAMS)),
    ...names.map((name) => number(`${LINE_WORDS[name]}, ${code}`, money)),
  ];
}

type Rows = Pick<MonthReportAnswer['bySite'][number], 'inGrams' | 'inMoney'>;
const amountCells = ({ inGrams, inMoney }: Rows, { amount }: Formats): number[] => [
  ...QUANTITY_LINES.map((name) => inGrams[name]),
  ...MONEY_LINES.map((name) => amount(inMoney[name])),
];

function itemsSheet({ items }: MonthReportAnswer, formats: Formats): SheetSource {
  return {
    name: 'Items',
    columns: [
      text('Item code', 14),
      text('Item', 28),
      text('Kind', 11),
      text('Category', 16),
      text('Unit', 7),
      ...QUANTITY_LINES.map((name) => number(`${LINE_WORDS[name]}, unit`, QUANTITY)),
      ...amountColumns(formats, MONEY_LINES),
      number('Without a full price, unit', QUANTITY),
    ],
    rows: items.map((item) => [
      item.itemCode,
      item.itemName,
      item.itemKind,
      item.category,
      item.unit,
      ...QUANTITY_LINES.map((name) => item.inUnits[name]),
      ...amountCells(item, formats),
      item.uncostedQuantity,
    ]),
  };
}

function sitesSheet({ bySite }: MonthReportAnswer, formats: Formats): SheetSource {
  const { code, money, amount } = formats;
  return {
    name: 'Sites',
    columns: [
      text('Site code', 12),
      text('Site', 28),
      number('Food waste, g', GRAMS),
      number(`Wasted, ${code}`, money),
      number('Wasted of served and wasted, %', PERCENT),
      number(`Lost in making, ${code}`, money),
      ...amountColumns(formats, MONEY_LINES),
    ],
    rows: bySite.map((site) => [
      site.siteCode,
      site.siteName,
      site.wastedFoodG,
      amount(site.wastedMinor),
      site.wastedPercentOfServedAndWasted.value,
      amount(site.abnormalLossMinor),
      ...amountCells(site, formats),
    ]),
  };
}

function wasteSheet({ waste }: MonthReportAnswer, { code, money, amount }: Formats): SheetSource {
  return {
    name: 'Waste',
    columns: [
      text('Site', 26),
      text('Item code', 14),
      text('Item', 28),
      text('Category', 16),
      text('Packaging', 10),
      text('Reason', 26),
      text('Standard reason', 26),
      text('Stage', 28),
      text('Destination', 26),
      text('Material', 14),
      number('Quantity', QUANTITY),
      text('Unit', 7),
      number('Grams', GRAMS),
      number(code, money),
    ],
    rows: waste.map((row) => [
      row.siteName,
      row.itemCode,
      row.itemName,
      row.category,
      row.packaging ? 'yes' : 'no',
      row.reasonLabel,
      discardReasonLabel(row.standardReason),
      stageLabel(row.stage),
      destinationLabel(row.destination),
      row.material,
      row.quantity,
      row.unit,
      row.grams,
      amount(row.valueMinor),
    ]),
  };
}

const sum = (kinds: Readonly<Record<string, number>>): number =>
  Object.values(kinds).reduce((all, one) => all + one, 0);

function batchesSheet({ batches, sites }: MonthReportAnswer, { code, money, amount }: Formats): SheetSource {
  const names = new Map(sites.map((site) => [site.siteId, site.siteName]));
  return {
    name: 'Batches',
    columns: [
      text('Batch', 18),
      text('Made', 28),
      text('Site', 26),
      date('Completed on'),
      ...['Input, g', 'Gains, g', 'Output, g', 'Planned loss, g', 'Unexplained, g'].map((title) =>
        number(title, GRAMS),
      ),
      number('Yield, %', PERCENT),
      number('Expected yield, %', PERCENT),
      number(`Cost, ${code}`, money),
      number(`Lost beyond plan, ${code}`, money),
    ],
    rows: batches.map((batch) => [
      batch.code,
      batch.itemName,
      names.get(batch.siteId) ?? '',
      batch.completedOn,
      batch.inputG,
      sum(batch.gainsG),
      batch.outputG,
      sum(batch.lossesG),
      batch.unexplainedG,
      batch.yieldPercent,
      batch.expectedYieldPercent,
      amount(batch.costMinor),
      amount(batch.abnormalLossMinor),
    ]),
  };
}

function packingSheet({ packingRuns, sites }: MonthReportAnswer, { code, money, amount }: Formats): SheetSource {
  const names = new Map(sites.map((site) => [site.siteId, site.siteName]));
  return {
    name: 'Packing runs',
    columns: [
      text('Batch packed', 18),
      text('Packed', 28),
      text('Site', 26),
      number('Lost, g', GRAMS),
      number(`Lost beyond plan, ${code}`, money),
    ],
    rows: packingRuns.runs.map((run) => [
      run.batchCode,
      run.itemName,
      names.get(run.siteId) ?? '',
      run.lossG,
      amount(run.abnormalLossMinor),
    ]),
  };
}

function lateSheet({ late }: MonthReportAnswer, { code, money, amount }: Formats): SheetSource {
  return {
    name: 'Late',
    columns: [
      text('Of month', 10),
      text('Why', 14),
      text('Line', 20),
      text('Item', 28),
      number('Quantity', QUANTITY),
      text('Unit', 7),
      number('Grams', GRAMS),
      number(code, money),
    ],
    rows: late.map((one) => [
      one.month,
      one.kind,
      lineWords(one.line),
      one.itemName,
      one.quantity,
      one.unit,
      one.grams,
      amount(one.valueMinor),
    ]),
  };
}

/** Pieces of the file, while the lines are read. */
export function reportXlsx(
  report: MonthReportAnswer,
  behind: AsyncIterable<BookLine> | BookSums,
): AsyncGenerator<Buffer> {
  const formats = formatsOf(report);
  const { previous, lastYear } = report.comparison;
  const summary: SheetSource = {
    name: 'Summary',
    columns: [
      text('Figure', 46),
      text(periodText(report), 22),
      text(previous === null ? 'Period before: nothing recorded' : periodText(previous), 22),
      text(lastYear === null ? 'A year before: nothing recorded' : periodText(lastYear), 22),
      text('What it is of', 60),
    ],
    rows: summaryRows(report, formats),
  };
  const sheets = [
    summary,
    itemsSheet(report, formats),
    sitesSheet(report, formats),
    wasteSheet(report, formats),
    lossesSheet(report),
    batchesSheet(report, formats),
    packingSheet(report, formats),
    lateSheet(report, formats),
    Symbol.asyncIterator in behind ? linesSheet(behind, formats) : sumsSheet(behind.sums, behind.beyond, formats),
  ];
  return writeWorkbook(sheets, {
    title: `Waste, yield and cost: ${periodText(report)}, ${scopeText(report)}`,
    tabs: sheets.map(({ name }) => name),
  });
}
