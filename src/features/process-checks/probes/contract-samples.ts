/** The register of samples: what was set aside, until when, and what became of it. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { date, instant, lotCode, pageQuery, quantityOrZero, unit, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const state = z.enum(['kept', 'disposed']);

const RetainedSample = z
  .object({
    conversionId: uuid,
    siteId: uuid.meta({ description: 'Where it was taken' }),
    sampleFor: z.enum(['retained', 'laboratory']),
    lotId: uuid,
    code: lotCode,
    itemName: z.string(),
    quantity: quantityOrZero.meta({ description: 'As taken' }),
    unit,
    of: z.object({ lotId: uuid, code: lotCode, batchId: uuid.nullable(), batchCode: z.string().nullable() }),
    takenAt: instant,
    takenBy: z.object({ id: uuid, name: z.string().nullable() }),
    disposeAfter: date.nullable().meta({ description: 'The last day that it is kept' }),
    daysAssumed: z.boolean().meta({ description: 'Nobody said how long: as many days as are usual' }),
    state,
    overdue: z.boolean().meta({ description: 'Kept past that day' }),
    where: z.array(
      z.object({
        siteId: uuid,
        placeId: uuid.nullable(),
        placeName: z.string().nullable(),
        dispatchId: uuid.nullable().meta({ description: 'On the road with this dispatch' }),
        quantity: quantityOrZero,
      }),
    ),
    disposed: z
      .object({
        at: instant,
        on: date.meta({ description: "The site's day" }),
        by: z.object({ id: uuid, name: z.string().nullable() }),
        how: z.string().meta({ description: 'The entry that took the last of it: discard, use, batch-input …' }),
        reason: z.string().nullable(),
        tooEarly: z.boolean().meta({ description: 'Before the last day that it was to be kept' }),
      })
      .nullable(),
  })
  .meta({ id: 'RetainedSample' });

export const listRetainedSamples = defineOperation({
  id: 'listRetainedSamples',
  method: 'get',
  path: '/v1/retained-samples',
  tag: 'process-checks',
  summary: 'Samples that were set aside, those to be disposed of first',
  description:
    'Samples are taken as conversions of kind sample and disposed of as discards; this is the register of both. A sample whose conversion was ' +
    'undone is not in it.',
  permission: 'process-checks.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...pageQuery,
    siteId: uuid.optional(),
    state: state.optional(),
    dueBefore: date.optional().meta({ description: 'Only those whose last day lies before this day' }),
  }),
  answers: { 200: { description: 'A page', schema: pageSchema(RetainedSample), headers: ['Link'] } },
  errors: ['bad-cursor', 'rule-broken'],
  example: { status: 200, query: { siteId: exampleId('site/ck'), state: 'kept' } },
});
