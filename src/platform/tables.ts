/**
 * A table out of a spreadsheet: RFC 4180 with commas, or with semicolons or tabs as spreadsheets of other countries write them.
 * What cannot be read at all is refused in the caller's words.
 */
import { CsvError, parse } from 'csv-parse/sync';

export interface TableRow {
  /** the line in the file, the heading being 1 */
  readonly row: number;
  readonly cells: readonly string[];
}

/** Whichever of comma, semicolon and tab the heading has most of. */
function delimiterOf(heading: string): string {
  const count = (sign: string) => heading.split(sign).length;
  return [',', ';', '\t'].reduce((best, sign) => (count(sign) > count(best) ? sign : best));
}

/**
 * The rows that are not empty, the heading first; at most `most` are read.
 * @throws what `unreadable` makes of the reason
 */
export function readTableRows(csv: string, most: number, unreadable: (detail: string) => Error): TableRow[] {
  const text = csv.replace(/^\ufeff/, '');
  try {
    const delimiter = delimiterOf(text.split(/\r?\n/, 1)[0] ?? '');
    const options = { delimiter, relax_column_count: true, trim: true, info: true, to: most } as const;
    const records = parse(text, options) as unknown as readonly { record: string[]; info: { lines: number } }[];
    return records
      .map(({ record, info }) => ({ row: info.lines, cells: record }))
      .filter(({ cells }) => cells.some((cell) => cell !== ''));
  } catch (error) {
    if (!(error instanceof CsvError)) throw error;
    const at = typeof error.lines === 'number' ? ` near line ${error.lines}` : '';
    throw unreadable(`The table cannot be read${at}: a quotation mark is open or stands where none belongs.`);
  }
}
