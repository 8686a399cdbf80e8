/** Reading the ledger lines behind a number. Refusals: those of asked.ts, `bad-cursor`. */
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { askedMonths } from '../asked.ts';
import { readLines } from '../month/index.ts';
import type { listReportLines } from './contract.ts';

export async function readReportLines(context: Context<typeof listReportLines>): Promise<Reply> {
  const { tx, query } = context;
  const page = pageOf(query, ['int', 'int']);
  const asked = await askedMonths(context, query);
  const after = page.after === null ? null : ([Number(page.after[0]), Number(page.after[1])] as const);
  const { lines, sum } = await readLines(tx, asked, query, { after, limit: page.limit + 1 });
  const reply = pageReply(context.path, query, page, lines, (line) => [String(line.seq), String(line.lineNo)]);
  return { ...reply, body: { ...(reply.body as object), sum } };
}
