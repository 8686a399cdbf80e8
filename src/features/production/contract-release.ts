/** The quality decision on a batch: release or reject. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { factId, text, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { Batch, batchParams } from './contract.ts';

const decided = (description: string) => ({ 201: { description, schema: Batch, headers: ['Location'] as const } });

export const createRelease = defineOperation({
  id: 'createRelease',
  method: 'post',
  path: '/v1/batches/{batchId}/release',
  tag: 'production',
  summary: 'Release loads: they may leave the kitchen',
  description: 'A decision of the quality lead. What was made from food that is not released itself waits for that.',
  permission: 'release.write',
  naming: 'fact',
  mode: 'exclusive',
  params: batchParams,
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
  tag: 'production',
  summary: 'Reject loads: they, and all that was made from them, may not be used',
  permission: 'release.write',
  naming: 'fact',
  mode: 'exclusive',
  params: batchParams,
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
