/** Allergens of a lot corrected upward, after its birth. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { allergenCodes, factId, lotCode, quantity, quantityOrZero, text, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { LotDetail } from './contract-lots.ts';
import { lotParams } from './shapes.ts';

const Reached = z
  .object({
    lotId: uuid,
    lotCode,
    itemName: z.string(),
    labelLeavesOut: allergenCodes.meta({ description: 'In the lot by now, and not declared when it was born' }),
    siteId: uuid,
    siteName: z.string(),
    onHand: quantityOrZero,
    onTheWay: quantityOrZero.meta({ description: 'On the road to the site' }),
    served: quantityOrZero.meta({ description: 'Served there already: somebody may have to be told' }),
  })
  .meta({ id: 'AllergenReach', description: 'Food whose label declares less than is in it, and where it is' });

export const createAllergenCorrection = defineOperation({
  id: 'createAllergenCorrection',
  method: 'post',
  path: '/v1/lots/{lotId}/allergen-corrections',
  tag: 'lots',
  summary: 'Add allergens to a lot, and to all that was made from it',
  description:
    'Only ever adds; what is declared is never taken back. Everything made from the lot gets them too, with the cause. Food whose label declares less is a finding at every site where it is or is going. Food made of it whose item does not declare the allergen is put on hold (declaration) at the kitchen that made it, so that no more of it leaves before its label is seen. Nothing is held where it has gone: hot food is not left standing for it. So tell every site named, before they serve; place a hold where nobody can be told in time. Who has eaten of what was served already is for a competent person to follow up.',
  permission: 'holds.write',
  naming: 'fact',
  mode: 'exclusive',
  params: lotParams,
  body: z
    .strictObject({
      id: factId,
      allergens: allergenCodes,
      mayContain: allergenCodes.optional(),
      reason: text(500),
    })
    .meta({ id: 'NewAllergenCorrection' }),
  answers: {
    201: {
      description: 'Added, here and in what was made from it',
      schema: LotDetail.extend({
        lotsReached: quantity.meta({ description: 'Lots that hold it now, this one included' }),
        reached: z.array(Reached).meta({ description: 'At most 500, on hand before served' }),
        tell: z.string().meta({ description: 'What to do now, in words' }),
      }).meta({ id: 'AllergenCorrection' }),
      headers: ['Location'],
    },
  },
  errors: ['not-found', 'allergen-unknown', 'rule-broken'],
  example: {
    status: 201,
    params: { lotId: exampleId('lot/carrots-1') },
    body: {
      id: exampleId('new/allergen-correction'),
      allergens: ['celery'],
      reason: 'The grower washed celeriac on the same line',
    },
  },
});
