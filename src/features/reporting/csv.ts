/**
 * The month's items as a spreadsheet: RFC 4180, one row an item, the unit in a column and in the headings. Texts that a
 * spreadsheet would run as a formula get an apostrophe before them; numbers are left alone, or a negative one would become a
 * text. Refusals: none.
 */
import { stringify } from 'csv-stringify/sync';
import { IN_LINES, OUT_LINES } from '../../domain/report.ts';
import type { ReportAnswer } from './contract.ts';

const WORDS = {
  received: 'Received',
  produced: 'Produced',
  returnedIn: 'Returned from service',
  transferIn: 'From other sites',
  adjusted: 'Adjusted by counts',
  consumed: 'Used in batches and packs',
  served: 'Served',
  transferOut: 'To other sites',
  returnedToSupplier: 'Returned to supplier',
} as const;

type Lines = ReportAnswer['items'][number]['inUnits'];

const safeText = (text: string): string => (/^[=+\-@\t\r]/.test(text) ? `'${text}` : text);

export function reportCsv(report: ReportAnswer): string {
  const reasons = [...new Set(report.items.flatMap((item) => item.inUnits.wastedByReason.map(({ reason }) => reason)))];
  reasons.sort();
  const headings = (measure: string) => [
    `Opening (${measure})`,
    ...IN_LINES.map((line) => `${WORDS[line]} (${measure})`),
    ...OUT_LINES.map((line) => `${WORDS[line]} (${measure})`),
    `Wasted (${measure})`,
    ...reasons.map((reason) => `Wasted: ${reason} (${measure})`),
    `Closing (${measure})`,
    // after the closing, so that the columns before it still add up
    `Of served: derived from counts (${measure})`,
  ];
  const cells = (lines: Lines) => [
    lines.opening,
    ...IN_LINES.map((line) => lines[line]),
    ...OUT_LINES.map((line) => lines[line]),
    lines.wasted,
    ...reasons.map((reason) => lines.wastedByReason.find((one) => one.reason === reason)?.quantity ?? 0),
    lines.closing,
    lines.servedDerived,
  ];
  const rows = report.items.map((item) => [
    report.month,
    safeText(report.siteName ?? 'All sites'),
    safeText(item.itemCode),
    safeText(item.itemName),
    item.unit,
    ...cells(item.inUnits),
    ...cells(item.inGrams),
  ]);
  const head = ['Month', 'Site', 'Item code', 'Item', 'Unit', ...headings('unit'), ...headings('g')];
  return stringify([head, ...rows], { record_delimiter: '\r\n' });
}
