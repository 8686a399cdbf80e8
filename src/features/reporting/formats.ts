/** Formats of the month's report. */
export const XLSX = 'application/vnd.openxmlformats-officedocument.spreadsheetml.sheet';
export const FORMATS = ['json', 'csv', 'xlsx', 'html', 'pdf'] as const;
export type Format = (typeof FORMATS)[number];

export const TYPES: Readonly<Record<Format, string>> = {
  json: 'application/json',
  csv: 'text/csv',
  xlsx: XLSX,
  html: 'text/html',
  pdf: 'application/pdf',
};
