/** What goes into a batch: asked for, or recorded afterwards. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { factId, instant, quantity, unit, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { EntryAnswer } from '../ledger/index.ts';
import { batchParams } from './contract.ts';

const tag = 'production';
const input = {
  id: factId,
  lotId: uuid.optional(),
  itemId: uuid.optional().meta({
    description:
      'Instead of lotId: for items that are not kept by lot, with binPlaceId, or with placeId for the lot in use there',
  }),
  placeId: uuid.optional().meta({ description: 'Where it is taken from; required with lotId' }),
  binPlaceId: uuid
    .optional()
    .meta({ description: 'Taken from a bin, with itemId: any lot that it held since it was last empty may be in it' }),
  quantity,
  unit,
};
const params = { batchId: exampleId('batch/open') };
const example = {
  lotId: exampleId('lot/beef-shin-3'),
  placeId: exampleId('place/ck-chiller'),
  quantity: 500,
  unit: 'g',
};

export const createBatchInput = defineOperation({
  id: 'createBatchInput',
  method: 'post',
  path: '/v1/batches/{batchId}/inputs',
  tag,
  summary: 'Put a lot into a batch',
  description:
    'A request: refused for stock, hold or date. An item that is not kept by lot (water, salt) is named by itemId alone. From a bin, every lot that it held since it was last empty is a parent of what the batch makes, and one of them on hold or past its date refuses the whole; it is booked from what is there, oldest in first. Once a load of a batch with a process plan is released nothing more goes in. If the batch has outputs that still wait, they get the holds, the allergens and the earlier use-by of the late input.',
  permission: 'production.write',
  naming: 'fact',
  mode: 'write',
  params: batchParams,
  body: z.strictObject({ ...input, occurredAt: instant.optional() }).meta({ id: 'NewBatchInput' }),
  answers: { 201: { description: 'Put in', schema: EntryAnswer, headers: ['Location'] } },
  errors: [
    'not-found',
    'wrong-state',
    'unit-mismatch',
    'insufficient-stock',
    'on-hold',
    'not-for-rework',
    'past-use-by',
    'quarantined',
    'regenerated-stays',
    'would-make-a-loop',
    'time-in-future',
    'rule-broken',
  ],
  example: { status: 201, params, body: { id: exampleId('new/batch-input'), ...example } },
});

export const createRecordedBatchInput = defineOperation({
  id: 'createRecordedBatchInput',
  method: 'post',
  path: '/v1/batches/{batchId}/recorded-inputs',
  tag,
  summary: 'Record that a lot went into a batch',
  description:
    'An observation, for when the food is in the pot already: it always posts, into a completed batch too. What conflicts with the rules is a finding. If the input was past its use-by, in quarantine or on hold in that place, whatever the batch made and makes is put on a quality hold; holds that spread, such as a recall, reach it by themselves. A fill of a bin that is told later, but came before, joins what was taken. A person decides what becomes of it.',
  permission: 'production.write',
  naming: 'fact',
  mode: 'write',
  params: batchParams,
  body: z.strictObject({ ...input, occurredAt: instant }).meta({ id: 'NewRecordedBatchInput' }),
  answers: { 201: { description: 'Recorded', schema: EntryAnswer, headers: ['Location'] } },
  errors: ['not-found', 'unit-mismatch', 'rule-broken'],
  example: {
    status: 201,
    params,
    body: { id: exampleId('new/recorded-batch-input'), ...example, occurredAt: '2026-11-25T10:15:00+00:00' },
  },
});
