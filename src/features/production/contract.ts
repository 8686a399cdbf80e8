/** Batches: open, take out, complete. Inputs, packing, the decision, clean-downs: the other contracts beside this one. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { pageSchema } from '../../platform/http/paging.ts';
import {
  code,
  date,
  factId,
  instant,
  lotCode,
  massG,
  pageQuery,
  quantity,
  unit,
  uuid,
} from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { DESTINATIONS, FindingBrief } from '../ledger/index.ts';

const tag = 'production';
export const batchParams = z.strictObject({ batchId: uuid });

const Decision = z.object({
  outcome: z.enum(['released', 'rejected']),
  lotIds: z.array(uuid),
  reason: z.string().nullable(),
  decidedBy: uuid,
  deputyId: uuid.nullable().meta({ description: 'Decided as a deputy, by that appointment' }),
  decidedAt: instant,
  automatic: z.boolean().meta({
    description: 'Released because every check had passed; decidedBy is then whoever recorded what completed it',
  }),
  accepted: z
    .array(z.object({ controlPoint: z.string(), reason: z.string() }))
    .meta({ description: 'Points that were missing or had failed, and why the food was released all the same' }),
  disposition: z.enum(['discard', 'rework']).nullable().meta({ description: 'Of what was rejected' }),
});

export const lotState = z.enum(['awaiting-release', 'released', 'rejected', 'for-rework']);
export const checksState = z.enum(['complete', 'missing', 'failed', 'deviation-open']);

export const BatchPlanBrief = z.object({
  planId: uuid,
  version: z.int(),
  release: z.enum(['automatic', 'by-hand']),
  twoPeople: z.boolean(),
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
  state: lotState,
  checks: checksState
    .nullable()
    .meta({ description: 'Of the checks that its release wants; null: the batch has no plan' }),
});

export const Batch = z
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
    gains: z.array(z.object({ kind: z.string(), massG: z.number() })),
    losses: z.array(
      z.object({
        kind: z.string(),
        massG: z.number(),
        destination: z.string().nullable(),
        inedibleMassG: z.number().nullable().meta({ description: 'Of it, what nobody eats; null: not said' }),
      }),
    ),
    yield: z
      .object({
        consumedG: z.number(),
        gainsG: z.number(),
        outputsG: z.number(),
        lossesG: z.number(),
        unexplainedG: z
          .number()
          .meta({ description: 'consumed + gains - outputs - losses; below zero is more than went in' }),
        percent: z
          .number()
          .nullable()
          .meta({ description: 'Of what was consumed; over 100 where food takes up water' }),
        expectedPercent: z.number(),
      })
      .meta({ id: 'BatchYield' }),
    decisions: z.array(Decision),
    processPlan: BatchPlanBrief.nullable().meta({ description: 'The plan that it was opened with' }),
    reworkOf: z
      .array(z.object({ lotId: uuid, lotCode, reason: z.string().nullable() }))
      .meta({ description: 'What had been rejected for rework and went in' }),
    version: z.int(),
  })
  .meta({ id: 'Batch', description: 'One production run: lots go in, lots come out' });

export const BatchWithFindings = Batch.extend({
  findings: z.array(FindingBrief).meta({ description: 'What this showed that the rules do not allow' }),
}).meta({ id: 'BatchWithFindings' });

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
        Batch.omit({
          inputs: true,
          lots: true,
          gains: true,
          losses: true,
          yield: true,
          decisions: true,
          processPlan: true,
          reworkOf: true,
        }).meta({ id: 'BatchHead' }),
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
  params: batchParams,
  answers: { 200: { description: 'The batch', schema: Batch } },
  errors: ['not-found'],
  example: { status: 200, params: { batchId: exampleId('batch/open') } },
});

export const createBatchOutputs = defineOperation({
  id: 'createBatchOutputs',
  method: 'post',
  path: '/v1/batches/{batchId}/outputs',
  tag,
  summary: 'Record the loads that came out',
  description:
    "Each load is a lot of its own, born on hold awaiting-release. Its use-by follows from the item's rule and is capped by the shortest-dated input, unless the recipe has a kill step. Without one, a load is as raw as what went in, and food that was thawed and is frozen again is a finding, refrozen, and held.",
  permission: 'production.write',
  naming: 'fact',
  mode: 'write',
  params: batchParams,
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
            placeId: uuid.optional().meta({ description: "Presumed from the site's put-away, if left out" }),
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
  answers: { 201: { description: 'Recorded', schema: BatchWithFindings, headers: ['Location'] } },
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

export const createBatchCompletion = defineOperation({
  id: 'createBatchCompletion',
  method: 'post',
  path: '/v1/batches/{batchId}/completion',
  tag,
  summary: 'Complete a batch with its losses',
  description:
    'Consumed + gains = outputs + losses + unexplained; the unexplained is signed and always shown, never spread over other lines. Rice and pasta gain water: yields over 100 % are normal. Pouches weigh nothing here.',
  permission: 'production.write',
  naming: 'fact',
  mode: 'write',
  params: batchParams,
  body: z
    .strictObject({
      id: factId,
      completedAt: instant.optional(),
      gains: z
        .array(z.strictObject({ kind: z.enum(['water-uptake', 'added-water', 'other']), massG }))
        .max(3)
        .optional()
        .meta({ description: 'Mass that came in without being kept by lot' }),
      losses: z
        .array(
          z.strictObject({
            kind: z.enum(['trim', 'cooking-loss', 'drip-loss', 'sample', 'other']),
            massG,
            destination: z
              .enum(DESTINATIONS)
              .optional()
              .meta({ description: 'Where it went, as in shared/destinations.json' }),
            inedibleMassG: massG.optional().meta({ description: 'Of it, what nobody eats: bones, peel, shells' }),
          }),
        )
        .max(5),
    })
    .meta({ id: 'NewBatchCompletion' }),
  answers: { 201: { description: 'Completed', schema: Batch, headers: ['Location'] } },
  errors: ['not-found', 'wrong-state', 'time-in-future', 'rule-broken'],
  example: {
    status: 201,
    params: { batchId: exampleId('batch/open') },
    body: {
      id: exampleId('new/batch-completion'),
      losses: [
        { kind: 'cooking-loss', massG: 2600 },
        { kind: 'trim', massG: 900, destination: 'anaerobic-digestion', inedibleMassG: 600 },
      ],
    },
  },
});
