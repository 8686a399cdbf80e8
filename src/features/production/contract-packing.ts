/** Packing: food is sealed as packs, each fill a lot of its own. Asked for, or recorded afterwards. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { date, factId, instant, lotCode, massG, quantity, unit, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { batchParams, BatchWithFindings } from './contract.ts';
import { saidOfRun } from './packing-runs/contract-said.ts';

const tag = 'production';

/** Packs weighed singly, in one run: each is a lot. */
export const MOST_SINGLE_PACKS = 500;

const run = z.strictObject({
  id: factId,
  equipmentId: uuid,
  packerId: uuid.optional().meta({ description: 'You, if left out' }),
  startedAt: instant,
  finishedAt: instant,
  ...saidOfRun,
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
        grossMassG: massG.optional().meta({ description: 'Instead: their mass with pouches; needs pouchItemId' }),
        pouchItemId: uuid.optional().meta({ description: 'The packaging item whose unit mass is the tare' }),
        packMassesG: z
          .array(massG)
          .min(1)
          .max(MOST_SINGLE_PACKS)
          .optional()
          .meta({ description: 'Instead: the net mass of each pack; each is then a lot of its own' }),
        packLotId: uuid.optional(),
        packLotCode: lotCode.optional(),
        toPlaceId: uuid.optional().meta({ description: "Presumed from the site's put-away, if left out" }),
        changedOverAt: instant
          .optional()
          .meta({ description: 'When this lot began; the start of the run, if left out' }),
        serialised: z.boolean().optional().meta({ description: 'true, if left out' }),
        useByDate: date.optional().meta({ description: 'Only ever earlier than the computed one' }),
      }),
    )
    .min(1)
    .max(20),
});

const params = { batchId: exampleId('batch/open') };
const example = {
  equipmentId: exampleId('equipment/packer-1'),
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
};

const exampleSaid = {
  programmeId: exampleId('packing-programme/moist'),
  rejects: [{ reason: 'crease', packs: 1 }],
  sealTests: [{ tested: 2, failed: 0 }],
  coreTemperatureC: 2.6,
  instrumentId: exampleId('equipment/probe-1'),
};

export const createPackingRun = defineOperation({
  id: 'createPackingRun',
  method: 'post',
  path: '/v1/batches/{batchId}/packing-runs',
  tag,
  summary: 'Seal food as packs',
  description:
    'A request. Each fill takes from one lot and makes one lot of packs; a run that changes over between lots has several. Packs weighed singly (packMassesG) are a lot each. Packs are serialised 1 to n unless said otherwise. Work may go on while the food awaits release. After raw food, or food with an allergen that these packs do not hold, and no full clean-down since, it is refused (clean-down-needed) where the process policy of the site says so; otherwise it is a finding, with a hold where the policy says so. Pouches are never food: give the net mass, or the gross mass and the pouch. Seal tests and the core temperature become process checks of the run, judged by the plan of the batch, or by the limits of the site and the programme.',
  permission: 'production.write',
  naming: 'fact',
  mode: 'write',
  params: batchParams,
  body: run.meta({ id: 'NewPackingRun' }),
  answers: { 201: { description: 'Packed', schema: BatchWithFindings, headers: ['Location'] } },
  errors: [
    'not-found',
    'unit-mismatch',
    'item-unsuitable',
    'insufficient-stock',
    'on-hold',
    'past-use-by',
    'quarantined',
    'checks-not-passed',
    'regenerated-stays',
    'anchor-missing',
    'use-by-later-than-computed',
    'code-taken',
    'time-in-future',
    'rule-broken',
    'clean-down-needed',
  ],
  example: { status: 201, params, body: { id: exampleId('new/packing-run'), ...example, ...exampleSaid } },
});

export const createRecordedPackingRun = defineOperation({
  id: 'createRecordedPackingRun',
  method: 'post',
  path: '/v1/batches/{batchId}/recorded-packing-runs',
  tag,
  summary: 'Record a packing run that is over',
  description:
    'An observation, for when the packs are sealed already: it always posts. What conflicts with the rules is a finding, and packs of food that was past its use-by, in quarantine or on hold in that place, or whose label cannot be right, are put on a quality hold until a person decides; so are ready-to-eat packs sealed after raw food without a full clean-down between.',
  permission: 'production.write',
  naming: 'fact',
  mode: 'write',
  params: batchParams,
  body: run.meta({ id: 'NewRecordedPackingRun' }),
  answers: { 201: { description: 'Recorded', schema: BatchWithFindings, headers: ['Location'] } },
  errors: ['not-found', 'unit-mismatch', 'item-unsuitable', 'code-taken', 'rule-broken'],
  example: {
    status: 201,
    params,
    body: { id: exampleId('new/recorded-packing-run'), programme: 'Moist dishes, soft vacuum', ...example },
  },
});
