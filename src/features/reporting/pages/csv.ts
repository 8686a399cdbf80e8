/**
 * The items of the month as a spreadsheet: RFC 4180, one row an item, in its unit, in grams and in money. Texts that a spreadsheet would run
 * as a formula get an apostrophe before them; numbers are left alone, or one below zero would become a text. Money is in whole units of the
 * currency with its digits.
 */
import { stringify } from 'csv-stringify/sync';
import type { MonthReportAnswer } from '../month/shapes.ts';
import { IN_LINES, LINE_WORDS, OUT_LINES, scopeText, type MoneyName } from './words.ts';

const safeText = (text: string): string => (/^[=+\-@\t\r]/.test(text) ? `'${text}` : text);

/** As a number is written: a point, no spaces. */
function plainMoney(minor: number, minorDigits: number): string {
  const digits = String(Math.abs(minor)).padStart(minorDigits + 1, '0');
  const part = minorDigits === 0 ? '' : `.${digits.slice(-minorDigits)}`;
  return `${minor < 0 ? '-' : ''}${digits.slice(0, digits.length - minorDigits)}${part}`;
}

const MONEY_LINES: readonly MoneyName[] = [...IN_LINES, ...OUT_LINES];
const QUANTITY_LINES = [...IN_LINES, ...OUT_LINES].filter((name) => name !== 'revalued');

export function reportCsv(report: MonthReportAnswer): string {
  const { code, minorDigits } = report.currency;
  const head = [
    'Month',
    'Through month',
    'State',
    'Sites',
    'Item code',
    'Item',
    'Category',
    'Unit',
    ...QUANTITY_LINES.map((name) => `${LINE_WORDS[name]} (unit)`),
    ...QUANTITY_LINES.map((name) => `${LINE_WORDS[name]} (g)`),
    ...MONEY_LINES.map((name) => `${LINE_WORDS[name]} (${code})`),
    'Without a full price (unit)',
  ];
  const rows = report.items.map((item) => [
    report.month,
    report.throughMonth,
    report.state,
    safeText(report.allSites ? 'All sites' : scopeText(report)),
    safeText(item.itemCode),
    safeText(item.itemName),
    safeText(item.category ?? ''),
    item.unit,
    ...QUANTITY_LINES.map((name) => item.inUnits[name]),
    ...QUANTITY_LINES.map((name) => item.inGrams[name]),
    ...MONEY_LINES.map((name) => plainMoney(item.inMoney[name], minorDigits)),
    item.uncostedQuantity,
  ]);
  return stringify([head, ...rows], { record_delimiter: '\r\n' });
}
