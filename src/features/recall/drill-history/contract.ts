/** Drills so far, for whoever audits: how long each step took, and how much was accounted for. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { instant, pageQuery, uuid } from '../../../platform/http/scalars.ts';
import { Figures } from '../account/contract.ts';

const minutes = z.int().nullable();

export const listRecallDrills = defineOperation({
  id: 'listRecallDrills',
  method: 'get',
  path: '/v1/recall-drills',
  tag: 'recall',
  summary: 'List drills, newest first: times and shares',
  description:
    'Times count from the opening to the first acknowledgement of each site. Figures of a closed drill are those of its closing; of an open one, ' +
    'as it stands now.',
  permission: 'recalls.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject(pageQuery),
  answers: {
    200: {
      description: 'Drills that reach your sites',
      schema: z
        .object({
          drills: z.array(
            z
              .object({
                recallId: uuid,
                code: z.string(),
                title: z.string(),
                openedAt: instant,
                closedAt: instant.nullable(),
                startText: z.string().meta({ description: 'What it began with' }),
                lotCount: z.int(),
                sites: z.int().meta({ description: 'Sites that were told' }),
                scopeMs: z.int().meta({ description: 'To find the scope and place the hold, in milliseconds' }),
                acknowledgements: z.array(z.object({ siteId: uuid, siteName: z.string(), minutes })),
                slowestAcknowledgementMinutes: minutes.meta({ description: 'null while a site has not acknowledged' }),
                answeredShare: Figures.shape.answeredShare,
                accountedShare: Figures.shape.accountedShare,
                minutesToClose: minutes,
              })
              .meta({ id: 'RecallDrill' }),
          ),
          nextCursor: z.string().nullable(),
        })
        .meta({ id: 'RecallDrills' }),
      headers: ['Link'],
    },
  },
  errors: ['bad-cursor'],
  example: { status: 200 },
});
