/** Packs without a readable label: identified by a person or discarded, never guessed. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { pageSchema } from '../../platform/http/paging.ts';
import {
  factId,
  instant,
  line,
  lotCode,
  pageQuery,
  quantity,
  serial,
  text,
  unit,
  uuid,
} from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';

const tag = 'stock';
const params = z.strictObject({ unidentifiedPackId: uuid });
const state = z.enum(['open', 'identified', 'discarded']);
const found = exampleId('unidentified-pack/w3');

const UnidentifiedPack = z
  .object({
    unidentifiedPackId: uuid,
    siteId: uuid,
    placeId: uuid.nullable().meta({ description: 'Where it was found' }),
    quarantinePlaceId: uuid.meta({ description: 'Where it stands until it is identified or discarded' }),
    description: z.string(),
    quantity,
    foundAt: instant,
    recordedAt: instant,
    foundBy: uuid,
    state,
    decidedAt: instant.nullable(),
    decidedBy: uuid.nullable(),
    lotId: uuid.nullable(),
    lotCode: lotCode.nullable(),
    serial: z.string().nullable(),
    reason: z.string().nullable().meta({ description: 'Of its discarding' }),
    destination: z.string().nullable(),
    note: z.string().nullable(),
  })
  .meta({ id: 'UnidentifiedPack', description: 'A pack that nobody can name. Do not serve it.' });

export const createUnidentifiedPack = defineOperation({
  id: 'createUnidentifiedPack',
  method: 'post',
  path: '/v1/unidentified-packs',
  tag,
  summary: 'Record packs without a readable label',
  description:
    'An observation. Put them into quarantine: nobody knows what is in them, how old they are or which allergens they hold. No lot is posted until a person says which it is.',
  permission: 'stock.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      siteId: uuid,
      placeId: uuid.optional().meta({ description: 'Where they were found' }),
      description: text(500),
      quantity: quantity.meta({ description: 'Packs' }),
      foundAt: instant,
    })
    .meta({ id: 'NewUnidentifiedPack' }),
  answers: { 201: { description: 'Recorded', schema: UnidentifiedPack, headers: ['Location'] } },
  errors: ['not-found'],
  example: {
    status: 201,
    body: {
      id: exampleId('new/unidentified-pack'),
      siteId: exampleId('site/w3'),
      placeId: exampleId('place/w3-chiller'),
      description: 'Clear pouch with brown sauce, label washed off',
      quantity: 1,
      foundAt: '2026-11-25T11:20:00+00:00',
    },
  },
});

export const listUnidentifiedPacks = defineOperation({
  id: 'listUnidentifiedPacks',
  method: 'get',
  path: '/v1/unidentified-packs',
  tag,
  summary: 'List packs without a readable label',
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery, siteId: uuid.optional(), state: state.optional() }),
  answers: { 200: { description: 'At your sites', schema: pageSchema(UnidentifiedPack), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200, query: { state: 'open' } },
});

export const getUnidentifiedPack = defineOperation({
  id: 'getUnidentifiedPack',
  method: 'get',
  path: '/v1/unidentified-packs/{unidentifiedPackId}',
  tag,
  summary: 'Read what is known of a pack without a readable label',
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The pack', schema: UnidentifiedPack } },
  errors: ['not-found'],
  example: { status: 200, params: { unidentifiedPackId: found } },
});

export const createPackIdentification = defineOperation({
  id: 'createPackIdentification',
  method: 'post',
  path: '/v1/unidentified-packs/{unidentifiedPackId}/identification',
  tag,
  summary: 'Say which lot a pack without a label is of',
  description:
    'By somebody who knows, with how they know it. With fromPlaceId the pieces move in the book from where they were thought to be to quarantine, as an observation. They stay in quarantine: whether they may be used is a separate decision.',
  permission: 'stock.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z
    .strictObject({
      id: factId,
      lotId: uuid,
      serial: serial.optional(),
      fromPlaceId: uuid.optional().meta({ description: 'Where the book has them; a place of the same site' }),
      quantity: quantity
        .optional()
        .meta({ description: "In the lot's unit; as many as packs were found, if left out" }),
      unit: unit.optional(),
      note: text(500).meta({ description: 'How it was known' }),
    })
    .meta({ id: 'NewPackIdentification' }),
  answers: {
    201: {
      description: 'Identified',
      schema: UnidentifiedPack.extend({
        moved: z.int().meta({ description: 'Units of the lot moved to quarantine in the book; 0 without fromPlaceId' }),
        mayUse: z.boolean(),
        whyNot: z.string().nullable(),
      }).meta({ id: 'PackIdentification' }),
      headers: ['Location'],
    },
  },
  errors: ['not-found', 'wrong-state', 'unit-mismatch', 'serials-do-not-fit', 'same-place'],
  example: {
    status: 201,
    params: { unidentifiedPackId: found },
    body: {
      id: exampleId('new/pack-identification'),
      lotId: exampleId('lot/beef-stew-packs-1'),
      fromPlaceId: exampleId('place/w3-chiller'),
      note: 'The lot code is pressed into the seal',
    },
  },
});

export const createPackDisposal = defineOperation({
  id: 'createPackDisposal',
  method: 'post',
  path: '/v1/unidentified-packs/{unidentifiedPackId}/disposal',
  tag,
  summary: 'Discard a pack that nobody could identify',
  description:
    'Recorded and listed; nothing is posted, because no lot is known. The lot that it was of will be short by it at its next count.',
  permission: 'stock.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z
    .strictObject({ id: factId, reason: line(40), destination: line(40), note: text(500).optional() })
    .meta({ id: 'NewPackDisposal' }),
  answers: { 201: { description: 'Discarded', schema: UnidentifiedPack, headers: ['Location'] } },
  errors: ['not-found', 'wrong-state', 'discard-reason-unknown'],
  example: {
    status: 201,
    params: { unidentifiedPackId: found },
    body: {
      id: exampleId('new/pack-disposal'),
      reason: 'other',
      destination: 'anaerobic-digestion',
      note: 'Nobody could say what it was',
    },
  },
});
