/** Reading a batch's record, as data, page or print. Refusal: `not-found`. */
import { notFound } from '../../../domain/errors.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { findBatch } from '../store.ts';
import { wholeRecord } from './answer.ts';
import { seriesPictures } from './charts.ts';
import type { getBatchRecord } from './contract.ts';
import { recordHtml } from './html.ts';
import { recordPdf } from './pdf.ts';
import { recordView } from './view.ts';

/** A page of ours runs nothing and loads nothing, wherever it is opened. */
const PAGE_POLICY =
  "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'self'";

const FORMATS = { 'application/json': 'json', 'text/html': 'html', 'application/pdf': 'pdf' } as const;

export async function readRecord(context: Context<typeof getBatchRecord>): Promise<Reply> {
  const { tx, scope, params, query, nowMs } = context;
  const batch = await findBatch(tx, params.batchId);
  if (!batch || !scope.includes(batch.siteId)) throw notFound('batch');
  const { record: body, details } = await wholeRecord(tx, batch, nowMs);
  const wanted = context.accept(Object.keys(FORMATS)) as keyof typeof FORMATS;
  const format = query.format ?? FORMATS[wanted];
  if (format === 'json') return { status: 200, body };
  const view = recordView(body, await seriesPictures(tx, body, details));
  const name = `batch-record-${batch.code}`.replaceAll(/[^A-Za-z0-9._-]/g, '_');
  const headers = { 'Content-Disposition': `inline; filename="${name}.${format}"` };
  if (format === 'pdf') {
    return { status: 200, headers, raw: { contentType: 'application/pdf', data: await recordPdf(view) } };
  }
  return {
    status: 200,
    headers: { ...headers, 'Content-Security-Policy': PAGE_POLICY },
    raw: { contentType: 'text/html; charset=utf-8', data: recordHtml(view) },
  };
}
