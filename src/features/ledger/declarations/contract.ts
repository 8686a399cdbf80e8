/** Where the allergens of a lot come from. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { allergenCodes, lotCode, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { lotParams } from '../shapes.ts';

/** Lots that bring one allergen in, for one code. */
export const MOST_WAYS = 20;

const Stop = z.object({ lotId: uuid, lotCode, itemName: z.string() });

const Way = z.object({
  lots: z.array(Stop).meta({ description: 'The shortest way: this lot first, the one that brings it in last' }),
  because: z.enum(['item', 'birth', 'later']).meta({
    description:
      'Why the last lot holds it though nothing that went into it does. item: its item declares it; birth: its delivery said so, or its item did then; later: a person added it, or what brought it was taken out of the books since',
  }),
});

const AllergenPaths = z
  .object({
    lotId: uuid,
    lotCode,
    itemId: uuid,
    itemName: z.string(),
    allergens: allergenCodes.meta({ description: 'What the label says: the union over everything that went in' }),
    declaredByItem: allergenCodes,
    undeclared: allergenCodes.meta({ description: 'In the lot, and not declared by its item' }),
    paths: z.array(
      z.object({
        allergen: z.string(),
        declaredByItem: z.boolean(),
        ways: z
          .array(Way)
          .meta({ description: `One for each lot that brings it in, shortest first, at most ${MOST_WAYS}` }),
        furtherWays: z.int().min(0).meta({ description: 'Lots that bring it in and are not among them' }),
      }),
    ),
    complete: z.boolean().meta({ description: 'false: the lot is made of more lots than are looked through' }),
    assumptions: z.array(z.string()),
  })
  .meta({ id: 'AllergenPaths' });

export const getAllergenPaths = defineOperation({
  id: 'getAllergenPaths',
  method: 'get',
  path: '/v1/lots/{lotId}/allergens',
  tag: 'process-checks',
  summary: 'Which allergens a lot holds, and which way each came in',
  description:
    'The union over all that went into the lot, through the whole lot graph, against what its item declares. A code that the item does not declare is a finding (allergen-undeclared) and a hold (declaration) on the lot. Each way names lots and items only. An allergen once in is never taken out, whatever is undone later. A record of what was declared and entered is no test for what is in the food: the competent person decides.',
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  params: lotParams,
  answers: { 200: { description: 'Its allergens and their ways', schema: AllergenPaths } },
  errors: ['not-found'],
  example: { status: 200, params: { lotId: exampleId('lot/soup-c-packs-1') } },
});
