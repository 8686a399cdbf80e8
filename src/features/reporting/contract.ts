/** The month: waste and yield. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { instant, month, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { FORMATS, XLSX } from './formats.ts';
import { MonthReport } from './month/shapes.ts';

/** What every question about months can say. */
export const monthQuery = {
  month,
  throughMonth: month.optional().meta({ description: 'The last of several months, at most 12 in all' }),
  site: z
    .string()
    .min(1)
    .max(2000)
    .regex(/^[A-Za-z0-9][A-Za-z0-9._-]*(,[A-Za-z0-9][A-Za-z0-9._-]*)*$/, 'ids or codes of sites, with commas between')
    .optional()
    .meta({ description: 'Ids or codes of sites, with commas between. Needed unless you may read the whole group' }),
  siteId: uuid.optional().meta({ description: 'One site; the same as site' }),
  recordedAt: instant.optional().meta({
    description: 'As it was recorded at this moment; now if left out, and for a closed month as it was closed',
  }),
  restated: z
    .enum(['true', 'false'])
    .optional()
    .meta({ description: 'true: every fact in the month in which it happened, also when that was closed by then' }),
};

export const getWasteAndYield = defineOperation({
  id: 'getWasteAndYield',
  method: 'get',
  path: '/v1/reports/waste-and-yield',
  tag: 'reporting',
  summary: 'What came, went, was wasted and is left in a month, in units, grams and money; and what batches yielded',
  description:
    "A month is the sites' calendar month. For named sites, what is on the road is outside; for the group it is inside. A fact that was " +
    'undone is not counted. Every row adds up exactly in its unit, in whole grams and in minor units of the currency. With format (or ' +
    'Accept) it is a file: csv, one row an item; xlsx, a workbook with every ledger line; html, a page with pictures that stands by itself; pdf, the ' +
    'same to print. The same report gives the same bytes.',
  permission: 'reports.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...monthQuery,
    format: z.enum(FORMATS).optional().meta({ description: 'As Accept says if left out' }),
  }),
  answers: {
    200: [
      { description: 'The report', schema: MonthReport },
      { description: 'One row an item', contentType: 'text/csv' },
      { description: 'A workbook: summary, items, sites, waste, batches, late facts, ledger lines', contentType: XLSX },
      { description: 'A page that needs nothing else', contentType: 'text/html' },
      { description: 'The page as a print, A4', contentType: 'application/pdf' },
    ],
  },
  errors: ['not-found', 'period-too-long', 'rule-broken'],
  example: { status: 200, query: { month: '2026-11', siteId: exampleId('site/ck'), format: 'json' } },
});
