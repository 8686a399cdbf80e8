/** Closing a month, what it left, and its files. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageQuery, factId, month, text, uuid } from '../../../platform/http/scalars.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { exampleId } from '../../../platform/ids.ts';
import { acceptedCheck, CHECKS, CONTENT_TYPES, FILE_KINDS, MonthChecks, MonthClose } from './shapes.ts';

const tag = 'reporting';
const closeParams = z.strictObject({ closeId: uuid });

export const getMonthChecks = defineOperation({
  id: 'getMonthChecks',
  method: 'get',
  path: '/v1/months/{month}/checks',
  tag,
  summary: 'What stands in the way of closing a month, with enough to act on',
  description:
    'Batches begun and not completed, dispatches on the road, food that left and was never booked in, lots without a price: each blocks until ' +
    'it is settled, or accepted by name with a reason when the month is closed. What counts found missing or over, and food that nobody saw ' +
    'put away, is shown and does not block: it stands in a line of its own in the report.',
  permission: 'months.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ month }),
  answers: { 200: { description: 'The checks', schema: MonthChecks } },
  errors: [],
  example: { status: 200, role: 'finance', params: { month: '2026-10' } },
});

export const createMonthClose = defineOperation({
  id: 'createMonthClose',
  method: 'post',
  path: '/v1/month-closes',
  tag,
  summary: 'Close a month: its figures stay as they are now, for ever',
  description:
    'Freezes everything recorded so far. What is told later about the month goes to the oldest open month, shown apart as late. Months are ' +
    'closed one after the other; the first close closes everything before it as well. The report, its signature and its files are made ' +
    'right after, in steps that are kept: read the close to see how far they are.',
  permission: 'months.close',
  naming: 'fact',
  mode: 'exclusive',
  body: z
    .strictObject({
      id: factId,
      month,
      accept: z
        .array(acceptedCheck)
        .max(CHECKS.length)
        .optional()
        .meta({ description: 'Checks that block and are accepted all the same; what does not block is not kept' }),
      note: text(2000).optional(),
    })
    .meta({ id: 'NewMonthClose' }),
  answers: { 201: { description: 'Closed; its files are being made', schema: MonthClose, headers: ['Location'] } },
  errors: ['month-not-ended', 'month-closed', 'month-not-oldest', 'checks-open', 'rule-broken'],
  example: {
    status: 201,
    role: 'finance',
    body: {
      id: exampleId('new/month-close'),
      month: '2026-10',
      accept: [{ check: 'uncosted-lots', reason: 'The invoice of the greengrocer is still to come' }],
      note: 'Closed with the managers on the 25th',
    },
  },
});

export const listMonthCloses = defineOperation({
  id: 'listMonthCloses',
  method: 'get',
  path: '/v1/month-closes',
  tag,
  summary: 'All closes, the last one first, reopened ones too',
  permission: 'months.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery }),
  answers: { 200: { description: 'A page', schema: pageSchema(MonthClose), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200, role: 'finance', query: { limit: '20' } },
});

export const getMonthClose = defineOperation({
  id: 'getMonthClose',
  method: 'get',
  path: '/v1/month-closes/{closeId}',
  tag,
  summary: 'A close: how far its files are, its signature, what was accepted',
  description: 'Ask again every second or so while the state is making.',
  permission: 'months.read',
  naming: 'none',
  mode: 'read',
  params: closeParams,
  answers: { 200: { description: 'The close', schema: MonthClose } },
  errors: ['not-found'],
  example: { status: 200, role: 'finance', params: { closeId: exampleId('month-close/september') } },
});

export const getMonthCloseFile = defineOperation({
  id: 'getMonthCloseFile',
  method: 'get',
  path: '/v1/month-closes/{closeId}/files/{kind}',
  tag,
  summary: 'A file of a close, byte for byte as it was stored',
  description:
    'The ETag is its SHA-256. json is the report in its RFC 8785 form: what the signature covers. Files of a reopened close stay as they are. ' +
    'Files are sent whole: byte ranges are not taken.',
  permission: 'months.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ closeId: uuid, kind: z.enum(FILE_KINDS) }),
  answers: {
    200: FILE_KINDS.map((kind) => ({
      description: 'The file',
      contentType: CONTENT_TYPES[kind].split(';')[0] ?? '',
      headers: ['ETag'] as const,
      ...(kind === 'json' && { schema: z.unknown() }),
    })),
  },
  errors: ['not-found', 'wrong-state'],
  example: { status: 200, role: 'finance', params: { closeId: exampleId('month-close/september'), kind: 'csv' } },
});
