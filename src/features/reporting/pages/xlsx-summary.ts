/** The first sheet: what the workbook is of, and the month in its figures beside the periods that it is compared with. */
import type { SheetCell } from '../../../platform/spreadsheet/xlsx.ts';
import type { MonthReportAnswer } from '../month/shapes.ts';
import { hashOf, periodText, scopeText, stateText } from './words.ts';
import { GRAMS, PERCENT, QUANTITY, type Formats } from './xlsx-columns.ts';

export function* summaryRows(report: MonthReportAnswer, { code, money, amount }: Formats): Generator<SheetCell[]> {
  yield ['Period', periodText(report)];
  yield ['Sites', scopeText(report)];
  yield ['State', stateText(report)];
  yield ['As recorded at', report.cut.recordedAt ?? 'before the first record'];
  yield ['Last entry in it', { number: report.cut.seq, format: QUANTITY }];
  yield ['Last money fact in it', { number: report.cut.moneyNo, format: QUANTITY }];
  yield ['Currency', code];
  yield ['SHA-256 of the canonical JSON', hashOf(report)];
  type Summary = MonthReportAnswer['summary'];
  const periods = [report.summary, report.comparison.previous?.summary, report.comparison.lastYear?.summary];
  const row = (title: string, of: (one: Summary) => number | null, format: string, about: string): SheetCell[] => [
    title,
    ...periods.map((one) => {
      const value = one === undefined ? null : of(one);
      return value === null ? null : { number: value, format };
    }),
    about,
  ];
  const grams = (title: string, of: (one: Summary) => number, about = ''): SheetCell[] =>
    row(`${title}, g`, of, GRAMS, about);
  const worth = (title: string, of: (one: Summary) => number, about = 'at cost'): SheetCell[] =>
    row(`${title}, ${code}`, (one) => amount(of(one)), money, about);
  const { wastedPercentOfServedAndWasted: ofServed, wastedPercentOfIn: ofIn, yieldPercent } = report.summary;
  yield grams('Bought', (one) => one.boughtG, 'without packaging');
  yield grams('Came in', (one) => one.inG);
  yield grams('Served', (one) => one.servedG);
  yield grams('Of served: shown by counts', (one) => one.servedDerivedG);
  yield grams('Other use', (one) => one.otherUseG, 'staff meals, donated, tasted, laboratory');
  yield grams('Wasted', (one) => one.wastedG, 'without packaging');
  yield grams('Of wasted: food', (one) => one.wastedFoodG);
  yield grams('Of wasted: inedible parts', (one) => one.wastedInediblePartsG);
  yield grams('Unexplained', (one) => one.adjustedG, 'below zero: missing');
  yield worth('Wasted', (one) => one.wastedMinor, 'at cost, with packaging');
  yield worth('Served', (one) => one.servedMinor);
  yield worth('Unexplained', (one) => one.adjustedMinor);
  yield row('Portions served', (one) => one.portionsServed, '#,##0.##', '');
  yield row('Portions served per kg bought', (one) => one.portionsPerKgBought, '0.00', '');
  yield row('Wasted, of served and wasted', (one) => one.wastedPercentOfServedAndWasted.value, PERCENT, ofServed.of);
  yield row('Wasted, of what came in', (one) => one.wastedPercentOfIn.value, PERCENT, ofIn.of);
  yield row('Yield of batches', (one) => one.yieldPercent.value, PERCENT, yieldPercent.of);
  const { making } = report;
  const made: readonly (readonly [string, number])[] = [
    ['Making: in open batches at the start', making.workInProcessOpening],
    ['Making: later prices of what had gone in and come out before', making.revalued],
    ['Making: put to use', making.consumed],
    ['Making: labour, energy, overheads and packaging', making.added],
    ['Making: produced', making.produced],
    ['Making: lost beyond the plan', making.abnormalLoss],
    ['Of that: at no site, by rounding', making.abnormalLossAtNoSite],
    ['Making: in open batches at the end', making.workInProcessClosing],
  ];
  for (const [title, minor] of made) yield [`${title}, ${code}`, { number: amount(minor), format: money }];
  for (const note of report.notes) yield ['Note', note];
}
