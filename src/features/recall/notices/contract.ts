/** Notices: what each site is told of a case, and that somebody there has read it. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import {
  date,
  factId,
  instant,
  line,
  lotCode,
  pageQuery,
  signedQuantity,
  text,
  unit,
  uuid,
} from '../../../platform/http/scalars.ts';
import { derivedId, exampleId } from '../../../platform/ids.ts';

const tag = 'recall';

const NoticeBrief = z.object({
  noticeId: uuid,
  recallId: uuid,
  recallCode: z.string(),
  drill: z.boolean(),
  title: z.string(),
  siteId: uuid,
  siteName: z.string(),
  noticeNo: z.int().meta({ description: 'A later one takes the place of those before it' }),
  sentAt: instant,
  lotCount: z.int().meta({ description: 'Lots of the case that the site has or had' }),
  acknowledgedAt: instant.nullable(),
  acknowledgedBy: z.string().nullable(),
  answered: z.boolean().meta({ description: 'The site has signed an answer since it was sent' }),
});

const Notice = NoticeBrief.extend({
  text: z.string(),
  lots: z
    .array(
      z.object({
        lotId: uuid,
        lotCode,
        itemName: z.string(),
        supplierLotCode: z.string().nullable().meta({ description: "As it stands on the supplier's packaging" }),
        unit,
        useByDate: date.nullable(),
        onHand: signedQuantity,
        inTransit: signedQuantity.meta({ description: 'On the road to the site' }),
        served: signedQuantity,
        places: z.array(z.string()),
      }),
    )
    .meta({ description: 'As it was when the notice was sent; up to 500' }),
}).meta({ id: 'RecallNotice', description: 'What a site was told' });

const noticeParams = z.strictObject({ noticeId: uuid });
const exampleNotice = derivedId(`recall-notice-1-${exampleId('site/w3')}`, exampleId('recall/parsley'));

export const listRecallNotices = defineOperation({
  id: 'listRecallNotices',
  method: 'get',
  path: '/v1/recall-notices',
  tag,
  summary: 'List notices to your sites, newest first',
  permission: 'recall-notices.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...pageQuery,
    siteId: uuid.optional(),
    recallId: uuid.optional(),
    unanswered: z.enum(['true', 'false']).optional(),
  }),
  answers: {
    200: {
      description: 'Notices, without their lots',
      schema: pageSchema(NoticeBrief.meta({ id: 'RecallNoticeBrief' })),
      headers: ['Link'],
    },
  },
  errors: ['bad-cursor'],
  example: { status: 200, query: { siteId: exampleId('site/w3'), unanswered: 'true' } },
});

export const getRecallNotice = defineOperation({
  id: 'getRecallNotice',
  method: 'get',
  path: '/v1/recall-notices/{noticeId}',
  tag,
  summary: 'Read a notice; as JSON, as text, or to print',
  permission: 'recall-notices.read',
  naming: 'none',
  mode: 'read',
  params: noticeParams,
  query: z.strictObject({
    format: z.enum(['json', 'text', 'pdf']).optional().meta({ description: 'As Accept says if left out' }),
  }),
  answers: {
    200: [
      { description: 'The notice', schema: Notice },
      { description: 'The words that were sent', contentType: 'text/plain' },
      { description: 'The same, to hang up', contentType: 'application/pdf' },
    ],
  },
  errors: ['not-found'],
  example: { status: 200, params: { noticeId: exampleNotice }, query: { format: 'json' } },
});

export const acknowledgeRecallNotice = defineOperation({
  id: 'acknowledgeRecallNotice',
  method: 'post',
  path: '/v1/recall-notices/{noticeId}/acknowledgement',
  tag,
  summary: 'Say that a notice was read, and by whom',
  permission: 'recall-answers.write',
  naming: 'fact',
  mode: 'write',
  params: noticeParams,
  body: z
    .strictObject({
      id: factId,
      name: line(100).meta({ description: 'Who has read it' }),
      acknowledgedAt: instant.optional().meta({ description: 'Now, if left out' }),
      note: text(500).optional(),
    })
    .meta({ id: 'NewRecallAcknowledgement' }),
  answers: {
    201: {
      description: 'Acknowledged',
      schema: z
        .object({
          acknowledgementId: uuid,
          noticeId: uuid,
          recallId: uuid,
          siteId: uuid,
          name: z.string(),
          acknowledgedAt: instant,
          recordedAt: instant,
          minutesSinceSent: z.int(),
        })
        .meta({ id: 'RecallAcknowledgement' }),
    },
  },
  errors: ['not-found', 'wrong-state'],
  example: {
    status: 201,
    params: { noticeId: exampleNotice },
    body: { id: exampleId('new/recall-acknowledgement'), name: 'Wren Ashby' },
  },
});
