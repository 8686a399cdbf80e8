/** What a case reaches, and how that came about: lots with their reasons, revisions, exceptions. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { pageSchema } from '../../platform/http/paging.ts';
import {
  instant,
  lotCode,
  pageQuery,
  quantity,
  quantityOrZero,
  signedQuantity,
  unit,
  uuid,
} from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { Where } from '../tracing/index.ts';
import { LotBrief, recallParams } from './shapes.ts';

const tag = 'recall';
const params = { recallId: exampleId('recall/parsley') };

const ReasonStep = z
  .object({
    lotId: uuid,
    lotCode,
    via: z.enum(['start', 'batch', 'packing-run', 'conversion']),
    processId: uuid.nullable(),
    processCode: z
      .string()
      .nullable()
      .meta({ description: 'The batch, as people call it; of a conversion what was done: open, thaw ...' }),
  })
  .meta({ id: 'RecallReasonStep' });

const RecallLot = LotBrief.extend({
  revision: z.int().meta({ description: 'With which it came into scope' }),
  reasonPath: z.array(ReasonStep).meta({
    description:
      'From a starting point to this lot; how one step was made from the one before it. One of the ways there are',
  }),
  quantities: z.object({
    produced: signedQuantity,
    onHand: signedQuantity,
    inTransit: signedQuantity,
    served: signedQuantity,
    wasted: signedQuantity,
    returned: signedQuantity.meta({ description: 'To the supplier' }),
    consumed: signedQuantity.meta({ description: 'Put into other lots' }),
    unexplained: signedQuantity.meta({ description: 'Found missing by counts; below zero when found over' }),
    balanced: z.boolean().meta({ description: 'The other quantities sum to produced' }),
  }),
  where: z.array(Where),
}).meta({ id: 'RecallLot' });

export const listRecallLots = defineOperation({
  id: 'listRecallLots',
  method: 'get',
  path: '/v1/recalls/{recallId}/lots',
  tag,
  summary: 'List the lots of a case, each with why it is in and where it is',
  permission: 'recalls.read',
  naming: 'none',
  mode: 'read',
  params: recallParams,
  query: z.strictObject({
    ...pageQuery,
    siteId: uuid.optional().meta({ description: 'Lots that this site has or had, or that are on the road to it' }),
  }),
  answers: { 200: { description: 'Lots in scope', schema: pageSchema(RecallLot), headers: ['Link'] } },
  errors: ['not-found', 'bad-cursor'],
  example: { status: 200, params, query: { limit: '20' } },
});

export const listRecallRevisions = defineOperation({
  id: 'listRecallRevisions',
  method: 'get',
  path: '/v1/recalls/{recallId}/revisions',
  tag,
  summary: 'What was added to the scope of a case, when, and by which fact',
  description: 'A scope only grows: a hold is never lifted because a link was undone.',
  permission: 'recalls.read',
  naming: 'none',
  mode: 'read',
  params: recallParams,
  answers: {
    200: {
      description: 'Revisions, the opening first',
      schema: z
        .object({
          revisions: z.array(
            z.object({
              revision: z.int(),
              at: instant,
              factId: uuid.nullable(),
              operation: z.string().nullable().meta({ description: 'That recorded the fact' }),
              actorName: z.string().nullable(),
              addedLotCount: quantity,
              addedLots: z.array(LotBrief).meta({ description: 'The first 50' }),
              whyText: z.string(),
            }),
          ),
        })
        .meta({ id: 'RecallRevisions' }),
    },
  },
  errors: ['not-found'],
  example: { status: 200, params },
});

const RecallException = z
  .object({
    seq: z.int().meta({ description: 'Of the entry, in the order of recording' }),
    entryId: uuid,
    factId: uuid,
    kind: z.enum(['use', 'departure', 'batch-input', 'packing', 'conversion']),
    lotId: uuid,
    lotCode,
    siteId: uuid,
    siteName: z.string(),
    quantity: quantityOrZero,
    unit,
    occurredAt: instant,
    recordedAt: instant,
    actorId: uuid,
    whyText: z.string(),
  })
  .meta({ id: 'RecallException' });

export const listRecallExceptions = defineOperation({
  id: 'listRecallExceptions',
  method: 'get',
  path: '/v1/recalls/{recallId}/exceptions',
  tag,
  summary: 'What happened to food in scope although it was on hold',
  description:
    'Uses, departures (not for return or destruction), and what was made of it, at or after the moment at which the lot came under the ' +
    'hold, as far as it was not undone. The hold of a drill stands against nothing, so a drill has none.',
  permission: 'recalls.read',
  naming: 'none',
  mode: 'read',
  params: recallParams,
  query: z.strictObject({ ...pageQuery }),
  answers: {
    200: { description: 'In the order of recording', schema: pageSchema(RecallException), headers: ['Link'] },
  },
  errors: ['not-found', 'bad-cursor'],
  example: { status: 200, params },
});
