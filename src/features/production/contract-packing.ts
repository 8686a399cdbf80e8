/** Packing: food is sealed as packs, each fill a lot of its own. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { date, factId, instant, line, lotCode, massG, quantity, unit, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { Batch, batchParams } from './contract.ts';

export const createPackingRun = defineOperation({
  id: 'createPackingRun',
  method: 'post',
  path: '/v1/batches/{batchId}/packing-runs',
  tag: 'production',
  summary: 'Seal food as packs',
  description:
    'A request. Each fill takes from one lot and makes one lot of packs; a run that changes over between lots has several. Packs are serialised 1 to n unless said otherwise. Work may go on while the food awaits release.',
  permission: 'production.write',
  naming: 'fact',
  mode: 'write',
  params: batchParams,
  body: z
    .strictObject({
      id: factId,
      equipmentId: uuid,
      programme: line(60),
      packerId: uuid.optional().meta({ description: 'You, if left out' }),
      startedAt: instant,
      finishedAt: instant,
      packsRejected: z.int().min(0).max(100_000).optional(),
      fills: z
        .array(
          z.strictObject({
            fromLotId: uuid,
            fromPlaceId: uuid,
            usedQuantity: quantity,
            usedUnit: unit,
            packItemId: uuid,
            packs: z.int().min(1).max(100_000),
            massG: massG.optional().meta({ description: 'Weighed net mass of all packs; nominal if left out' }),
            packLotId: uuid.optional(),
            packLotCode: lotCode.optional(),
            toPlaceId: uuid,
            changedOverAt: instant
              .optional()
              .meta({ description: 'When this lot began; the start of the run, if left out' }),
            serialised: z.boolean().optional().meta({ description: 'true, if left out' }),
            useByDate: date.optional().meta({ description: 'Only ever earlier than the computed one' }),
          }),
        )
        .min(1)
        .max(20),
    })
    .meta({ id: 'NewPackingRun' }),
  answers: { 201: { description: 'Packed', schema: Batch, headers: ['Location'] } },
  errors: [
    'not-found',
    'unit-mismatch',
    'item-unsuitable',
    'insufficient-stock',
    'on-hold',
    'past-use-by',
    'quarantined',
    'regenerated-stays',
    'anchor-missing',
    'use-by-later-than-computed',
    'code-taken',
    'time-in-future',
    'rule-broken',
  ],
  example: {
    status: 201,
    params: { batchId: exampleId('batch/open') },
    body: {
      id: exampleId('new/packing-run'),
      equipmentId: exampleId('equipment/packer-1'),
      programme: 'Moist dishes, soft vacuum',
      startedAt: '2026-11-25T11:20:00+00:00',
      finishedAt: '2026-11-25T11:50:00+00:00',
      fills: [
        {
          fromLotId: exampleId('lot/stew-unpacked'),
          fromPlaceId: exampleId('place/ck-chiller'),
          usedQuantity: 3000,
          usedUnit: 'g',
          packItemId: exampleId('item/beef-stew-pack'),
          packs: 10,
          toPlaceId: exampleId('place/ck-chiller'),
        },
      ],
    },
  },
});
