/** Reading the month's report. Refusals: see asked.ts. */
import type { Context, Reply } from '../../platform/http/contract.ts';
import { askedMonths } from './asked.ts';
import type { getWasteAndYield } from './contract.ts';
import { fileReply, formatOf } from './files.ts';
import { listLinesOf, makeMonthReport } from './month/index.ts';

const NAMED_SITES = 4;
/** Codes are letters, digits, dots and dashes: see the scalars. */
const whereOf = (codes: readonly string[]): string =>
  codes.length <= NAMED_SITES ? codes.join('-') : `${codes.length}-sites`;

export async function readWasteAndYield(context: Context<typeof getWasteAndYield>): Promise<Reply> {
  const { tx, query } = context;
  const asked = await askedMonths(context, query);
  const report = await makeMonthReport(tx, asked);
  const where = asked.sites === null ? 'all-sites' : whereOf(asked.sites.map((site) => site.siteCode));
  const months = report.month === report.throughMonth ? report.month : `${report.month}-to-${report.throughMonth}`;
  const name = `waste-and-yield-${months}-${where}`;
  return fileReply(formatOf(context, query.format), report, name, () => listLinesOf(tx, asked));
}
