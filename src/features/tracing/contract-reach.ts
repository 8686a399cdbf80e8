/** Where everything is that a lot became, or was made from: sums, without the lots themselves. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { instant, quantity, signedQuantity, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { lotParams } from '../ledger/index.ts';
import { direction, Quantities, recordedAt, Totals } from './contract.ts';

const Reach = z
  .object({
    startLotId: uuid,
    direction,
    recordedAt: instant.nullable().meta({ description: 'The moment that was asked for; null: now' }),
    lotCount: quantity.meta({ description: 'The lot itself is one of them' }),
    totals: z.array(Totals),
    sites: z
      .array(
        z.object({
          siteId: uuid,
          siteName: z.string(),
          quantities: z
            .array(Quantities)
            .meta({ description: 'What is on the road is shown at the site that it is going to' }),
          where: z
            .array(
              z.object({
                itemId: uuid,
                kind: z.enum(['place', 'transit']),
                placeId: uuid.nullable(),
                placeName: z.string().nullable(),
                dispatchId: uuid.nullable().meta({ description: 'On the road to this site' }),
                fromSiteId: uuid.nullable(),
                quantity: signedQuantity,
              }),
            )
            .meta({ description: 'What can still be stopped: on hand by place, on the road by dispatch' }),
        }),
      )
      .meta({
        description: 'Sites where any of it is, ended or is missing; where it only passed through, the trace says',
      }),
  })
  .meta({ id: 'LotReach' });

export const getLotReach = defineOperation({
  id: 'getLotReach',
  method: 'get',
  path: '/v1/lots/{lotId}/reach',
  tag: 'tracing',
  summary:
    'Where everything is that was made from a lot, or that went into it: quantities by item, site, place and dispatch',
  description:
    'The sums of a trace without its lots, for up to 200,000 lots. Of each item, what is on hand, on the road, served, wasted, returned to ' +
    'the supplier, put into other lots or unexplained sums to what was produced, exactly. With recordedAt it is what was recorded by ' +
    'that moment; names are today’s.',
  permission: 'trace.read',
  naming: 'none',
  mode: 'read',
  params: lotParams,
  query: z.strictObject({
    direction: direction.optional().meta({ description: 'forward if left out' }),
    recordedAt,
  }),
  answers: { 200: { description: 'Where everything is', schema: Reach } },
  errors: ['not-found', 'rule-broken', 'trace-too-large'],
  example: { status: 200, params: { lotId: exampleId('lot/carrots-1') }, query: { direction: 'forward' } },
});

export type ReachAnswer = z.output<typeof Reach>;
