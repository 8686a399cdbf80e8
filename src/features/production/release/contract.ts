/** The quality decision on a batch: what stands between its lots and their release, release, reject. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { code, factId, line, lotCode, said, text, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { HoldBrief } from '../../ledger/index.ts';
import { Batch, BatchPlanBrief, batchParams, checksState, lotState } from '../contract.ts';

const Point = z.object({
  code: z.string(),
  label: z.string(),
  state: z.enum(['passed', 'failed', 'missing', 'deviation-open']),
  checkId: uuid.nullable().meta({ description: 'The check that rules' }),
  critical: z.boolean(),
  requiredFor: z.enum(['release', 'packing']).nullable().meta({ description: 'null: wanted, and holds nothing up' }),
});

const LotReadiness = z.object({
  lotId: uuid,
  lotCode,
  loadNo: z.int().nullable(),
  packingRunId: uuid.nullable(),
  state: lotState,
  checks: checksState.nullable().meta({ description: 'null: the batch has no plan' }),
  points: z.array(Point).meta({ description: 'Of the plan, those that this lot needs' }),
  missing: z.array(z.string()).meta({ description: 'In words, what is not as release wants it' }),
  holds: z
    .array(HoldBrief)
    .meta({ description: 'Open holds that reach it, beside its own wait: those of food before it included' }),
  releasesByItself: z
    .boolean()
    .meta({ description: 'It will be released as soon as its checks allow, with nobody asked' }),
  why: z.array(z.string()).meta({ description: 'In words, why a person has to decide; empty when nobody has to' }),
});

const ReleaseReadiness = z
  .object({
    batchId: uuid,
    batchCode: code,
    processPlan: BatchPlanBrief.nullable(),
    twoPeople: z
      .boolean()
      .meta({ description: 'By plan or site: whoever had a hand in the batch does not release it' }),
    lots: z.array(LotReadiness),
  })
  .meta({ id: 'ReleaseReadiness', description: 'What stands between the lots of a batch and their release' });

export const getReleaseReadiness = defineOperation({
  id: 'getReleaseReadiness',
  method: 'get',
  path: '/v1/batches/{batchId}/release-readiness',
  tag: 'production',
  summary: 'Read what stands between a batch and its release',
  description:
    'Per load, and per lot of packs: which points of the plan have passed, failed or are missing, what else holds it, and whether it will be released by itself. The quality lead decides; this decides nothing.',
  permission: 'production.read',
  naming: 'none',
  mode: 'read',
  params: batchParams,
  answers: { 200: { description: 'What is there and what is missing', schema: ReleaseReadiness } },
  errors: ['not-found'],
  example: { status: 200, params: { batchId: exampleId('batch/awaiting') } },
});

const decided = (description: string) => ({ 201: { description, schema: Batch, headers: ['Location'] as const } });

export const createRelease = defineOperation({
  id: 'createRelease',
  method: 'post',
  path: '/v1/batches/{batchId}/release',
  tag: 'production',
  summary: 'Release loads and packs: they may leave the kitchen',
  description:
    'A decision of the quality lead. What was made from food that is not released itself waits for that. Where the batch has a process plan, each lot needs its checks: a point that is missing or has failed is accepted by name, with a reason, or the lot goes on waiting; a critical one cannot be accepted. Left to us (no lotIds), all that are ready are released; what was done about a failed check has to be closed for that. Holds of failed checks at accepted points, and of checks that were corrected, end with it; other holds stay. Where plan or site want two people, whoever had a hand in the batch does not release it.',
  permission: 'release.write',
  naming: 'fact',
  mode: 'exclusive',
  params: batchParams,
  body: z
    .strictObject({
      id: factId,
      lotIds: z.array(uuid).min(1).max(50).optional().meta({ description: 'All that wait, if left out' }),
      accept: z
        .array(z.strictObject({ controlPoint: line(60), reason: said(1000) }))
        .min(1)
        .max(50)
        .optional()
        .meta({
          description: 'Points of the plan that are missing or failed, and why the food may leave all the same',
        }),
      note: text(1000).optional(),
    })
    .meta({ id: 'NewRelease' }),
  answers: decided('Released'),
  errors: [
    'not-found',
    'wrong-state',
    'rule-broken',
    'checks-not-passed',
    'ancestors-not-released',
    'releaser-made-it',
  ],
  example: { status: 201, params: { batchId: exampleId('batch/awaiting') }, body: { id: exampleId('new/release') } },
});

export const createRejection = defineOperation({
  id: 'createRejection',
  method: 'post',
  path: '/v1/batches/{batchId}/rejection',
  tag: 'production',
  summary: 'Reject loads or packs: they, and all that was made from them, may not be used',
  description:
    'To discard, or for rework: then they, and what was made from them, may go only into a batch with a kill step, and the hold ends there. What was rejected for rework may still be rejected to discard: then what was made of it with heat meanwhile stays as it was decided, and is rejected by itself if need be. Holds of failed checks on them end; the decision takes their place.',
  permission: 'release.write',
  naming: 'fact',
  mode: 'exclusive',
  params: batchParams,
  body: z
    .strictObject({
      id: factId,
      lotIds: z.array(uuid).min(1).max(50).optional().meta({ description: 'All loads of the batch, if left out' }),
      disposition: z.enum(['discard', 'rework']).optional().meta({ description: 'discard, if left out' }),
      reason: said(1000),
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
