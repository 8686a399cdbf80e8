/** What recalling a supplier's lot or a batch would cost, before it happens. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { instant, lotCode, quantityOrZero, signedQuantity, uuid } from '../../../platform/http/scalars.ts';

const there = (what: string) => z.object({ there: signedQuantity, gone: signedQuantity }).meta({ description: what });
const days = z.string().regex(/^([1-9]|[1-8]\d|90)$/, 'a whole number from 1 to 90');
const limit = z.string().regex(/^([1-9]|[1-4]\d|50)$/, 'a whole number from 1 to 50');
const kind = z.enum(['supplier-lot', 'batch']);
const by = z.enum(['packs', 'sites', 'value']);

const Spread = z.object({
  processId: uuid,
  kind: z.enum(['batch', 'packing-run', 'conversion']),
  code: z.string().nullable().meta({ description: 'Of the batch; of a conversion what was done' }),
  siteName: z.string(),
  bins: z.array(z.string()).meta({ description: 'Bins that it came into the batch from' }),
  rework: z.boolean().meta({ description: 'Finished food went in again' }),
  inputLots: quantityOrZero,
  outputLots: quantityOrZero,
  packsThrough: signedQuantity.meta({ description: 'Of the packs that the recall would reach, gone ones included' }),
});

const Dispersion = z.object({
  rawLots: quantityOrZero.meta({ description: 'Deliveries of the item to the site, or loads of the batch' }),
  processes: quantityOrZero.meta({ description: 'Batches, packing runs and conversions that they went straight into' }),
  links: quantityOrZero.meta({ description: 'Pairs of the two: the dispersion' }),
  leastLinks: z.int().nullable().meta({
    description:
      'The fewest that the same amounts allow, were the order in time free; null beyond 12 lots and processes, where it is too dear',
  }),
});

const ExposureLine = z
  .object({
    rank: z.int().min(1),
    kind,
    lots: z
      .array(z.object({ lotId: uuid, lotCode }))
      .min(1)
      .max(50)
      .meta({ description: 'Of one supplier and code, or of one batch; up to 50' }),
    batchId: uuid.nullable(),
    batchCode: z.string().nullable(),
    itemId: uuid,
    itemName: z.string(),
    supplierName: z.string().nullable(),
    supplierLotCode: z.string().nullable(),
    siteId: uuid.meta({ description: 'Where it came in or was made' }),
    siteName: z.string(),
    bornAt: instant,
    lotCount: quantityOrZero.meta({ description: 'Lots that the recall would reach, its own included' }),
    packs: there('Sealed packs'),
    portions: there('Portions in those packs, of items that say how many a pack holds'),
    massG: there('Mass of all of it, packed or not; what is in an open batch is there'),
    valueMinor: there('At purchase prices, in minor units'),
    unpricedMassG: signedQuantity.meta({ description: 'Of what is there: mass that has no price' }),
    sites: z.array(z.object({ siteId: uuid, siteName: z.string() })),
    straightInto: quantityOrZero.meta({
      description: 'Batches, packing runs and conversions that it went straight into',
    }),
    spread: Spread.nullable().meta({ description: 'The one through which most of the packs come' }),
    dispersion: Dispersion,
    whyText: z.string(),
  })
  .meta({ id: 'ExposureLine' });

const Exposure = z
  .object({
    at: instant,
    kind,
    by,
    days: z.int(),
    siteId: uuid.nullable(),
    currency: z.string(),
    candidateCount: quantityOrZero.meta({ description: 'Supplier lots or batches looked at' }),
    lines: z.array(ExposureLine).max(50),
    assumptions: z.array(z.string()),
  })
  .meta({ id: 'Exposure' });

export const getRecallExposure = defineOperation({
  id: 'getRecallExposure',
  method: 'get',
  path: '/v1/recalls/exposure',
  tag: 'recall',
  summary: 'Which supplier lots or batches would cost most to recall now, and what mixing caused it',
  description:
    'there: on hand, on the road or in an open batch. gone: served or thrown away. Looks at food that moved within the days or is in stock, and at ' +
    'what went into it; what was gone before is not counted. Each line says where the food spread the most, and how many links there are between the ' +
    'raw lots and what they went into (batch dispersion, after Dupuy, Botta-Genoulaz and Guinet 2005) beside the fewest possible. Bounded: beyond ' +
    '50,000 lots ask for fewer days.',
  permission: 'recalls.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    kind: kind.optional().meta({ description: 'supplier-lot if left out' }),
    by: by.optional().meta({ description: 'packs if left out' }),
    siteId: uuid.optional().meta({ description: 'Only what came in or was made there' }),
    days: days.optional().meta({ description: '30 if left out' }),
    limit: limit.optional().meta({ description: '20 if left out' }),
  }),
  answers: { 200: { description: 'The dearest first', schema: Exposure } },
  errors: ['not-found', 'scope-too-large'],
  example: { status: 200, query: { kind: 'supplier-lot', by: 'packs', days: '30', limit: '5' } },
});

export type ExposureAnswer = z.output<typeof Exposure>;
export type ExposureLineAnswer = z.output<typeof ExposureLine>;
