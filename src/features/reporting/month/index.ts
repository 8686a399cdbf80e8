/** The month's report and the ledger lines behind it, for the rest of reporting. */
import { monthsFrom, monthsOn } from '../../../domain/month/periods.ts';
import { monthBounds } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { wasAnythingRecorded } from './queries.ts';
import { makeOneReport } from './report.ts';
import { readingOf, type Asked } from './scope.ts';
import type { MonthReportAnswer } from './shapes.ts';

export { digestPostings, digestTo } from './digest.ts';
export { listLineSums } from './line-sums.ts';
export { countLinesOf, listLinesOf, type ReportLine } from './lines.ts';
export { readLines } from './read-lines.ts';
export type { MonthReportAnswer } from './shapes.ts';
export type { Asked } from './scope.ts';

type Compared = MonthReportAnswer['comparison']['previous'];

/** The same span so many months earlier, as its own report says; null where nothing was recorded then. */
async function compared(tx: Tx, asked: Asked, monthsBack: number): Promise<Compared> {
  const [month, throughMonth] = [monthsOn(asked.month, -monthsBack), monthsOn(asked.throughMonth, -monthsBack)];
  const { from } = monthBounds(month);
  const { to } = monthBounds(throughMonth);
  if (!(await wasAnythingRecorded(tx, from, to, asked.cut.seq))) return null;
  const { summary } = await makeOneReport(tx, await readingOf(tx, { ...asked, month, throughMonth }));
  return { month, throughMonth, summary };
}

/**
 * The report as known at the cut. A closed month is answered as it was closed, unless restated: then every fact stands in the month in which
 * it happened.
 * @param asked `siteIds` null: the whole group, with what is on the road. Whether the asker may read them is not decided here.
 */
export async function makeMonthReport(tx: Tx, asked: Asked): Promise<MonthReportAnswer> {
  const report = await makeOneReport(tx, await readingOf(tx, asked));
  const { notes, ...rest } = report;
  const previous = await compared(tx, asked, monthsFrom(asked.month, asked.throughMonth));
  const lastYear = await compared(tx, asked, 12);
  return { ...rest, comparison: { previous, lastYear }, notes };
}
