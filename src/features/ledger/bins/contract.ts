/** Bins that are topped up: what is in one now, and that one was seen empty. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import {
  allergenCodes,
  date,
  factId,
  instant,
  lotCode,
  quantity,
  signedQuantity,
  text,
  unit,
  uuid,
} from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { EntryAnswer, HoldBrief } from '../shapes.ts';

const tag = 'stock';
const params = z.strictObject({ placeId: uuid });

const BinItem = z
  .object({
    itemId: uuid,
    itemName: z.string(),
    unit,
    quantity: signedQuantity.meta({ description: 'By the book; below zero when more was taken than came in' }),
    since: instant.nullable().meta({ description: 'When the first lot of the set came in' }),
    useByAt: instant.nullable().meta({ description: 'The earliest in the set' }),
    useByDate: date.nullable(),
    allergens: allergenCodes.meta({ description: 'Of all lots of the set' }),
    mayContain: allergenCodes,
    lots: z.array(
      z.object({
        lotId: uuid,
        lotCode,
        quantity: signedQuantity.meta({ description: 'By the book: in the bin nobody can tell them apart' }),
        cameInAt: instant,
        useByAt: instant.nullable(),
        holds: z.array(HoldBrief),
      }),
    ),
    batches: z
      .array(
        z.object({ inputId: uuid, entryId: uuid, batchId: uuid, batchCode: z.string(), quantity, occurredAt: instant }),
      )
      .meta({ description: 'What took from it since' }),
  })
  .meta({ id: 'BinItem' });

export const getBin = defineOperation({
  id: 'getBin',
  method: 'get',
  path: '/v1/places/{placeId}/bin',
  tag,
  summary: 'What a bin is now: every lot since it was last empty',
  description:
    'Whatever is taken from it may be any lot of the set, whatever the book says is left of each. One lot on hold or past its date stops the whole bin. The book can say that a bin is empty when some is left in it: scrape it out, and say so with an emptying.',
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: {
    200: {
      description: 'The bin',
      schema: z
        .object({ placeId: uuid, siteId: uuid, lastEmptiedAt: instant.nullable(), items: z.array(BinItem) })
        .meta({ id: 'Bin' }),
    },
  },
  errors: ['not-found', 'rule-broken'],
  example: { status: 200, params: { placeId: exampleId('place/ck-bin') } },
});

export const createBinEmptying = defineOperation({
  id: 'createBinEmptying',
  method: 'post',
  path: '/v1/places/{placeId}/emptyings',
  tag,
  summary: 'State that a bin was empty',
  description:
    'An observation: nothing was left in it, it was scraped out. It is a complete count of zero, so what the book says was left is variance. What comes in afterwards begins a new set of lots. Said late, it changes what later inputs are booked from; lots that a batch was linked to by then stay linked, and held if they are held.',
  permission: 'stock.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z.strictObject({ id: factId, occurredAt: instant, note: text(500).optional() }).meta({ id: 'NewBinEmptying' }),
  answers: { 201: { description: 'Recorded', schema: EntryAnswer, headers: ['Location'] } },
  errors: ['not-found', 'rule-broken'],
  example: {
    status: 201,
    params: { placeId: exampleId('place/ck-bin') },
    body: { id: exampleId('new/bin-emptying'), occurredAt: '2026-11-25T11:50:00+00:00' },
  },
});
