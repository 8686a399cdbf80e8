/** The trace of a lot: what it was made from or what was made from it, and where all of that is. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { instant, lotCode, quantity, signedQuantity, unit, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { HoldBrief, lotParams } from '../ledger/index.ts';

const direction = z.enum(['forward', 'back']);
const integerText = z.string().regex(/^-?\d+$/);

export const Where = z
  .object({
    kind: z.enum(['place', 'transit', 'consumed', 'served', 'waste', 'variance', 'supplier-return']).meta({
      description:
        'variance: what counts found missing (above zero) or found over (below zero); place and transit may be below zero ' +
        'when more was seen to leave than had arrived',
    }),
    siteId: uuid,
    siteName: z.string(),
    placeId: uuid.nullable(),
    placeName: z.string().nullable(),
    dispatchId: uuid.nullable(),
    toSiteId: uuid.nullable().meta({ description: 'On the road: where it is going' }),
    quantity: signedQuantity,
  })
  .meta({ id: 'TraceWhere' });

const TracedLot = z
  .object({
    lotId: uuid,
    code: lotCode,
    itemId: uuid,
    itemName: z.string(),
    unit,
    origin: z.enum(['supplied', 'produced', 'packed', 'pseudo', 'converted', 'opening']),
    siteId: uuid.meta({ description: 'Where it was born' }),
    bornAt: instant,
    supplierId: uuid.nullable(),
    supplierName: z.string().nullable(),
    supplierLotCode: z.string().nullable(),
    batchId: uuid.nullable(),
    packingRunId: uuid.nullable(),
    held: z.boolean().meta({ description: 'An open hold reaches it' }),
    holds: z.array(HoldBrief),
    notLotTracked: z
      .boolean()
      .meta({ description: 'Stands for all there ever was of an item that is not lot-tracked' }),
    remark: z.string().nullable().meta({ description: 'What this lot cannot tell, in words' }),
    produced: signedQuantity.meta({
      description: 'What came in from the supplier or out of production, reversals net',
    }),
    whereNow: z.array(Where),
    sumOfWhereNow: signedQuantity,
    balanced: z.boolean().meta({ description: 'sumOfWhereNow is produced' }),
  })
  .meta({ id: 'TracedLot' });

const TraceEdge = z
  .object({
    parentLotId: uuid,
    childLotId: uuid,
    processId: uuid,
    processCode: z
      .string()
      .nullable()
      .meta({ description: 'The batch, as people call it; of a conversion what was done: open, thaw ...' }),
    kind: z.enum(['batch', 'packing-run', 'conversion']),
    consumedQuantity: signedQuantity.meta({
      description:
        'Batch: what of the parent went into the batch. Packing run: what went into the packs of the child. ' +
        'Conversion: what of the parent was opened, thawed ... to become the child.',
    }),
    apportioned: z.object({
      note: z.literal('apportioned by output mass'),
      numerator: integerText,
      denominator: integerText,
      rounded: signedQuantity,
    }),
  })
  .meta({
    id: 'TraceEdge',
    description:
      'That a lot went into another is a record; how much of it is in one output of several is computed, by output mass.',
  });

export const Quantities = z.object({
  itemId: uuid,
  itemName: z.string(),
  unit,
  onHand: signedQuantity,
  inTransit: signedQuantity,
  served: signedQuantity,
  wasted: signedQuantity,
  returned: signedQuantity.meta({ description: 'To the supplier' }),
  consumed: signedQuantity.meta({ description: 'Put into other lots' }),
  unexplained: signedQuantity.meta({ description: 'Found missing by counts; below zero when found over' }),
});

const Trace = z
  .object({
    startLotId: uuid,
    direction,
    lots: z.array(TracedLot),
    edges: z.array(TraceEdge),
    sites: z.array(
      z.object({
        siteId: uuid,
        siteName: z.string(),
        reachedBy: z
          .array(uuid)
          .meta({ description: 'Lots that are, were or were counted there, or are on the road to it' }),
        quantities: z
          .array(Quantities)
          .meta({ description: 'What is on the road is shown at the site that it is going to' }),
      }),
    ),
    totals: z.array(
      Quantities.extend({
        produced: signedQuantity,
        balanced: z.boolean().meta({ description: 'The other quantities sum to produced' }),
        lotCount: quantity,
      }),
    ),
  })
  .meta({ id: 'Trace' });

export const traceLot = defineOperation({
  id: 'traceLot',
  method: 'get',
  path: '/v1/lots/{lotId}/trace',
  tag: 'tracing',
  summary: 'Walk from a lot forward to what was made from it, or back to what went into it, with quantities',
  description:
    'Each lot appears once, however many paths lead to it. Of each lot, what is on hand, on the road, served, wasted, returned to ' +
    'the supplier, put into other lots or unexplained sums to what was produced, exactly. A trace goes wherever the food went: ' +
    'whoever may trace the lot sees its relatives at every site. With format=svg (or Accept: image/svg+xml) it is a picture.',
  permission: 'trace.read',
  naming: 'none',
  mode: 'read',
  params: lotParams,
  query: z.strictObject({
    direction: direction.optional().meta({ description: 'forward if left out' }),
    format: z.enum(['json', 'svg']).optional().meta({ description: 'As Accept says if left out' }),
  }),
  answers: {
    200: [
      { description: 'The trace', schema: Trace },
      { description: 'The trace as a picture', contentType: 'image/svg+xml' },
    ],
  },
  errors: ['not-found', 'trace-too-large', 'too-large-to-draw'],
  example: {
    status: 200,
    params: { lotId: exampleId('lot/carrots-1') },
    query: { direction: 'forward', format: 'json' },
  },
});

export type TraceAnswer = z.output<typeof Trace>;
export type TracedLotAnswer = z.output<typeof TracedLot>;
export type TraceEdgeAnswer = z.output<typeof TraceEdge>;
export type WhereAnswer = z.output<typeof Where>;
export type QuantitiesAnswer = z.output<typeof Quantities>;
