/** Stock counts, the use derived from them, and lots likely taken for each other. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import {
  date,
  factId,
  instant,
  lotCode,
  pageQuery,
  quantity,
  quantityOrZero,
  signedQuantity,
  unit,
  uuid,
} from '../../platform/http/scalars.ts';
import { pageSchema } from '../../platform/http/paging.ts';
import { exampleId } from '../../platform/ids.ts';
import { EntryAnswer } from './shapes.ts';

const tag = 'stock';

const CountedLine = z
  .object({
    lotId: uuid,
    counted: z.int(),
    booked: z.int().meta({ description: 'By event time, just before the count; below zero when too much had left' }),
    variance: signedQuantity.meta({ description: 'Found over; below zero when found missing' }),
    used: z.int().meta({ description: 'Use derived from the count; only at a place used by count' }),
    named: z.boolean().meta({ description: 'false: the complete count says zero by not naming it' }),
  })
  .meta({ id: 'CountedLine', description: 'counted = booked + variance - used' });

const window = {
  fromAt: instant.meta({
    description: 'The last count before that said something of the lot there, or its first arrival there if later',
  }),
  toAt: instant.meta({ description: 'The count' }),
};

export const createStockCount = defineOperation({
  id: 'createStockCount',
  method: 'post',
  path: '/v1/stock-counts',
  tag,
  summary: 'State what was counted in a place',
  description:
    'An observation: it asserts the balance of each lot named at its own time. The difference is variance; at a place used by count ' +
    'what is gone was served, and only what is over is variance. A fact recorded later that happened earlier corrects it. A complete ' +
    'count says zero of every lot of the place that it does not name, also of lots that are heard of later: leave it out when in doubt.',
  permission: 'stock.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      placeId: uuid,
      occurredAt: instant,
      complete: z.boolean().optional().meta({ description: 'Nothing else is in the place; false if left out' }),
      lines: z
        .array(z.strictObject({ lotId: uuid, quantity: quantityOrZero, unit }))
        .max(500)
        .meta({ description: 'At least one, unless the count is complete' }),
    })
    .meta({ id: 'NewStockCount' }),
  answers: {
    201: {
      description: 'Recorded, with the difference',
      schema: EntryAnswer.extend({
        complete: z.boolean(),
        usedByCount: z.boolean().meta({ description: "The place's, at this moment" }),
        lines: z.array(CountedLine),
        derivedUse: z.array(z.object({ lotId: uuid, quantity, ...window })),
      }).meta({ id: 'StockCountAnswer' }),
      headers: ['Location'],
    },
  },
  errors: ['not-found', 'unit-mismatch', 'rule-broken'],
  example: {
    status: 201,
    body: {
      id: exampleId('new/stock-count'),
      placeId: exampleId('place/w3-chiller'),
      occurredAt: '2026-11-25T11:59:00+00:00',
      lines: [{ lotId: exampleId('lot/beef-stew-packs-1'), quantity: 3, unit: 'piece' }],
    },
  },
});

const DerivedUse = z
  .object({
    countId: uuid,
    siteId: uuid,
    placeId: uuid,
    placeName: z.string(),
    lotId: uuid,
    lotCode,
    itemId: uuid,
    itemName: z.string(),
    quantity: quantity.meta({ description: 'As corrected by what is known now' }),
    unit,
    ...window,
  })
  .meta({ id: 'DerivedUse', description: 'What a count shows to have been served; nobody saw it served' });

export const listDerivedUses = defineOperation({
  id: 'listDerivedUses',
  method: 'get',
  path: '/v1/derived-uses',
  tag,
  summary: 'Use derived from counts, each with its time window, oldest first',
  description:
    'At places used by count. Late facts correct the quantities. Who ate it and when within the window is not known: a recall takes the whole window.',
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...pageQuery,
    siteId: uuid.optional(),
    from: date.optional().meta({ description: "The first day of the counts, by the site's calendar" }),
    to: date.optional().meta({ description: 'The first day after' }),
  }),
  answers: { 200: { description: 'A page of uses', schema: pageSchema(DerivedUse), headers: ['Link'] } },
  errors: ['bad-cursor', 'rule-broken'],
  example: { status: 200, query: { siteId: exampleId('site/hot'), from: '2026-11-01', to: '2026-12-01' } },
});

const swapSide = {
  lotId: uuid,
  lotCode,
  quantity,
  counts: z
    .array(z.object({ countId: uuid, occurredAt: instant, difference: signedQuantity }))
    .meta({ description: 'Of the last 14 days, newest first' }),
};

const LikelySwap = z
  .object({
    siteId: uuid,
    placeId: uuid,
    placeName: z.string(),
    itemId: uuid,
    itemName: z.string(),
    unit,
    short: z.object({
      ...swapSide,
      shortfall: z
        .object({ quantity, factId: uuid, occurredAt: instant })
        .nullable()
        .meta({ description: 'More has left than was there, and the last fact that took it' }),
    }),
    surplus: z.object(swapSide),
    seenAt: instant,
  })
  .meta({ id: 'LikelySwap', description: 'One lot is short and another of the same item is over, at one place' });

export const listLikelySwaps = defineOperation({
  id: 'listLikelySwaps',
  method: 'get',
  path: '/v1/likely-swaps',
  tag,
  summary: 'Lots that were likely taken for each other, newest first',
  description:
    'A hint, and nothing is posted. When one lot of a pair is recalled, look at the other as well: packs of it may have been recorded under the wrong lot.',
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery, siteId: uuid.optional() }),
  answers: { 200: { description: 'A page of pairs', schema: pageSchema(LikelySwap), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200, query: { siteId: exampleId('site/w3') } },
});
