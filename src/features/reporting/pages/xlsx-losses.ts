/** The sheet of what was lost inside batches. It is beside the waste: no sum of the workbook has both. */
import type { SheetSource } from '../../../platform/spreadsheet/xlsx.ts';
import type { MonthReportAnswer } from '../month/shapes.ts';
import { destinationLabel, discardReasonLabel, stageLabel } from './labels.ts';
import { GRAMS, number, QUANTITY, text } from './xlsx-columns.ts';

export const lossesSheet = ({ batchLosses }: MonthReportAnswer): SheetSource => ({
  name: 'Losses',
  columns: [
    text('Site', 26),
    text('Made', 28),
    text('Category', 16),
    text('Lost as', 26),
    text('Left as water, no waste', 12),
    text('Stage', 28),
    text('Destination', 26),
    number('Food, g', GRAMS),
    number('Inedible parts, g', GRAMS),
    number('Batches', QUANTITY),
  ],
  rows: batchLosses.map((row) => [
    row.siteName,
    row.itemName,
    row.category,
    discardReasonLabel(row.kind),
    row.leavesAsWater ? 'yes' : 'no',
    stageLabel(row.stage),
    destinationLabel(row.destination),
    row.foodG,
    row.inediblePartsG,
    row.batches,
  ]),
});
