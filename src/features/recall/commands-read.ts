/** Reading cases. Refusals: `not-found`, `bad-cursor`. */
import type { Context, Reply } from '../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import { briefAnswer, getVisibleRecall, recallAnswer } from './answer.ts';
import type * as contract from './contract-cases.ts';
import { listRecallRows } from './queries.ts';

export async function readRecalls(context: Context<typeof contract.listRecalls>): Promise<Reply> {
  const { tx, scope, query } = context;
  const page = pageOf(query, ['time', 'uuid']);
  const filter = { state: query.state ?? null, drill: query.drill === undefined ? null : query.drill === 'true' };
  const rows = await listRecallRows(tx, scope, filter, page);
  return pageReply(context.path, query, page, rows.map(briefAnswer), (row) => [row.openedAt, row.recallId]);
}

export async function readRecall(context: Context<typeof contract.getRecall>): Promise<Reply> {
  const recall = await getVisibleRecall(context.tx, context.scope, context.params.recallId);
  return { status: 200, body: await recallAnswer(context.tx, recall) };
}
