export { reportCsv } from './csv.ts';
export { reportHtml } from './html.ts';
export type { BookLine } from './lines.ts';
export { reportPdf } from './pdf.ts';
export { reportXlsx } from './xlsx.ts';
