/** The lot that is in use of an item at a place, from a time. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { factId, instant, lotCode, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { FindingBrief } from '../shapes.ts';

const tag = 'stock';
const params = z.strictObject({ placeId: uuid });

const LotInUse = z
  .object({
    useId: uuid,
    placeId: uuid,
    siteId: uuid,
    itemId: uuid,
    itemName: z.string(),
    lotId: uuid,
    lotCode,
    fromAt: instant,
    recordedAt: instant,
  })
  .meta({ id: 'LotInUse' });

export const createLotInUse = defineOperation({
  id: 'createLotInUse',
  method: 'post',
  path: '/v1/places/{placeId}/lots-in-use',
  tag,
  summary: 'Say which lot of an item is in use at a place, from a time',
  description:
    'Until another lot of the item is in use there, an input of a batch may name itemId and placeId alone, and this lot is meant. Told late, it changes no input that was recorded: those that were booked from another lot are findings, to be undone and recorded again.',
  permission: 'stock.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z.strictObject({ id: factId, lotId: uuid, fromAt: instant }).meta({ id: 'NewLotInUse' }),
  answers: {
    201: {
      description: 'In use',
      schema: LotInUse.extend({ findings: z.array(FindingBrief) }).meta({ id: 'LotInUseAnswer' }),
      headers: ['Location'],
    },
  },
  errors: ['not-found', 'item-unsuitable'],
  example: {
    status: 201,
    params: { placeId: exampleId('place/ck-dry') },
    body: {
      id: exampleId('new/lot-in-use'),
      lotId: exampleId('lot/thyme-night'),
      fromAt: '2026-11-25T06:00:00+00:00',
    },
  },
});

export const getLotsInUse = defineOperation({
  id: 'getLotsInUse',
  method: 'get',
  path: '/v1/places/{placeId}/lots-in-use',
  tag,
  summary: 'Which lot of each item is in use at a place now',
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: {
    200: {
      description: 'One for each item',
      schema: z.object({ items: z.array(LotInUse) }).meta({ id: 'LotsInUse' }),
    },
  },
  errors: ['not-found'],
  example: { status: 200, params: { placeId: exampleId('place/ck-dry') } },
});
