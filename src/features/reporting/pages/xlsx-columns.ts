/** Columns of the workbook and how their numbers are shown. */
import type { SheetColumn } from '../../../platform/spreadsheet/xlsx.ts';
import type { MonthReportAnswer } from '../month/shapes.ts';

export const GRAMS = '#,##0';
export const QUANTITY = '#,##0';
export const PERCENT = '0.0" %"';

const moneyFormat = (digits: number): string => (digits === 0 ? '#,##0' : `#,##0.${'0'.repeat(digits)}`);

export interface Formats {
  readonly code: string;
  readonly money: string;
  /** minor units as the number that a person reads */
  readonly amount: (minor: number) => number;
}

export function formatsOf({ currency: { code, minorDigits } }: MonthReportAnswer): Formats {
  return { code, money: moneyFormat(minorDigits), amount: (minor) => minor / 10 ** minorDigits };
}

export const text = (title: string, width: number): SheetColumn => ({ title, width, kind: 'text' });
export const number = (title: string, format: string, width = 14): SheetColumn => ({
  title,
  width,
  kind: 'number',
  format,
});
export const date = (title: string): SheetColumn => ({ title, width: 11, kind: 'date' });
