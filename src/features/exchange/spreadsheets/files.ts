/**
 * Rows as CSV (RFC 4180) and as a workbook, written while they are read. A text that a spreadsheet would run as a formula gets an
 * apostrophe in front in CSV, where nothing else tells it from one; in a workbook it is a text cell and stays as it is. Numbers stay
 * numbers.
 */
import { stringify } from 'csv-stringify/sync';
import { writeWorkbook, type CellValue } from '../../../platform/spreadsheet/xlsx.ts';
import type { Column } from './columns.ts';

/** Signs that begin a formula, and their full-width forms, which some spreadsheets take as well. */
const FORMULA = /^[=+\-@\t\r\uff1d\uff0b\uff0d\uff20]/;

/** One row of RFC 4180, with CRLF: texts made harmless, numbers as they are, null empty. */
export function csvRow(cells: readonly CellValue[]): string {
  const safe = cells.map((cell) => (typeof cell === 'string' && FORMULA.test(cell) ? `'${cell}` : cell));
  // the library quotes the whole row end only, and a lone CR or LF would end a row for many readers
  return stringify([safe], { record_delimiter: '\r\n', quoted_match: /[\r\n]/ });
}

function csvCell<Row>({ kind, value }: Column<Row>, row: Row): CellValue {
  const cell = value(row);
  return kind === 'time' && typeof cell === 'number' ? new Date(cell).toISOString() : cell;
}

export async function* csvFile<Row>(
  columns: readonly Column<Row>[],
  chunks: AsyncIterable<Row[]>,
): AsyncGenerator<string> {
  yield csvRow(columns.map(({ title }) => title));
  for await (const rows of chunks) {
    yield rows.map((row) => csvRow(columns.map((column) => csvCell(column, row)))).join('');
  }
}

async function* cellsOf<Row>(
  columns: readonly Column<Row>[],
  chunks: AsyncIterable<Row[]>,
): AsyncGenerator<CellValue[]> {
  for await (const rows of chunks) {
    for (const row of rows) yield columns.map(({ value }) => value(row));
  }
}

export function xlsxFile<Row>(
  name: string,
  columns: readonly Column<Row>[],
  chunks: AsyncIterable<Row[]>,
): AsyncGenerator<Buffer> {
  return writeWorkbook([{ name, columns, rows: cellsOf(columns, chunks) }], { title: name, tabs: [name] });
}
