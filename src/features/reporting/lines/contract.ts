/** The ledger lines behind the numbers of a month. */
import { z } from 'zod';
import { LINES } from '../../../domain/month/lines.ts';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { date, instant, line, month, pageQuery, signedQuantity, unit, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { monthQuery } from '../contract.ts';

const material = z.enum(['food', 'inedible-parts']);
const Exact = z.object({
  numerator: z.string().regex(/^-?\d+$/),
  denominator: z.string().regex(/^\d+$/),
});

const ReportLine = z
  .object({
    seq: z.int(),
    lineNo: z.int(),
    entryId: uuid,
    occurredOn: date.meta({ description: "The site's date" }),
    recordedAt: instant,
    siteId: uuid.nullable().meta({ description: 'The site that it came to or left; null: the road' }),
    siteName: z.string(),
    itemId: uuid,
    itemCode: z.string(),
    itemName: z.string(),
    lotId: uuid,
    lotCode: z.string(),
    line: z.enum(LINES),
    reason: z.string().nullable(),
    destination: z.string().nullable(),
    material: material.nullable(),
    quantity: signedQuantity.meta({
      description:
        'As it counts on its line; a reversal below zero. On opening and closing: what came above zero, what went below',
    }),
    unit,
    grams: z.number().meta({ description: 'To the milligram' }),
    valueMinor: z.number().meta({ description: 'Minor units, cut off after six decimals' }),
    lateMonth: month.nullable().meta({ description: 'The closed month in which it happened, when it came late' }),
  })
  .meta({ id: 'ReportLine', description: 'One posting, on the line on which the report counts it' });

export const listReportLines = defineOperation({
  id: 'listReportLines',
  method: 'get',
  path: '/v1/reports/waste-and-yield/lines',
  tag: 'reporting',
  summary: 'The ledger lines behind a number of the month, and what they come to',
  description:
    'Same months, sites and cut as the report. sum is over all lines of the filter, not only of this page: quantity exactly, grams and ' +
    'valueMinor as the report prints them for an item and line or a row of waste, else rounded by themselves; exactGrams and exactMinor ' +
    'unrounded, which is what the lines themselves add up to. The money of an opening is at what lots cost now; what that differs from ' +
    'the closing before is the revalued of the report.',
  permission: 'reports.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...monthQuery,
    ...pageQuery,
    itemId: uuid.optional(),
    line: z.enum(LINES).optional().meta({ description: 'Left out: all that moved' }),
    at: z
      .string()
      .regex(/^([0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}|road)$/, 'the id of a site, or road')
      .optional()
      .meta({ description: 'Where it came in or went out; the sites of the report stay as they are' }),
    reason: line(200).optional(),
    destination: line(40).optional().meta({ description: 'not-said: none' }),
    material: material.optional().meta({ description: 'food: also where nothing was said' }),
    lateMonth: month.optional().meta({ description: 'Only what happened in this closed month and came late' }),
    lateKind: z.enum(['recorded-late', 'undone']).optional(),
    cut: z
      .string()
      .regex(/^\d{1,15}-\d{1,15}$/, 'two numbers, as in a link of the report')
      .optional()
      .meta({ description: 'In place of recordedAt: cut.seq and cut.moneyNo of a report' }),
  }),
  answers: {
    200: {
      description: 'In the order in which they were recorded',
      schema: pageSchema(ReportLine).extend({
        sum: z.object({
          quantity: signedQuantity.nullable().meta({ description: 'null: items of several units' }),
          grams: z.int(),
          valueMinor: z.int(),
          exactGrams: Exact,
          exactMinor: Exact,
        }),
      }),
      headers: ['Link'],
    },
  },
  errors: ['bad-cursor', 'not-found', 'period-too-long', 'rule-broken'],
  example: { status: 200, query: { month: '2026-11', siteId: exampleId('site/ck'), line: 'wasted', limit: '20' } },
});
