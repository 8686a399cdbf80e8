/** Batches: open, put in, take out, pack, complete, decide. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { pageSchema } from '../../platform/http/paging.ts';
import {
  code,
  date,
  factId,
  instant,
  line,
  lotCode,
  massG,
  pageQuery,
  quantity,
  text,
  unit,
  uuid,
} from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { EntryAnswer } from '../ledger/index.ts';

const tag = 'production';
const params = z.strictObject({ batchId: uuid });

const Decision = z.object({
  outcome: z.enum(['released', 'rejected']),
  lotIds: z.array(uuid),
  reason: z.string().nullable(),
  decidedBy: uuid,
  decidedAt: instant,
});

const BornLot = z.object({
  lotId: uuid,
  lotCode,
  itemName: z.string(),
  loadNo: z.int().nullable(),
  packingRunId: uuid.nullable(),
  quantity,
  unit,
  useByAt: instant.nullable(),
  useByDate: date.nullable(),
  state: z.enum(['awaiting-release', 'released', 'rejected']),
});

const Batch = z
  .object({
    batchId: uuid,
    code,
    siteId: uuid,
    recipeId: uuid,
    recipeVersion: z.int(),
    itemId: uuid,
    state: z.enum(['open', 'completed']),
    killStep: z.boolean(),
    startedAt: instant,
    completedAt: instant.nullable(),
    inputs: z.array(z.object({ entryId: uuid, lotId: uuid, lotCode, itemName: z.string(), quantity, unit })),
    lots: z.array(BornLot).meta({ description: 'Loads and packs' }),
    losses: z.array(z.object({ kind: z.string(), massG: z.number() })),
    yield: z
      .object({
        consumedG: z.number(),
        outputsG: z.number(),
        lossesG: z.number(),
        unexplainedG: z.number().meta({ description: 'consumed - outputs - losses; below zero is more than went in' }),
        percent: z.number().nullable(),
        expectedPercent: z.number(),
      })
      .meta({ id: 'BatchYield' }),
    decisions: z.array(Decision),
    version: z.int(),
  })
  .meta({ id: 'Batch', description: 'One production run: lots go in, lots come out' });

export const createBatch = defineOperation({
  id: 'createBatch',
  method: 'post',
  path: '/v1/batches',
  tag,
  summary: 'Open a batch of a recipe',
  permission: 'production.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({ id: factId, code: code.optional(), siteId: uuid, recipeId: uuid, startedAt: instant.optional() })
    .meta({ id: 'NewBatch' }),
  answers: { 201: { description: 'Opened', schema: Batch, headers: ['Location'] } },
  errors: ['not-found', 'code-taken', 'time-in-future', 'item-unsuitable'],
  example: {
    status: 201,
    body: { id: exampleId('new/batch'), siteId: exampleId('site/ck'), recipeId: exampleId('recipe/beef-stew') },
  },
});

export const listBatches = defineOperation({
  id: 'listBatches',
  method: 'get',
  path: '/v1/batches',
  tag,
  summary: 'List batches, newest last',
  permission: 'production.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery, siteId: uuid.optional(), state: z.enum(['open', 'completed']).optional() }),
  answers: {
    200: {
      description: 'Batches at your sites',
      schema: pageSchema(
        Batch.omit({ inputs: true, lots: true, losses: true, yield: true, decisions: true }).meta({ id: 'BatchHead' }),
      ),
      headers: ['Link'],
    },
  },
  errors: ['bad-cursor'],
  example: { status: 200, query: { state: 'open' } },
});

export const getBatch = defineOperation({
  id: 'getBatch',
  method: 'get',
  path: '/v1/batches/{batchId}',
  tag,
  summary: 'Read a batch: inputs, loads, packs, losses, yield, decisions',
  permission: 'production.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The batch', schema: Batch } },
  errors: ['not-found'],
  example: { status: 200, params: { batchId: exampleId('batch/open') } },
});

export const createBatchInput = defineOperation({
  id: 'createBatchInput',
  method: 'post',
  path: '/v1/batches/{batchId}/inputs',
  tag,
  summary: 'Put a lot into a batch',
  description:
    'A request: refused for stock, hold or date. An item that is not kept by lot (water, salt) is named by itemId alone. If the batch has outputs already, they get the holds, the allergens and the earlier use-by of the late input.',
  permission: 'production.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z
    .strictObject({
      id: factId,
      lotId: uuid.optional(),
      itemId: uuid.optional().meta({ description: 'Instead of lotId, for items that are not kept by lot' }),
      placeId: uuid.optional().meta({ description: 'Where it is taken from; required with lotId' }),
      quantity,
      unit,
      occurredAt: instant.optional(),
    })
    .meta({ id: 'NewBatchInput' }),
  answers: { 201: { description: 'Put in', schema: EntryAnswer, headers: ['Location'] } },
  errors: [
    'not-found',
    'wrong-state',
    'unit-mismatch',
    'insufficient-stock',
    'on-hold',
    'past-use-by',
    'quarantined',
    'would-make-a-loop',
    'time-in-future',
    'rule-broken',
  ],
  example: {
    status: 201,
    params: { batchId: exampleId('batch/open') },
    body: {
      id: exampleId('new/batch-input'),
      lotId: exampleId('lot/beef-shin-3'),
      placeId: exampleId('place/ck-chiller'),
      quantity: 500,
      unit: 'g',
    },
  },
});

export const createBatchOutputs = defineOperation({
  id: 'createBatchOutputs',
  method: 'post',
  path: '/v1/batches/{batchId}/outputs',
  tag,
  summary: 'Record the loads that came out',
  description:
    "Each load is a lot of its own, born on hold awaiting-release. Its use-by follows from the item's rule and is capped by the shortest-dated input, unless the recipe has a kill step.",
  permission: 'production.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z
    .strictObject({
      id: factId,
      occurredAt: instant.optional(),
      loads: z
        .array(
          z.strictObject({
            lotId: uuid.optional(),
            lotCode: lotCode.optional(),
            itemId: uuid.optional().meta({ description: "The recipe's item, if left out" }),
            placeId: uuid,
            quantity,
            unit,
            massG: massG.optional().meta({ description: 'Weighed mass, for loads not kept in grams' }),
            cookEndedAt: instant.optional(),
            useByDate: date.optional().meta({ description: 'Only ever earlier than the computed one' }),
          }),
        )
        .min(1)
        .max(50),
    })
    .meta({ id: 'NewBatchOutputs' }),
  answers: { 201: { description: 'Recorded', schema: Batch, headers: ['Location'] } },
  errors: [
    'not-found',
    'wrong-state',
    'unit-mismatch',
    'item-unsuitable',
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
      id: exampleId('new/batch-outputs'),
      loads: [
        {
          placeId: exampleId('place/ck-chiller'),
          quantity: 18400,
          unit: 'g',
          cookEndedAt: '2026-11-25T10:40:00+00:00',
        },
      ],
    },
  },
});

export const createPackingRun = defineOperation({
  id: 'createPackingRun',
  method: 'post',
  path: '/v1/batches/{batchId}/packing-runs',
  tag,
  summary: 'Seal food as packs',
  description:
    'A request. Each fill takes from one lot and makes one lot of packs; a run that changes over between lots has several. Packs are serialised 1 to n unless said otherwise. Work may go on while the food awaits release.',
  permission: 'production.write',
  naming: 'fact',
  mode: 'write',
  params,
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

export const createBatchCompletion = defineOperation({
  id: 'createBatchCompletion',
  method: 'post',
  path: '/v1/batches/{batchId}/completion',
  tag,
  summary: 'Complete a batch with its losses',
  description:
    'Consumed = outputs + losses + unexplained; the unexplained is always shown, never spread over other lines.',
  permission: 'production.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z
    .strictObject({
      id: factId,
      completedAt: instant.optional(),
      losses: z
        .array(z.strictObject({ kind: z.enum(['trim', 'cooking-loss', 'drip-loss', 'sample', 'other']), massG }))
        .max(5),
    })
    .meta({ id: 'NewBatchCompletion' }),
  answers: { 201: { description: 'Completed', schema: Batch, headers: ['Location'] } },
  errors: ['not-found', 'wrong-state', 'time-in-future', 'rule-broken'],
  example: {
    status: 201,
    params: { batchId: exampleId('batch/open') },
    body: { id: exampleId('new/batch-completion'), losses: [{ kind: 'cooking-loss', massG: 2600 }] },
  },
});

const decided = (description: string) => ({ 201: { description, schema: Batch, headers: ['Location'] as const } });

export const createRelease = defineOperation({
  id: 'createRelease',
  method: 'post',
  path: '/v1/batches/{batchId}/release',
  tag,
  summary: 'Release loads: they may leave the kitchen',
  description: 'A decision of the quality lead. What was made from food that is not released itself waits for that.',
  permission: 'release.write',
  naming: 'fact',
  mode: 'exclusive',
  params,
  body: z
    .strictObject({
      id: factId,
      lotIds: z.array(uuid).min(1).max(50).optional().meta({ description: 'All that wait, if left out' }),
      note: text(1000).optional(),
    })
    .meta({ id: 'NewRelease' }),
  answers: decided('Released'),
  errors: ['not-found', 'wrong-state', 'ancestors-not-released'],
  example: { status: 201, params: { batchId: exampleId('batch/awaiting') }, body: { id: exampleId('new/release') } },
});

export const createRejection = defineOperation({
  id: 'createRejection',
  method: 'post',
  path: '/v1/batches/{batchId}/rejection',
  tag,
  summary: 'Reject loads: they, and all that was made from them, may not be used',
  permission: 'release.write',
  naming: 'fact',
  mode: 'exclusive',
  params,
  body: z
    .strictObject({
      id: factId,
      lotIds: z.array(uuid).min(1).max(50).optional().meta({ description: 'All loads of the batch, if left out' }),
      reason: text(1000),
    })
    .meta({ id: 'NewRejection' }),
  answers: decided('Rejected'),
  errors: ['not-found', 'wrong-state'],
  example: {
    status: 201,
    params: { batchId: exampleId('batch/awaiting') },
    body: { id: exampleId('new/rejection'), reason: 'Core temperature was not reached' },
  },
});
