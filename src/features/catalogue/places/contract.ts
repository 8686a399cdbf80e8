/** Places: somewhere at a site where food is kept. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { code, factId, line, pageQuery, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const kind = z.enum(['chiller', 'freezer', 'ambient-store', 'prep-area', 'vehicle']);

const usedByCount = z.boolean().meta({ description: 'Nobody records use here: what a count finds gone was used' });

const bin = z.boolean().meta({
  description: 'Topped up from sacks and cans: whatever is taken from it may be any lot since it was last empty',
});

const Place = z
  .object({
    placeId: uuid,
    siteId: uuid,
    code: z.string(),
    name: z.string(),
    kind,
    quarantine: z.boolean().meta({ description: 'Food here waits for a quality decision' }),
    usedByCount,
    bin,
    version: z.int(),
  })
  .meta({ id: 'Place' });

const params = z.strictObject({ placeId: uuid });

export const createPlace = defineOperation({
  id: 'createPlace',
  method: 'post',
  path: '/v1/places',
  tag: 'catalogue',
  summary: 'Add a place at a site',
  permission: 'catalogue.write',
  naming: 'fact',
  mode: 'write',
  body: z.strictObject({
    id: factId,
    siteId: uuid,
    code,
    name: line(),
    kind,
    quarantine: z.boolean().optional(),
    usedByCount: usedByCount.optional(),
    bin: bin.optional(),
  }),
  answers: { 201: { description: 'Added', schema: Place, headers: ['Location', 'ETag'] } },
  errors: ['code-taken', 'not-found'],
  example: {
    body: {
      id: exampleId('new/place'),
      siteId: exampleId('site/ck'),
      code: 'CHILL-9',
      name: 'Chiller by the loading bay',
      kind: 'chiller',
    },
    role: 'operations',
    status: 201,
  },
});

export const listPlaces = defineOperation({
  id: 'listPlaces',
  method: 'get',
  path: '/v1/places',
  tag: 'catalogue',
  summary: 'Places by code',
  permission: 'catalogue.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery, siteId: uuid.optional() }),
  answers: { 200: { description: 'A page', schema: pageSchema(Place), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { query: { siteId: exampleId('site/ck') }, status: 200 },
});

export const getPlace = defineOperation({
  id: 'getPlace',
  method: 'get',
  path: '/v1/places/{placeId}',
  tag: 'catalogue',
  summary: 'One place',
  permission: 'catalogue.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The place', schema: Place, headers: ['ETag'] } },
  errors: ['not-found'],
  example: { params: { placeId: exampleId('place/ck-chiller') }, status: 200 },
});

export const changePlace = defineOperation({
  id: 'changePlace',
  method: 'patch',
  path: '/v1/places/{placeId}',
  tag: 'catalogue',
  summary: 'Change name, kind, whether use is derived from counts, whether it is a bin',
  permission: 'catalogue.write',
  naming: 'none',
  mode: 'write',
  conditional: true,
  params,
  body: z.strictObject({
    name: line().optional(),
    kind: kind.optional(),
    usedByCount: usedByCount.optional(),
    bin: bin.optional(),
  }),
  answers: { 200: { description: 'Changed', schema: Place, headers: ['ETag'] } },
  errors: ['not-found'],
  example: {
    params: { placeId: exampleId('place/ck-dry') },
    body: { name: 'Dry store, ground floor' },
    ifMatch: '*',
    role: 'operations',
    status: 200,
  },
});
