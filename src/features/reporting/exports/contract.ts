/** Reports as files that are made in the background, because they are long. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { factId, instant, month, pageQuery, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const tag = 'reporting';

/** How long a file is kept: common practice for files that can be made again. */
export const KEPT_DAYS = 30;

const EXPORT_FORMATS = ['json', 'csv', 'xlsx', 'html', 'pdf'] as const;

const ReportExport = z
  .object({
    exportId: uuid,
    report: z.enum(['waste-and-yield', 'lines']),
    month,
    throughMonth: month,
    siteIds: z.array(uuid).nullable().meta({ description: 'null: the whole group, with what is on the road' }),
    format: z.enum(EXPORT_FORMATS),
    state: z.enum(['waiting', 'making', 'ready', 'failed', 'trimmed']).meta({
      description: `failed: three tries broke off; ask for it anew. trimmed: its file was deleted after ${KEPT_DAYS} days`,
    }),
    progress: z.object({
      done: z.int(),
      of: z.int().nullable().meta({ description: 'null as long as it is not counted' }),
      unit: z.enum(['lines', 'files']),
    }),
    cut: z.object({
      seq: z.int(),
      moneyNo: z.int(),
      recordedAt: instant
        .nullable()
        .meta({ description: 'What was recorded by then is in it, also when it is made later' }),
    }),
    file: z
      .object({
        contentType: z.string(),
        bytes: z.int(),
        sha256: z.string().regex(/^[0-9a-f]{64}$/),
        href: z.string(),
        keptUntil: instant,
      })
      .nullable(),
    failure: z.string().nullable(),
    askedBy: uuid,
    askedAt: instant,
    doneAt: instant.nullable(),
  })
  .meta({ id: 'ReportExport' });
export type ReportExportAnswer = z.output<typeof ReportExport>;

const exportParams = z.strictObject({ exportId: uuid });

export const createReportExport = defineOperation({
  id: 'createReportExport',
  method: 'post',
  path: '/v1/report-exports',
  tag,
  summary: 'Have a report, or the ledger lines behind it, made as a file',
  description:
    'It is made in the background, of everything recorded by now (or by recordedAt), however long it takes; read it to see how far it is. ' +
    `Lines come as csv or json (one object a line); xlsx of the report has a sheet of them. A file is kept for ${KEPT_DAYS} days.`,
  permission: 'report-exports.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      report: z.enum(['waste-and-yield', 'lines']),
      month,
      throughMonth: month.optional(),
      site: z
        .string()
        .regex(/^[A-Za-z0-9._-]{1,36}(,[A-Za-z0-9._-]{1,36}){0,49}$/, 'codes or ids of sites, with commas')
        .optional()
        .meta({ description: 'Codes or ids of up to 50 sites, with commas; left out: the whole group', example: 'CK' }),
      recordedAt: instant.optional(),
      format: z.enum(EXPORT_FORMATS),
    })
    .meta({ id: 'NewReportExport' }),
  answers: { 201: { description: 'It will be made', schema: ReportExport, headers: ['Location'] } },
  errors: ['not-found', 'rule-broken', 'period-too-long'],
  example: {
    status: 201,
    role: 'finance',
    body: {
      id: exampleId('new/report-export'),
      report: 'lines',
      month: '2026-11',
      site: 'CK',
      format: 'csv',
    },
  },
});

export const listReportExports = defineOperation({
  id: 'listReportExports',
  method: 'get',
  path: '/v1/report-exports',
  tag,
  summary: 'Exports, the newest first',
  permission: 'report-exports.write',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery }),
  answers: { 200: { description: 'A page', schema: pageSchema(ReportExport), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200, role: 'finance', query: { limit: '20' } },
});

export const getReportExport = defineOperation({
  id: 'getReportExport',
  method: 'get',
  path: '/v1/report-exports/{exportId}',
  tag,
  summary: 'How far an export is',
  description: 'Ask again every second or so until the state is ready.',
  permission: 'report-exports.write',
  naming: 'none',
  mode: 'read',
  params: exportParams,
  answers: { 200: { description: 'The export', schema: ReportExport } },
  errors: ['not-found'],
  example: { status: 200, role: 'finance', params: { exportId: exampleId('report-export/first') } },
});

const shapes = [
  ['application/json', z.unknown()],
  ['text/csv', null],
  ['application/x-ndjson', null],
  ['application/vnd.openxmlformats-officedocument.spreadsheetml.sheet', null],
  ['text/html', null],
  ['application/pdf', null],
] as const;

export const getReportExportFile = defineOperation({
  id: 'getReportExportFile',
  method: 'get',
  path: '/v1/report-exports/{exportId}/file',
  tag,
  summary: 'The file of an export',
  description: 'The ETag is its SHA-256. Files are sent whole: byte ranges are not taken.',
  permission: 'report-exports.write',
  naming: 'none',
  mode: 'read',
  params: exportParams,
  answers: {
    200: shapes.map(([contentType, schema]) => ({
      description: 'The file',
      contentType,
      headers: ['ETag'] as const,
      ...(schema && { schema }),
    })),
  },
  errors: ['not-found', 'wrong-state'],
  example: { status: 200, role: 'finance', params: { exportId: exampleId('report-export/first') } },
});
