/**
 * Asking for exports and reading them. Refusals: `not-found` (a site, the export), `rule-broken` (no site named by those who act at some
 * only, a period the wrong way round or not begun, a moment ahead of now, a format that lines do not come in), `period-too-long`,
 * `wrong-state` (a file that is not there).
 */
import { notFound, Refused } from '../../../domain/errors.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { wakeJob } from '../../../platform/jobs.ts';
import { askedMonths } from '../asked.ts';
import { readPieces } from '../pieces.ts';
import { contentTypeOf, exportAnswer, fileNameOf } from './answer.ts';
import type { createReportExport, getReportExport, getReportExportFile, listReportExports } from './contract.ts';
import { EXPORT_JOB } from './names.ts';
import * as store from './store.ts';

export async function askForExport(context: Context<typeof createReportExport>): Promise<Reply> {
  const { tx, scope, body, factId, nowMs, actor } = context;
  const { report, format } = body;
  if (report === 'lines' && !['csv', 'json'].includes(format)) {
    const detail = 'Lines come as csv or json; xlsx of the report has a sheet of them.';
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/format' }] });
  }
  const { month, throughMonth, siteIds, cut } = await askedMonths(context, body, '#');
  // From here on only success.
  const row = {
    exportId: factId,
    report,
    month,
    throughMonth,
    siteIds,
    cutSeq: cut.seq,
    cutMoneyNo: cut.moneyNo,
    cutRecordedAtMs: cut.recordedAtMs,
    format,
    askedBy: actor.actorId,
  };
  await store.insertExport(tx, row, nowMs);
  const asked = await store.findExport(tx, scope, factId);
  if (!asked) throw new Error('the export is not there');
  await wakeJob(tx, EXPORT_JOB);
  const headers = { Location: `/v1/report-exports/${factId}` };
  return { status: 201, body: exportAnswer(asked), siteId: onlySite(siteIds), headers };
}

/** A fact belongs to one site or to the group. */
const onlySite = (siteIds: readonly string[] | null): string | null =>
  siteIds?.length === 1 ? (siteIds[0] ?? null) : null;

export async function readExports({ tx, scope, query, path }: Context<typeof listReportExports>): Promise<Reply> {
  const page = pageOf(query, ['time', 'uuid']);
  const rows = (await store.listExports(tx, scope, page)).map(exportAnswer);
  return pageReply(path, query, page, rows, ({ askedAt, exportId }) => [askedAt, exportId]);
}

export async function readExport({ tx, scope, params }: Context<typeof getReportExport>): Promise<Reply> {
  const row = await store.findExport(tx, scope, params.exportId);
  if (!row) throw notFound('export');
  return { status: 200, body: exportAnswer(row) };
}

export async function readExportFile({ tx, scope, params }: Context<typeof getReportExportFile>): Promise<Reply> {
  const row = await store.findExport(tx, scope, params.exportId);
  if (!row) throw notFound('export');
  const { exportId, state, bytes, sha256 } = row;
  if (state !== 'ready' || sha256 === null) {
    const why = { trimmed: 'Its file was deleted; ask for it anew.', failed: 'It could not be made; ask for it anew.' };
    throw new Refused('wrong-state', state === 'trimmed' || state === 'failed' ? why[state] : 'It is not made yet.');
  }
  return {
    status: 200,
    stream: {
      contentType: contentTypeOf(row),
      chunks: readPieces((pieceNo) => store.findPiece(tx, exportId, pieceNo)),
    },
    headers: {
      ETag: `"${sha256.toString('hex')}"`,
      'Content-Length': String(bytes),
      'Content-Disposition': `attachment; filename="${fileNameOf(row)}"`,
    },
  };
}
