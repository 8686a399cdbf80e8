/** Dispatches: plan, change, depart, record a departure afterwards, receive. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { pageSchema } from '../../platform/http/paging.ts';
import {
  code,
  factId,
  instant,
  line,
  pageQuery,
  quantity,
  scannedCode,
  text,
  unit,
  uuid,
} from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { W3_LUNCH } from './requirements/contract.ts';
import { requirementIdOf } from './requirements/names.ts';
import { Dispatch, DispatchFacts, serials } from './shapes.ts';

const tag = 'distribution';
const params = z.strictObject({ dispatchId: uuid });

const NewLine = z.strictObject({
  lotId: uuid,
  placeId: uuid.meta({ description: 'Where it is taken from' }),
  quantity,
  unit,
  serials,
  crateCode: scannedCode
    .max(20)
    .optional()
    .meta({ description: 'The crate that they are in: an SSCC or a code of your own' }),
  requirementId: uuid.optional().meta({ description: 'What they are sent for; of exactly its texture and diets' }),
});

export const createDispatch = defineOperation({
  id: 'createDispatch',
  method: 'post',
  path: '/v1/dispatches',
  tag,
  summary: 'Plan a dispatch',
  description: 'Moves nothing yet; stock, holds and dates are checked when it departs.',
  permission: 'dispatch.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      code: code.optional(),
      fromSiteId: uuid,
      toSiteId: uuid,
      purpose: z.enum(['delivery', 'return', 'destruction']).optional().meta({ description: 'delivery, if left out' }),
      plannedFor: instant.optional(),
      vehicle: line(60).optional(),
      driverName: line(100).optional(),
      lines: z.array(NewLine).min(1).max(500),
    })
    .meta({ id: 'NewDispatch' }),
  answers: { 201: { description: 'Planned', schema: Dispatch, headers: ['Location', 'ETag'] } },
  errors: ['not-found', 'unit-mismatch', 'serials-do-not-fit', 'diet-mismatch', 'code-taken', 'rule-broken'],
  example: {
    status: 201,
    body: {
      id: exampleId('new/dispatch'),
      fromSiteId: exampleId('site/ck'),
      toSiteId: exampleId('site/w3'),
      vehicle: 'Van 2',
      driverName: 'Ines Marrow',
      lines: [
        {
          lotId: exampleId('lot/beef-stew-packs-1'),
          placeId: exampleId('place/ck-chiller'),
          quantity: 2,
          unit: 'piece',
          requirementId: requirementIdOf(W3_LUNCH),
        },
      ],
    },
  },
});

export const listDispatches = defineOperation({
  id: 'listDispatches',
  method: 'get',
  path: '/v1/dispatches',
  tag,
  summary: 'List dispatches from or to your sites',
  permission: 'dispatch.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...pageQuery,
    fromSiteId: uuid.optional(),
    toSiteId: uuid.optional(),
    state: z.enum(['planned', 'departed', 'closed']).optional(),
  }),
  answers: {
    200: {
      description: 'Dispatches',
      schema: pageSchema(Dispatch.omit({ lines: true, lots: true }).meta({ id: 'DispatchHead' })),
      headers: ['Link'],
    },
  },
  errors: ['bad-cursor'],
  example: { status: 200, query: { state: 'departed' } },
});

export const getDispatch = defineOperation({
  id: 'getDispatch',
  method: 'get',
  path: '/v1/dispatches/{dispatchId}',
  tag,
  summary: 'Read a dispatch: what was sent, what was found, what is missing',
  permission: 'dispatch.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The dispatch', schema: Dispatch, headers: ['ETag'] } },
  errors: ['not-found'],
  example: { status: 200, params: { dispatchId: exampleId('dispatch/w3-on-the-road') } },
});

export const changeDispatch = defineOperation({
  id: 'changeDispatch',
  method: 'patch',
  path: '/v1/dispatches/{dispatchId}',
  tag,
  summary: 'Change a dispatch that has not departed',
  description: 'Lines, if given, replace all lines.',
  permission: 'dispatch.write',
  naming: 'none',
  mode: 'write',
  conditional: true,
  params,
  body: z
    .strictObject({
      plannedFor: instant.nullable().optional(),
      vehicle: line(60).nullable().optional(),
      driverName: line(100).nullable().optional(),
      lines: z.array(NewLine).min(1).max(500).optional(),
    })
    .meta({ id: 'DispatchChange' }),
  answers: { 200: { description: 'Changed', schema: Dispatch, headers: ['ETag'] } },
  errors: ['not-found', 'wrong-state', 'unit-mismatch', 'serials-do-not-fit', 'diet-mismatch', 'rule-broken'],
  example: {
    status: 200,
    params: { dispatchId: exampleId('dispatch/w7-planned') },
    ifMatch: '*',
    body: { vehicle: 'Van 1', driverName: 'Teo Larkin' },
  },
});

export const createDeparture = defineOperation({
  id: 'createDeparture',
  method: 'post',
  path: '/v1/dispatches/{dispatchId}/departure',
  tag,
  summary: 'Let a dispatch leave',
  description:
    'A request: refused for stock, hold or date. Nothing unreleased leaves. A return or a destruction may leave although it is held or past its date.',
  permission: 'dispatch.depart',
  naming: 'fact',
  mode: 'write',
  params,
  body: z.strictObject({ id: factId, departedAt: instant.optional() }).meta({ id: 'NewDeparture' }),
  answers: { 201: { description: 'Departed', schema: Dispatch, headers: ['Location'] } },
  errors: [
    'not-found',
    'wrong-state',
    'insufficient-stock',
    'on-hold',
    'past-use-by',
    'quarantined',
    'regenerated-stays',
    'diet-mismatch',
    'rule-broken',
    'time-in-future',
  ],
  example: {
    status: 201,
    params: { dispatchId: exampleId('dispatch/w7-planned') },
    body: { id: exampleId('new/departure') },
  },
});

export const createRecordedDeparture = defineOperation({
  id: 'createRecordedDeparture',
  method: 'post',
  path: '/v1/dispatches/{dispatchId}/recorded-departure',
  tag,
  summary: 'Record afterwards that a dispatch left',
  description:
    'An observation, for when nobody asked before: it always posts, whatever the stock, hold or date. What stood against it is a finding, and where the place that it is going to would not know, the lot is held there until the quality lead decides. Receipts may have been recorded before it.',
  permission: 'dispatch.depart',
  naming: 'fact',
  mode: 'write',
  params,
  body: z
    .strictObject({ id: factId, departedAt: instant, note: text(500).optional() })
    .meta({ id: 'NewRecordedDeparture' }),
  answers: { 201: { description: 'Recorded', schema: DispatchFacts, headers: ['Location'] } },
  errors: ['not-found', 'wrong-state'],
  example: {
    status: 201,
    params: { dispatchId: exampleId('dispatch/w7-planned') },
    body: {
      id: exampleId('new/recorded-departure'),
      departedAt: '2026-11-25T11:20:00+00:00',
      note: 'From the drop sheet; the network was down',
    },
  },
});

export const createReceipt = defineOperation({
  id: 'createReceipt',
  method: 'post',
  path: '/v1/dispatches/{dispatchId}/receipts',
  tag,
  summary: 'Record what was found when a dispatch arrived; close the receipt',
  description:
    'An observation, by lot and condition; pack by pack it goes through scans. Damaged and too warm food is set aside in quarantine, and so is what comes back. Closing posts nothing: it names what is still in transit as missing, which late scans reduce.',
  permission: 'receipt.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z
    .strictObject({
      id: factId,
      occurredAt: instant,
      closes: z.boolean(),
      note: text(500).optional(),
      lines: z
        .array(
          z.strictObject({
            lotId: uuid,
            quantity,
            unit,
            condition: z.enum(['accepted', 'damaged', 'too-warm']),
            placeId: uuid.optional().meta({
              description:
                'Put away there. If left out: where the site says that such food is put, or its receiving place; what comes back, or is to be destroyed, goes into quarantine',
            }),
            temperatureC: z.number().min(-60).max(120).multipleOf(0.01).optional(),
          }),
        )
        .max(500),
    })
    .meta({ id: 'NewReceipt' }),
  answers: {
    201: {
      description: 'Recorded',
      schema: DispatchFacts,
      headers: ['Location'],
    },
  },
  errors: ['not-found', 'unit-mismatch', 'rule-broken'],
  example: {
    status: 201,
    params: { dispatchId: exampleId('dispatch/w3-on-the-road') },
    body: {
      id: exampleId('new/receipt'),
      occurredAt: '2026-11-25T11:05:00+00:00',
      closes: true,
      lines: [
        {
          lotId: exampleId('lot/beef-stew-packs-1'),
          quantity: 1,
          unit: 'piece',
          condition: 'accepted',
          temperatureC: 3.1,
        },
      ],
    },
  },
});
