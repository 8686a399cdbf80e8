/** Who could have eaten it: every serving of a lot and of whatever was made from it. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { instant, line, lotCode, quantity, signedQuantity, unit, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { lotParams } from '../ledger/index.ts';

const Serving = z
  .object({
    entryId: uuid,
    lotId: uuid,
    lotCode,
    itemName: z.string(),
    siteId: uuid,
    siteName: z.string(),
    placeId: uuid.nullable(),
    servicePoint: line(100).nullable(),
    meal: z.string().nullable(),
    purpose: z.string().meta({ description: 'service, staff-meal, tasting, donation; laboratory: nobody ate it' }),
    recipient: line(200).nullable(),
    occurredAt: instant.meta({ description: 'Of use derived from counts: of the later count' }),
    quantity: signedQuantity.meta({ description: 'Below zero: a later count took back what an earlier one had shown' }),
    unit,
    portions: z.int().nullable(),
    coreTemperatureC: z.number().nullable(),
    basis: z.string().meta({ description: 'derived: nobody recorded it, counts show it' }),
  })
  .meta({ id: 'Serving' });

const Servings = z
  .object({
    startLotId: uuid,
    lotCount: quantity.meta({ description: 'The lot and all that was made from it' }),
    servings: z.array(Serving).meta({ description: 'What stands, the latest first' }),
    lots: z.array(
      z.object({
        lotId: uuid,
        lotCode,
        itemName: z.string(),
        unit,
        served: signedQuantity,
        returned: signedQuantity.meta({ description: 'Came back from service and was not eaten' }),
      }),
    ),
  })
  .meta({ id: 'Servings' });

export const getLotServings = defineOperation({
  id: 'getLotServings',
  method: 'get',
  path: '/v1/lots/{lotId}/servings',
  tag: 'tracing',
  summary: 'Who could have eaten it: where and when a lot, or anything made from it, was served',
  description:
    'Every use that stands of the lot and of all that was made from it, at every site, with service point, meal and purpose as they ' +
    'were recorded, and what came back uneaten. It tells only what was recorded: food that is missing or unexplained may have been ' +
    'eaten too; see the trace. Whoever may trace the lot sees it all.',
  permission: 'trace.read',
  naming: 'none',
  mode: 'read',
  params: lotParams,
  answers: { 200: { description: 'The servings', schema: Servings } },
  errors: ['not-found', 'trace-too-large'],
  example: { status: 200, params: { lotId: exampleId('lot/carrots-1') } },
});

export type ServingsAnswer = z.output<typeof Servings>;
