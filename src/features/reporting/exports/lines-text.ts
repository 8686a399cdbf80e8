/**
 * Ledger lines as text, a record a line. CSV is RFC 4180; texts that a spreadsheet would run as a formula get an apostrophe before them.
 * JSON is one object a line. Money is in minor units, as in the report's JSON.
 */
import { stringify } from 'csv-stringify/sync';
import type { BookLine } from '../pages/index.ts';

const COLUMNS: readonly (readonly [string, keyof BookLine])[] = [
  ['Date', 'occurredOn'],
  ['Site', 'siteName'],
  ['Item code', 'itemCode'],
  ['Item', 'itemName'],
  ['Lot', 'lotCode'],
  ['Line', 'line'],
  ['Reason', 'reason'],
  ['Destination', 'destination'],
  ['Material', 'material'],
  ['Quantity', 'quantity'],
  ['Unit', 'unit'],
  ['Grams', 'grams'],
  ['Value (minor units)', 'valueMinor'],
  ['Entry', 'entryId'],
  ['Recorded at', 'recordedAt'],
];

const safe = (value: string | number | null): string | number =>
  typeof value === 'string' && /^[=+\-@\t\r]/.test(value) ? `'${value}` : (value ?? '');

const csvRecord = (cells: readonly (string | number)[]): string =>
  stringify([[...cells]], { record_delimiter: '\r\n' });

export interface LineText {
  /** what the file begins with */
  readonly head: string;
  readonly recordOf: (line: BookLine) => string;
}

export const LINE_TEXTS: Readonly<Record<'csv' | 'json', LineText>> = {
  csv: {
    head: csvRecord(COLUMNS.map(([title]) => title)),
    recordOf: (line) => csvRecord(COLUMNS.map(([, field]) => safe(line[field]))),
  },
  json: {
    head: '',
    recordOf: (line) => `${JSON.stringify(Object.fromEntries(COLUMNS.map(([, field]) => [field, line[field]])))}\n`,
  },
};
