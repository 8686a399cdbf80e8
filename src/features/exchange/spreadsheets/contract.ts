/** Stock, lots and receipts as spreadsheets for other systems. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { date, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

export const XLSX = 'application/vnd.openxmlformats-officedocument.spreadsheetml.sheet';
const tag = 'exchange';

const siteId = uuid.optional().meta({ description: 'Only this site; all of yours if left out' });
const format = z
  .enum(['csv', 'xlsx'])
  .optional()
  .meta({ description: 'As Accept says if left out; csv if it does not' });
const period = {
  siteId,
  from: date.optional().meta({ description: "First day, by the site's date" }),
  to: date.optional().meta({ description: 'Last day' }),
  format,
};

const answers = {
  200: [
    {
      description:
        'RFC 4180: a heading, CRLF at the end of each row, UTF-8. Texts that a spreadsheet would run begin with an apostrophe',
      contentType: 'text/csv',
    },
    { description: 'A workbook of one sheet', contentType: XLSX },
  ],
} as const;

const ABOUT =
  'Sent row by row while it is read, so it may have any length. Dates are ISO 8601, times UTC. Quantities are numbers with their unit ' +
  'beside them. Article numbers, location numbers and codes are texts, so that their leading zeros stay.';

export const exportStock = defineOperation({
  id: 'exportStock',
  method: 'get',
  path: '/v1/exports/stock',
  tag,
  summary: 'What is on hand now, as a spreadsheet: one row for a lot and a place',
  description: `Use-by is the one in force there; where that has a time, "Use by" is the last whole day before it; holds are those that stand. ${ABOUT}`,
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ siteId, format }),
  answers,
  errors: ['not-found'],
  example: { status: 200, query: { siteId: exampleId('site/w3'), format: 'csv' } },
});

export const exportLots = defineOperation({
  id: 'exportLots',
  method: 'get',
  path: '/v1/exports/lots',
  tag,
  summary: 'Lots, as a spreadsheet: what was made or taken in on these days',
  description: `Where the use-by in force has a time, its date is the last whole day before it. A site names the lots that were made or taken in there. ${ABOUT}`,
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject(period),
  answers,
  errors: ['not-found', 'rule-broken'],
  example: { status: 200, query: { from: '2026-11-24', to: '2026-11-25', format: 'csv' } },
});

export const exportReceipts = defineOperation({
  id: 'exportReceipts',
  method: 'get',
  path: '/v1/exports/receipts',
  tag,
  summary:
    'What came in on these days, as a spreadsheet: from suppliers and from sites, one row for a lot of a delivery',
  description: `Deliveries, dispatches received by list or by scan, and opening stock; what was undone is left out. ${ABOUT}`,
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject(period),
  answers,
  errors: ['not-found', 'rule-broken'],
  example: { status: 200, query: { from: '2026-11-24', to: '2026-11-25', format: 'csv' } },
});
