/** Waste gathered by the words of the standard, and what was lost inside batches beside it. */
import type { MonthReportAnswer } from '../month/shapes.ts';
import { destinationLabel, discardReasonLabel, stageLabel } from './labels.ts';
import { left, right, words, type Cell, type Table } from './table.ts';
import { moneyText, numberText } from './words.ts';

export function lossesTable({ batchLosses }: MonthReportAnswer): Table {
  const asWaste = batchLosses.filter((row) => !row.leavesAsWater);
  const foodG = asWaste.reduce((sum, row) => sum + row.foodG, 0);
  const partsG = asWaste.reduce((sum, row) => sum + row.inediblePartsG, 0);
  return {
    id: 'losses',
    heading: 'Lost in batches',
    caption:
      'Of batches completed in the period, beside the waste and never added to it: this mass is part of what was put to use in making. ' +
      'Cooking loss is water that left as steam; it is shown, and is in no sum of waste. Destinations of the Food Loss and Waste Standard. Without ' +
      'packaging. No money: the good output carries planned loss; what was lost beyond plan is under making.',
    columns: [
      left('Kitchen', 16),
      left('Made', 16),
      left('Lost as', 18),
      left('Stage', 14),
      left('Went to', 12),
      right('Food, g', 8),
      right('Inedible parts, g', 8),
      right('Batches', 8),
    ],
    rows: batchLosses.map((row) => [
      words(row.siteName),
      words(row.itemName),
      words(`${discardReasonLabel(row.kind)}${row.leavesAsWater ? ' (as steam, no waste)' : ''}`),
      words(stageLabel(row.stage)),
      words(row.leavesAsWater && row.destination === null ? 'steam' : destinationLabel(row.destination)),
      words(numberText(row.foodG)),
      words(numberText(row.inediblePartsG)),
      words(numberText(row.batches)),
    ]),
    total: ['All but cooking loss', '', '', '', '', numberText(foodG), numberText(partsG), ''].map(words),
    none: 'Nothing was lost in batches.',
  };
}

type Three = readonly [food: number, parts: number, minor: number];

export function wasteByTable(report: MonthReportAnswer, by: 'reason' | 'destination' | 'stage'): Table {
  const { code, minorDigits } = report.currency;
  const rows = report.wasteBy[by];
  const heading = { reason: 'Waste by reason', destination: 'Waste by destination', stage: 'Waste by stage' }[by];
  const caption = {
    reason: 'By standard reason.',
    destination: 'The ten destinations of the Food Loss and Waste Standard, version 1.0; and what nobody said.',
    stage: 'The five stages of Delegated Decision (EU) 2019/1597.',
  }[by];
  const sum = (of: (row: (typeof rows)[number]) => number): number => rows.reduce((all, row) => all + of(row), 0);
  const cells = (title: string, [food, parts, minor]: Three, inBatches: readonly [number, number]): Cell[] => [
    words(title),
    ...inBatches.map((grams) => words(numberText(grams))),
    words(numberText(food)),
    words(numberText(parts)),
    words(numberText(food + parts)),
    words(moneyText(minor, minorDigits)),
  ];
  return {
    id: `waste-by-${by}`,
    heading,
    caption:
      `${caption} Without packaging; money in ${code} at cost. What was lost in batches stands beside what was discarded: it is in ` +
      'neither “Both” nor the money, and is without cooking loss.',
    columns: [
      left({ reason: 'Reason', destination: 'Went to', stage: 'Stage' }[by], 28),
      right('In batches: food, g', 12),
      right('In batches: inedible parts, g', 12),
      right('Food, g', 12),
      right('Inedible parts, g', 12),
      right('Both, g', 12),
      right(code, 12),
    ],
    rows: rows.map((row) =>
      cells(
        row.label,
        [row.foodG, row.inediblePartsG, row.valueMinor],
        [row.inBatchesFoodG, row.inBatchesInediblePartsG],
      ),
    ),
    total: cells(
      'All',
      [sum((row) => row.foodG), sum((row) => row.inediblePartsG), sum((row) => row.valueMinor)],
      [sum((row) => row.inBatchesFoodG), sum((row) => row.inBatchesInediblePartsG)],
    ),
    none: 'Nothing was wasted.',
  };
}
