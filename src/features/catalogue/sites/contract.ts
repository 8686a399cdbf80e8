/** Sites: kitchens and places of service. */
import { z } from 'zod';
import { address } from '../../../platform/http/address.ts';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { code, factId, line, pageQuery, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { foodWasteStage } from '../waste-reasons/contract.ts';

const kind = z.enum(['central-kitchen', 'satellite']);

const putAway = z
  .strictObject({ chilled: uuid.nullable(), frozen: uuid.nullable(), ambient: uuid.nullable() })
  .meta({ description: 'Places where food is presumed to be put when nobody says; null: the receiving place' });

const wasteStage = foodWasteStage.nullable().meta({
  description:
    'Stage of the food supply chain that its waste is reported under, of the five of Delegated Decision (EU) 2019/1597; null: by reason. A ' +
    'group whose return counts its central kitchen as restaurants and food services says so here',
});

const Site = z
  .object({
    siteId: uuid,
    code: z.string(),
    name: z.string(),
    kind,
    timeZone: z.string(),
    jurisdiction: z.string(),
    gln: z.string().nullable(),
    address: address.nullable(),
    receivingPlaceId: uuid.meta({ description: 'Where what arrives is presumed to be until it is put away' }),
    quarantinePlaceId: uuid,
    putAway,
    foodWasteStage: wasteStage,
    version: z.int(),
  })
  .meta({ id: 'Site' });

const timeZone = z
  .string()
  .regex(/^[A-Za-z][A-Za-z0-9_+/-]{1,59}$/, 'an IANA time zone such as Europe/London')
  .meta({ example: 'Europe/London' });
const jurisdiction = z
  .string()
  .regex(/^[A-Z]{2}(-[A-Z0-9]{1,3})?$/, 'a country or its part by ISO 3166, such as IE, GB-ENG or US-NY')
  .meta({ example: 'GB-ENG', description: 'Whose food law applies' });
const gln = z
  .string()
  .regex(/^[0-9]{13}$/, '13 digits')
  .nullable()
  .meta({ description: 'GS1 Global Location Number' });

const params = z.strictObject({ siteId: uuid });

export const createSite = defineOperation({
  id: 'createSite',
  method: 'post',
  path: '/v1/sites',
  tag: 'catalogue',
  summary: 'Add a site, with its receiving and its quarantine place',
  permission: 'sites.write',
  naming: 'fact',
  mode: 'write',
  body: z.strictObject({
    id: factId,
    code,
    name: line(),
    kind,
    timeZone,
    jurisdiction,
    gln: gln.optional(),
    address: address.optional(),
    foodWasteStage: wasteStage.optional(),
  }),
  answers: { 201: { description: 'Added', schema: Site, headers: ['Location', 'ETag'] } },
  errors: ['code-taken', 'rule-broken', 'not-found'],
  example: {
    body: {
      id: exampleId('new/site'),
      code: 'W11',
      name: 'Ward 11 pantry',
      kind: 'satellite',
      timeZone: 'Europe/London',
      jurisdiction: 'GB-ENG',
      address: {
        phone: '01632 960041',
        street: 'Fernhollow Hospital, 2 Larch Rise',
        city: 'Ostermere',
        postalCode: 'ZZ9 2AB',
        country: 'GB',
      },
    },
    role: 'operations',
    status: 201,
  },
});

export const listSites = defineOperation({
  id: 'listSites',
  method: 'get',
  path: '/v1/sites',
  tag: 'catalogue',
  summary: 'Sites by code',
  permission: 'catalogue.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery }),
  answers: { 200: { description: 'A page', schema: pageSchema(Site), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200 },
});

export const getSite = defineOperation({
  id: 'getSite',
  method: 'get',
  path: '/v1/sites/{siteId}',
  tag: 'catalogue',
  summary: 'One site',
  permission: 'catalogue.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The site', schema: Site, headers: ['ETag'] } },
  errors: ['not-found'],
  example: { params: { siteId: exampleId('site/ck') }, status: 200 },
});

export const changeSite = defineOperation({
  id: 'changeSite',
  method: 'patch',
  path: '/v1/sites/{siteId}',
  tag: 'catalogue',
  summary: 'Change name, address, GLN, jurisdiction, receiving place, default put-away or stage of its waste',
  description: 'Code, kind and time zone stay: dates that were given out depend on them.',
  permission: 'sites.write',
  naming: 'none',
  mode: 'write',
  conditional: true,
  params,
  body: z.strictObject({
    name: line().optional(),
    gln: gln.optional(),
    address: address.nullable().optional(),
    jurisdiction: jurisdiction.optional(),
    receivingPlaceId: uuid.optional(),
    putAway: putAway.optional(),
    foodWasteStage: wasteStage.optional(),
  }),
  answers: { 200: { description: 'Changed', schema: Site, headers: ['ETag'] } },
  errors: ['not-found', 'rule-broken'],
  example: {
    params: { siteId: exampleId('site/w9') },
    body: { name: 'Ward 9, north pantry' },
    ifMatch: '*',
    status: 200,
  },
});
