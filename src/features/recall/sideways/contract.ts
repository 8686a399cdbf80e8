/** What shared something with the scope of a case. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { quantityOrZero, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { Suggestion, suggestionKinds } from './shapes.ts';

const Sideways = z
  .object({
    recallId: uuid,
    scopeLotCount: quantityOrZero,
    suggestions: z.array(Suggestion).max(200),
    cutShort: z
      .array(z.enum(suggestionKinds))
      .meta({ description: 'Kinds of which there is more than is shown, or that were too many to look through' }),
    assumptions: z.array(z.string()),
  })
  .meta({ id: 'RecallSideways' });

export const listSideways = defineOperation({
  id: 'listSideways',
  method: 'get',
  path: '/v1/recalls/{recallId}/sideways',
  tag: 'recall',
  summary: 'What shared a machine, a packer, a van, a place, a delivery or a code with the food of a case',
  description:
    'Offered, never added: to take one in, post its start to the case. Each says in words why, and which lots it would add. Up to 20 of each kind, ' +
    'the latest first; cutShort names the kinds of which there is more. With places=true every place where the food stood is looked at, else only those ' +
    'that goods came into too warm meanwhile.',
  permission: 'recalls.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ recallId: uuid }),
  query: z.strictObject({ places: z.enum(['true', 'false']).optional().meta({ description: 'false if left out' }) }),
  answers: { 200: { description: 'Suggestions, by kind', schema: Sideways } },
  errors: ['not-found'],
  example: { status: 200, params: { recallId: exampleId('recall/parsley') }, query: { places: 'true' } },
});

export type SidewaysAnswer = z.output<typeof Sideways>;
