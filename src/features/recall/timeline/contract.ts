/** What happened in a case, in the order in which it was recorded. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { instant, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { recallParams } from '../shapes.ts';

export const getRecallTimeline = defineOperation({
  id: 'getRecallTimeline',
  method: 'get',
  path: '/v1/recalls/{recallId}/timeline',
  tag: 'recall',
  summary: 'Tell what happened in a case, oldest first',
  description:
    'Nothing in a case is edited, so this is all that was ever said in it. Up to 2,000 events; more says that there are more.',
  permission: 'recalls.read',
  naming: 'none',
  mode: 'read',
  params: recallParams,
  answers: {
    200: {
      description: 'The timeline',
      schema: z
        .object({
          recallId: uuid,
          events: z.array(
            z
              .object({
                at: instant.meta({ description: 'When it happened, as was said' }),
                recordedAt: instant,
                kind: z.enum([
                  'opened',
                  'revision',
                  'statement',
                  'notice',
                  'acknowledgement',
                  'response',
                  'check',
                  'closed',
                  'reopened',
                  'exception',
                ]),
                siteId: uuid.nullable(),
                siteName: z.string().nullable(),
                who: z.string().nullable(),
                text: z.string(),
                factId: uuid.nullable(),
              })
              .meta({ id: 'RecallEvent' }),
          ),
          more: z.boolean(),
        })
        .meta({ id: 'RecallTimeline' }),
    },
  },
  errors: ['not-found'],
  example: { status: 200, params: { recallId: exampleId('recall/parsley') } },
});
