/** Spreadsheets. Refusals: `not-found` (a site that is not yours), `rule-broken` (days that do not exist or stand the wrong way round). */
import { notFound, Refused } from '../../../domain/errors.ts';
import { isCalendarDate } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { findSites } from '../../catalogue/index.ts';
import { LOT_COLUMNS, RECEIPT_COLUMNS, STOCK_COLUMNS, type Column } from './columns.ts';
import { XLSX, type exportLots, type exportReceipts, type exportStock } from './contract.ts';
import { csvFile, xlsxFile } from './files.ts';
import { readLotRows, readReceiptRows, readStockRows, type Filter } from './queries.ts';

interface Asked {
  readonly siteId?: string | undefined;
  readonly from?: string | undefined;
  readonly to?: string | undefined;
}

function refuse(detail: string, field: string): Refused {
  return new Refused('rule-broken', detail, { errors: [{ detail, pointer: `#/query/${field}` }] });
}

async function filterOf({ tx, scope }: Pick<Context, 'tx' | 'scope'>, { siteId, from, to }: Asked): Promise<Filter> {
  if (siteId !== undefined && !(scope.includes(siteId) && (await findSites(tx, [siteId])).has(siteId))) {
    throw notFound('site');
  }
  if (from !== undefined && !isCalendarDate(from)) throw refuse(`${from} is not on the calendar.`, 'from');
  if (to !== undefined && !isCalendarDate(to)) throw refuse(`${to} is not on the calendar.`, 'to');
  if (from !== undefined && to !== undefined && to < from) throw refuse(`${to} is before ${from}.`, 'to');
  return { siteId: siteId ?? null, from: from ?? null, to: to ?? null };
}

type Export = Context<typeof exportStock> | Context<typeof exportLots> | Context<typeof exportReceipts>;

function replyOf<Row>(
  context: Export,
  name: string,
  columns: readonly Column<Row>[],
  chunks: AsyncIterable<Row[]>,
): Reply {
  const { query, accept, nowMs } = context;
  const format = query.format ?? (accept(['text/csv', XLSX]) === XLSX ? 'xlsx' : 'csv');
  const day = new Date(nowMs).toISOString().slice(0, 10);
  const headers = { 'Content-Disposition': `attachment; filename="${name.toLowerCase()}-${day}.${format}"` };
  const stream =
    format === 'xlsx'
      ? { contentType: XLSX, chunks: xlsxFile(name, columns, chunks) }
      : { contentType: 'text/csv; charset=utf-8; header=present', chunks: csvFile(columns, chunks) };
  return { status: 200, headers, stream };
}

export async function writeStock(context: Context<typeof exportStock>): Promise<Reply> {
  const filter = await filterOf(context, context.query);
  return replyOf(context, 'Stock', STOCK_COLUMNS, readStockRows(context.tx, context.scope, filter));
}

export async function writeLots(context: Context<typeof exportLots>): Promise<Reply> {
  const filter = await filterOf(context, context.query);
  return replyOf(context, 'Lots', LOT_COLUMNS, readLotRows(context.tx, context.scope, filter));
}

export async function writeReceipts(context: Context<typeof exportReceipts>): Promise<Reply> {
  const filter = await filterOf(context, context.query);
  return replyOf(context, 'Receipts', RECEIPT_COLUMNS, readReceiptRows(context.tx, context.scope, filter));
}
