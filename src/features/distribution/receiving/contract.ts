/** Receiving: when receipts close by themselves, and what a device needs to receive without a network. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import {
  code,
  date,
  factId,
  instant,
  lotCode,
  quantity,
  serial,
  text,
  unit,
  uuid,
} from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const tag = 'distribution';
const params = z.strictObject({ siteId: uuid });
const policyPath = '/v1/sites/{siteId}/receiving-policy';

const policyFields = {
  closesWhenComplete: z
    .boolean()
    .meta({ description: 'Close as soon as nothing of the dispatch is on the road any more' }),
  closesAfterH: z
    .int()
    .min(1)
    .max(720)
    .nullable()
    .meta({ description: 'Close this many hours after departure and name what is missing; null: never by the clock' }),
};

const Policy = z
  .object({
    siteId: uuid,
    version: z.int().meta({ description: '0: nobody has said anything; nothing closes by itself' }),
    ...policyFields,
    note: z.string().nullable(),
    recordedAt: instant.nullable(),
    recordedBy: uuid.nullable(),
  })
  .meta({ id: 'ReceivingPolicy' });

export const getReceivingPolicy = defineOperation({
  id: 'getReceivingPolicy',
  method: 'get',
  path: policyPath,
  tag,
  summary: 'When receipts of a site close by themselves',
  permission: 'receiving.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'In force', schema: Policy, headers: ['ETag'] } },
  errors: ['not-found'],
  example: { params: { siteId: exampleId('site/w3') }, status: 200 },
});

export const setReceivingPolicy = defineOperation({
  id: 'setReceivingPolicy',
  method: 'post',
  path: policyPath,
  tag,
  summary: 'Say when receipts of a site close by themselves',
  description:
    'From now on. Closing posts nothing: it names what is still on the road as missing, and scans that come late reduce that. The newest statement holds; earlier ones are kept.',
  permission: 'receiving-policy.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z.strictObject({ id: factId, ...policyFields, note: text(1000).optional() }).meta({ id: 'NewReceivingPolicy' }),
  answers: { 201: { description: 'In force', schema: Policy, headers: ['Location', 'ETag'] } },
  errors: ['not-found'],
  example: {
    params: { siteId: exampleId('site/w3') },
    body: { id: exampleId('new/receiving-policy'), closesWhenComplete: true, closesAfterH: 24 },
    status: 201,
  },
});

const Line = z.object({
  lotId: uuid,
  lotCode,
  itemName: z.string(),
  quantity,
  unit,
  serials: z.array(serial),
  crateCodes: z
    .array(z.string())
    .meta({ description: "Its crate's code, then those of the crates around it; none: loose" }),
  storage: z.enum(['chilled', 'frozen', 'ambient']),
  storageInstruction: z.string().meta({ description: 'How it must have been kept on the way too' }),
  printedUseByDate: date.nullable(),
  useByAt: instant
    .nullable()
    .meta({ description: 'In force on the road: the first moment at which it may no longer be used' }),
});

const Stop = z.object({
  lotId: uuid,
  lotCode,
  itemName: z.string(),
  accountId: uuid.meta({ description: 'The place, or the dispatch that brings it' }),
  placeCode: code.nullable().meta({ description: 'null: on the road' }),
  holdKinds: z.array(z.string()),
  mayUse: z.boolean(),
  whyNot: z.string().nullable().meta({ description: 'In words that a cook can act on' }),
  printedUseByDate: date.nullable(),
  newUseByAt: instant.nullable().meta({ description: 'In force now, where it is earlier than the label says' }),
});

const ReceivingList = z
  .object({
    list: z.object({
      site: z.object({ siteId: uuid, code, name: z.string(), timeZone: z.string() }),
      asOf: instant.meta({
        description: 'All that was recorded until then is in it; a new one comes every five minutes',
      }),
      whole: z.boolean().meta({ description: 'false: there is more than a list holds (200 dispatches, 5,000 parts)' }),
      expected: z.array(
        z.object({
          dispatchId: uuid,
          code: z.string(),
          purpose: z.string(),
          fromSiteId: uuid,
          fromSiteName: z.string(),
          departedAt: instant.nullable(),
          vehicle: z.string().nullable(),
          lines: z.array(Line),
        }),
      ),
      stops: z.array(Stop),
    }),
    signature: z.string().meta({
      description:
        'Detached JWS (RFC 7515, appendix F): header..signature, EdDSA. The payload is the RFC 8785 form of `list`; the key is in listSigningKeys',
    }),
  })
  .meta({ id: 'ReceivingList' });

export const getReceivingList = defineOperation({
  id: 'getReceivingList',
  method: 'get',
  path: '/v1/sites/{siteId}/receiving-list',
  tag,
  summary: 'What is on its way to a site and what may not be used there, to take along',
  description:
    'For receiving without a network: what each dispatch on the road carries, and the stop list of what stands at the site or is coming: held lots and shortened dates. Signed, so that a device that kept it can tell that nobody changed it. It is as old as asOf says: a hold placed since is not in it. Scans are sent when there is a network again, in any order, and are judged then.',
  permission: 'receiving.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The list and its signature', schema: ReceivingList, headers: ['ETag'] } },
  errors: ['not-found'],
  example: { params: { siteId: exampleId('site/w3') }, status: 200 },
});

const Key = z.object({
  kty: z.string(),
  crv: z.string(),
  x: z.string(),
  kid: z.string(),
  alg: z.string(),
  use: z.string(),
});

export const listSigningKeys = defineOperation({
  id: 'listSigningKeys',
  method: 'get',
  path: '/v1/signing-keys',
  tag,
  summary: 'Public keys of what the service signs',
  description: 'A JWK set (RFC 7517). The key follows from the secret of the service and changes with it.',
  permission: 'receiving.read',
  naming: 'none',
  mode: 'read',
  answers: { 200: { description: 'The keys', schema: z.object({ keys: z.array(Key) }).meta({ id: 'SigningKeys' }) } },
  errors: [],
  example: { status: 200 },
});
