/** Uses, discards, returns. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { factId, instant, line, quantity, text, unit, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { TakingAnswer } from './shapes.ts';

const tag = 'stock';
const created = (schema: z.ZodType, description: string) => ({
  201: { description, schema, headers: ['Location'] as const },
});
const stew = exampleId('lot/beef-stew-packs-1');
const wardChiller = exampleId('place/w3-chiller');

/** What a use may say besides how much; scans of kind use take the same. */
export const useFields = {
  coreTemperatureC: z.number().min(-60).max(150).multipleOf(0.01).optional().meta({ description: 'At serving' }),
  portions: z.int().min(1).max(100_000).optional().meta({ description: 'Plates that it made; for information' }),
  purpose: z
    .enum(['service', 'staff-meal', 'tasting', 'donation', 'laboratory'])
    .optional()
    .meta({ description: 'service if left out; laboratory: nobody eats it' }),
  recipient: line(200).optional().meta({ description: 'donation: to whom' }),
};

/** The two kinds of the Food Loss and Waste Standard. */
export const material = z.enum(['food', 'inedible-parts']).meta({
  description: 'food if left out; inedible-parts: what nobody eats of it, such as bones, peel and shells',
});

export const createUse = defineOperation({
  id: 'createUse',
  method: 'post',
  path: '/v1/uses',
  tag,
  summary: 'Record what was served',
  description:
    'An observation: it states what happened and is never refused for stock, hold or date; what conflicts with the rules becomes a finding. The answer says whether the food might be used. Each is a fact of its own and adds; scans without a serial set a total instead.',
  permission: 'stock.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      lotId: uuid,
      placeId: uuid,
      quantity,
      unit,
      occurredAt: instant,
      servicePoint: line(100).optional(),
      meal: z.enum(['breakfast', 'lunch', 'dinner', 'other']).optional(),
      ...useFields,
    })
    .meta({ id: 'NewUse' }),
  answers: created(TakingAnswer, 'Recorded'),
  errors: ['not-found', 'unit-mismatch'],
  example: {
    status: 201,
    body: {
      id: exampleId('new/use'),
      lotId: stew,
      placeId: wardChiller,
      quantity: 2,
      unit: 'piece',
      occurredAt: '2026-11-25T11:45:00+00:00',
      servicePoint: 'Bay A',
      meal: 'lunch',
    },
  },
});

export const createDiscard = defineOperation({
  id: 'createDiscard',
  method: 'post',
  path: '/v1/discards',
  tag,
  summary: 'Record what was thrown away, why and where it went',
  description:
    'An observation. Reasons are the standard ones of shared/discard-reasons.json and those of the site, see listWasteReasons; destinations are in shared/destinations.json. Each is a fact of its own and adds; scans without a serial set a total instead.',
  permission: 'stock.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      lotId: uuid,
      placeId: uuid,
      quantity,
      unit,
      occurredAt: instant,
      reason: line(40),
      destination: line(40),
      material: material.optional(),
      note: text(500).optional().meta({ description: 'Required with reason other' }),
    })
    .meta({ id: 'NewDiscard' }),
  answers: created(TakingAnswer, 'Recorded'),
  errors: ['not-found', 'unit-mismatch', 'discard-reason-unknown'],
  example: {
    status: 201,
    body: {
      id: exampleId('new/discard'),
      lotId: stew,
      placeId: wardChiller,
      quantity: 1,
      unit: 'piece',
      occurredAt: '2026-11-25T11:50:00+00:00',
      reason: 'damaged',
      destination: 'composting',
    },
  },
});

export const createReturn = defineOperation({
  id: 'createReturn',
  method: 'post',
  path: '/v1/returns',
  tag,
  summary: 'Record food that came back from service, or went back to its supplier',
  description:
    'An observation. What comes back from service stands in the quarantine place of its site until it is discarded; what goes back to the supplier leaves the place named.',
  permission: 'stock.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      direction: z.enum(['from-service', 'to-supplier']),
      lotId: uuid,
      placeId: uuid.meta({ description: 'from-service: any place of the site; to-supplier: the place that it leaves' }),
      quantity,
      unit,
      occurredAt: instant,
      reason: line(200),
    })
    .meta({ id: 'NewReturn' }),
  answers: created(TakingAnswer, 'Recorded'),
  errors: ['not-found', 'unit-mismatch'],
  example: {
    status: 201,
    body: {
      id: exampleId('new/return'),
      direction: 'from-service',
      lotId: stew,
      placeId: wardChiller,
      quantity: 1,
      unit: 'piece',
      occurredAt: '2026-11-25T11:55:00+00:00',
      reason: 'Ordered twice, unopened',
    },
  },
});
