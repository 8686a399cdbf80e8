/** An export as it is answered, and what its file is called. */
import { utc } from '../../../domain/time.ts';
import { CONTENT_TYPES } from '../closes/shapes.ts';
import { KEPT_DAYS, type ReportExportAnswer } from './contract.ts';
import type { ExportRow } from './store.ts';

const DAY_MS = 86_400_000;

/** Lines in JSON are one object a line, so that they can be read before they are all there. */
export const contentTypeOf = ({ report, format }: Pick<ExportRow, 'report' | 'format'>): string =>
  report === 'lines' && format === 'json' ? 'application/x-ndjson' : CONTENT_TYPES[format];

/** True where the file holds ledger lines; the others are as long as there are items. */
export const hasLines = ({ report, format }: Pick<ExportRow, 'report' | 'format'>): boolean =>
  report === 'lines' || format === 'xlsx';

export function fileNameOf(row: ExportRow): string {
  const period = row.month === row.throughMonth ? row.month : `${row.month}-to-${row.throughMonth}`;
  const ending = contentTypeOf(row) === 'application/x-ndjson' ? 'ndjson' : row.format;
  return `${row.report}-${period}.${ending}`;
}

export function exportAnswer(row: ExportRow): ReportExportAnswer {
  const { exportId, bytes, sha256, doneAt } = row;
  const file =
    row.state !== 'ready' || bytes === null || sha256 === null || doneAt === null
      ? null
      : {
          contentType: contentTypeOf(row),
          bytes,
          sha256: sha256.toString('hex'),
          href: `/v1/report-exports/${exportId}/file`,
          keptUntil: utc(doneAt.getTime() + KEPT_DAYS * DAY_MS),
        };
  const progress = hasLines(row)
    ? { done: row.rowsDone, of: row.rowsOf, unit: 'lines' as const }
    : { done: doneAt === null ? 0 : 1, of: 1, unit: 'files' as const };
  return {
    exportId,
    report: row.report,
    month: row.month,
    throughMonth: row.throughMonth,
    siteIds: row.siteIds === null ? null : [...row.siteIds],
    format: row.format,
    state: row.state,
    progress,
    cut: {
      seq: row.cutSeq,
      moneyNo: row.cutMoneyNo,
      recordedAt: row.cutRecordedAtMs === 0 ? null : utc(row.cutRecordedAtMs),
    },
    file,
    failure: row.failure,
    askedBy: row.askedBy,
    askedAt: utc(row.askedAt.getTime()),
    doneAt: doneAt === null ? null : utc(doneAt.getTime()),
  };
}
