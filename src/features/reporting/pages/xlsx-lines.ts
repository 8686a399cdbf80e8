/** The last sheet of a workbook: every ledger line, or their sums where they are too many. */
import type { SheetCell, SheetSource } from '../../../platform/spreadsheet/xlsx.ts';
import { destinationLabel } from './labels.ts';
import type { BookLine, BookSum } from './lines.ts';
import { LINE_WORDS } from './words.ts';
import { date, number, QUANTITY, text, type Formats } from './xlsx-columns.ts';

export const lineWords = (line: string): string => (LINE_WORDS as Readonly<Record<string, string>>)[line] ?? line;

async function* lineRows(lines: AsyncIterable<BookLine>, { amount }: Formats): AsyncGenerator<SheetCell[]> {
  for await (const one of lines)
    yield [
      one.occurredOn,
      one.siteName,
      one.itemCode,
      one.itemName,
      one.lotCode,
      lineWords(one.line),
      one.reason,
      one.destination === null ? null : destinationLabel(one.destination),
      one.material,
      one.quantity,
      one.unit,
      one.grams,
      amount(one.valueMinor),
      one.entryId,
      Date.parse(one.recordedAt),
      one.lateMonth,
    ];
}

export function linesSheet(lines: AsyncIterable<BookLine>, formats: Formats): SheetSource {
  return {
    name: 'Lines',
    columns: [
      date('Date'),
      text('Site', 26),
      text('Item code', 14),
      text('Item', 28),
      text('Lot', 22),
      text('Line', 20),
      text('Reason', 20),
      text('Destination', 24),
      text('Material', 14),
      number('Quantity', QUANTITY),
      text('Unit', 7),
      number('Grams', '#,##0.###'),
      number(formats.code, formats.money),
      text('Entry', 38),
      { title: 'Recorded at (UTC)', width: 19, kind: 'time' },
      text('Late, of month', 14),
    ],
    rows: lineRows(lines, formats),
  };
}

/** Says in its last column what it is, because the sheet may be read without the summary. */
export function sumsSheet(sums: readonly BookSum[], beyond: number, formats: Formats): SheetSource {
  const rest = `Sums, because there are more than ${beyond} postings. Each line is in an export of the report "lines".`;
  return {
    name: 'Line sums',
    columns: [
      text('Site', 26),
      text('Item code', 14),
      text('Item', 28),
      text('Line', 20),
      text('Reason', 20),
      text('Destination', 24),
      text('Material', 14),
      number('Quantity', QUANTITY),
      text('Unit', 7),
      number('Grams', '#,##0.###'),
      number(formats.code, formats.money),
      text('What this is', 60),
    ],
    rows: sums.map((one, at) => [
      one.siteName,
      one.itemCode,
      one.itemName,
      lineWords(one.line),
      one.reason,
      one.destination === null ? null : destinationLabel(one.destination),
      one.material,
      one.quantity,
      one.unit,
      one.grams,
      formats.amount(one.valueMinor),
      at === 0 ? rest : null,
    ]),
  };
}
