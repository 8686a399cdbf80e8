/** The month's report as a file: which format is meant, and its reply. */
import type { Context, Reply } from '../../platform/http/contract.ts';
import { FORMATS, TYPES, type Format } from './formats.ts';
import type { MonthReportAnswer } from './month/index.ts';
import { reportCsv, reportHtml, reportPdf, reportXlsx, type BookLine } from './pages/index.ts';

/** The page needs its own style and nothing else; it can send nothing anywhere and cannot be framed elsewhere. */
const PAGE_POLICY =
  "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'self'";

/** What was asked for by name, else what Accept prefers. */
export function formatOf({ accept }: Pick<Context, 'accept'>, asked: Format | undefined): Format {
  if (asked !== undefined) return asked;
  const wanted = accept(Object.values(TYPES));
  return FORMATS.find((format) => TYPES[format] === wanted) ?? 'json';
}

/**
 * @param name of the file, without its ending
 * @param lines read while the workbook is sent; asked for by that format alone
 */
export async function fileReply(
  format: Format,
  report: MonthReportAnswer,
  name: string,
  lines: () => AsyncIterable<BookLine>,
): Promise<Reply> {
  if (format === 'json') return { status: 200, body: report };
  const shown = format === 'html' ? 'inline' : 'attachment';
  const headers = { 'Content-Disposition': `${shown}; filename="${name}.${format}"` };
  switch (format) {
    case 'csv': {
      const raw = { contentType: 'text/csv; charset=utf-8; header=present', data: reportCsv(report) };
      return { status: 200, headers, raw };
    }
    case 'xlsx':
      return { status: 200, headers, stream: { contentType: TYPES.xlsx, chunks: reportXlsx(report, lines()) } };
    case 'html': {
      const raw = { contentType: 'text/html; charset=utf-8', data: reportHtml(report) };
      return { status: 200, headers: { ...headers, 'Content-Security-Policy': PAGE_POLICY }, raw };
    }
    case 'pdf':
      return { status: 200, headers, raw: { contentType: TYPES.pdf, data: await reportPdf(report) } };
  }
}
