/** What kitchens do about requirements: the production sheet and the pick list. Both are computed on reading and post nothing. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { date, instant, unit, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { asked, meal, portions } from './contract.ts';

const tag = 'requirements';
const packs = z.int().min(0);
const portionsPerPack = z.int().min(1).meta({ description: 'Of the item; 1 when it does not say' });
const exact = z
  .object({ numerator: z.string(), denominator: z.string() })
  .meta({ id: 'ExactNumber', description: 'A fraction in lowest terms' });
const massG = z.number().min(0).meta({ description: 'Grams, to the milligram' });

const Recipe = z.object({
  recipeId: uuid,
  code: z.string(),
  name: z.string(),
  makesItemId: uuid,
  oneBatchG: massG.meta({ description: 'What one batch is expected to give' }),
  batches: exact,
  wholeBatches: z.int().min(0).meta({ description: 'Rounded up' }),
  inputs: z.array(
    z.object({
      itemId: uuid,
      itemName: z.string(),
      unit,
      quantity: z.int().min(0).meta({ description: 'For what is to make, rounded up to whole units' }),
      exact,
    }),
  ),
});

const SheetItem = z.object({
  itemId: uuid,
  itemCode: z.string(),
  itemName: z.string(),
  portionsPerPack,
  required: z.array(
    z.object({ siteId: uuid, siteCode: z.string(), siteName: z.string(), meal, mealAt: instant, portions }),
  ),
  requiredPortions: portions,
  departedPortions: portions.meta({ description: 'Of these, what has left already' }),
  releasedPortions: portions.meta({ description: 'On hand here, free to leave, in date at the first of these meals' }),
  awaitingPortions: portions.meta({
    description: 'On hand here and in date, but waiting for its release or the laboratory: counted as if it will pass',
  }),
  earlierPortions: portions.meta({ description: 'Of what is on hand, what earlier meals still need' }),
  toMakePortions: portions,
  toMakePacks: packs,
  toMakeG: massG.meta({ description: 'The food in the packs to make, by the nominal mass of a pack' }),
  unsuitable: z
    .array(z.object({ ...asked, siteCode: z.string(), portions, why: z.string() }))
    .meta({ description: 'Asked for in a texture or diet that this item does not have: in none of the other numbers' }),
  recipes: z.array(Recipe).meta({
    description:
      'Each active recipe of the item, or of what its food is booked as once opened, as an alternative for all that is to make; empty when there is none',
  }),
});

export const getProductionSheet = defineOperation({
  id: 'getProductionSheet',
  method: 'get',
  path: '/v1/production-sheet',
  tag,
  summary: 'What a kitchen still has to make for what sites need',
  description:
    "A central kitchen's sheet has the needs of all sites, a satellite's its own. Stock at other sites is not counted. Listed only: nothing is reserved or posted.",
  permission: 'requirements.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ siteId: uuid, serviceDate: date, meal: meal.optional() }),
  answers: {
    200: {
      description: 'By item',
      schema: z
        .object({
          siteId: uuid,
          serviceDate: date,
          meal: meal.nullable(),
          items: z.array(SheetItem),
          assumed: z.array(z.string()).meta({ description: 'What the numbers rest on' }),
        })
        .meta({ id: 'ProductionSheet' }),
    },
  },
  errors: ['not-found', 'rule-broken'],
  example: { status: 200, role: 'kitchen', query: { siteId: exampleId('site/ck'), serviceDate: '2026-11-26' } },
});

const Taken = z.object({ lotId: uuid, lotCode: z.string(), packs, useByAt: instant.nullable() });

export const getPickList = defineOperation({
  id: 'getPickList',
  method: 'get',
  path: '/v1/pick-list',
  tag,
  summary: 'What to take from which place for what a site still needs',
  description:
    'Oldest date in force first; only what may leave, is in date at the meal with the life left that you ask for, is of the texture and diets asked for, and is not planned for another dispatch. A proposal: nothing is reserved, and it is checked again when the dispatch is planned and when it departs.',
  permission: 'requirements.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    fromSiteId: uuid,
    toSiteId: uuid,
    serviceDate: date,
    meal: meal.optional(),
    minimumLifeLeftH: z
      .string()
      .regex(/^(0|[1-9]\d{0,3})$/, 'whole hours from 0 to 9999')
      .optional()
      .meta({ description: 'Hours that must be left at the meal; 0 if left out: in date at the meal' }),
  }),
  answers: {
    200: {
      description: 'By meal and item, and the same again by place',
      schema: z
        .object({
          fromSiteId: uuid,
          toSiteId: uuid,
          serviceDate: date,
          minimumLifeLeftH: z.int(),
          lines: z.array(
            z.object({
              ...asked,
              mealAt: instant,
              requiredPortions: portions,
              coveredPortions: portions.meta({ description: 'Planned or departed already' }),
              toPickPortions: portions,
              portionsPerPack,
              packs: packs.meta({ description: 'Whole packs for them' }),
              picks: z.array(Taken.extend({ placeId: uuid, placeName: z.string() })),
              shortPortions: portions,
              shortPacks: packs,
              whyShort: z.string().nullable(),
            }),
          ),
          places: z
            .array(
              z.object({
                placeId: uuid,
                placeName: z.string(),
                lots: z.array(Taken.extend({ itemName: z.string() })),
              }),
            )
            .meta({ description: 'The walk: what to take from each place' }),
        })
        .meta({ id: 'PickList' }),
    },
  },
  errors: ['not-found', 'rule-broken'],
  example: {
    status: 200,
    role: 'kitchen',
    query: { fromSiteId: exampleId('site/ck'), toSiteId: exampleId('site/w3'), serviceDate: '2026-11-26' },
  },
});
