/** Requirements: what sites need for a meal, and what was sent against it. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { date, factId, instant, line, pageQuery, text, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { requirementIdOf } from './names.ts';

const tag = 'requirements';
const MOST_PORTIONS = 100_000;
export const MOST_LINES = 1_000;

export const meal = z.enum(['breakfast', 'lunch', 'dinner', 'other']);
export const portions = z.int().min(0);
const textureLevel = z.int().min(0).max(7);
const dietCodes = z.array(z.string().min(1).max(40)).max(20);

const NewRequirement = z.strictObject({
  serviceDate: date.meta({ description: "The day of the meal, by the site's calendar" }),
  meal,
  itemId: uuid.meta({ description: 'An item counted in pieces' }),
  portions: z.int().min(0).max(MOST_PORTIONS).meta({ description: '0: not wanted any more' }),
  textureLevel: textureLevel.optional().meta({
    description: 'IDDSI level, see shared/diets.json. Only food of exactly this level is ever sent for it',
  }),
  dietCodes: dietCodes
    .optional()
    .meta({ description: 'Diets of shared/diets.json that the food must suit, all of them' }),
  note: line(200).optional().meta({ description: 'For the kitchen; never the name of who eats it' }),
});

/** What a requirement asks for; the same in every answer about it. */
export const asked = {
  requirementId: uuid,
  siteId: uuid,
  serviceDate: date,
  meal,
  itemId: uuid,
  itemCode: z.string(),
  itemName: z.string(),
  textureLevel: textureLevel.nullable(),
  dietCodes,
};

const Requirement = z
  .object({
    ...asked,
    portions,
    note: z.string().nullable(),
    revision: z.int().min(1).meta({ description: 'How often a number was given; the last stands' }),
    recordedAt: instant,
    recordedBy: uuid,
    whyUnsuitable: z.string().nullable().meta({
      description:
        'Why the item itself does not meet what is asked for, so that no pack of it will be picked; null when it does',
    }),
  })
  .meta({ id: 'Requirement', description: 'What a site needs of one item for one meal, as it stands' });

/** Of the demo, for examples. */
export const W3_LUNCH = {
  siteId: exampleId('site/w3'),
  serviceDate: '2026-11-25',
  meal: 'lunch',
  itemId: exampleId('item/beef-stew-pack'),
  textureLevel: null,
  dietCodes: [],
} as const;
const W7_LUNCH = requirementIdOf({ ...W3_LUNCH, siteId: exampleId('site/w7') });

export const createRequirements = defineOperation({
  id: 'createRequirements',
  method: 'post',
  path: '/v1/requirements',
  tag,
  summary: 'Say what sites need',
  description: `Up to ${MOST_LINES} lines, as lines of one site or as CSV for one or several; all or none. A later number for the same site, date, meal, item, texture and diets replaces the earlier one, which stays in the history. CSV has a heading row with the columns site code, date, meal, item code, portions, texture and diets (semicolon-separated), and note if you like, in any order; texture and diets may be empty but not left out, so that nobody loses a texture by a forgotten column. With siteId, site code may be left out.`,
  permission: 'requirements.write',
  naming: 'fact',
  mode: 'write',
  bodyLimitKb: 1024,
  body: z
    .strictObject({
      id: factId,
      siteId: uuid.optional().meta({ description: 'Needed with lines' }),
      lines: z.array(NewRequirement).min(1).max(MOST_LINES).optional(),
      csv: text(400_000).optional().meta({ description: 'In place of lines' }),
    })
    .meta({ id: 'NewRequirements' }),
  answers: {
    201: {
      description: 'Recorded; each requirement as it stands now',
      schema: z.object({ factId: uuid, requirements: z.array(Requirement) }).meta({ id: 'RequirementsAnswer' }),
    },
  },
  errors: ['not-found', 'item-unsuitable', 'diet-unknown', 'csv-unreadable', 'rule-broken'],
  example: {
    status: 201,
    role: 'receiver',
    body: {
      id: exampleId('new/requirements'),
      siteId: W3_LUNCH.siteId,
      lines: [
        { serviceDate: '2026-11-27', meal: 'dinner', itemId: W3_LUNCH.itemId, portions: 14, note: 'Two on bay C' },
      ],
    },
  },
});

export const listRequirements = defineOperation({
  id: 'listRequirements',
  method: 'get',
  path: '/v1/requirements',
  tag,
  summary: 'List what your sites need, as it stands',
  permission: 'requirements.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...pageQuery,
    siteId: uuid.optional(),
    serviceDate: date.optional(),
    meal: meal.optional(),
    itemId: uuid.optional(),
    cancelled: z.enum(['true', 'false']).optional().meta({ description: 'true: those at 0 portions too' }),
  }),
  answers: { 200: { description: 'By date', schema: pageSchema(Requirement), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200, query: { siteId: W3_LUNCH.siteId, serviceDate: '2026-11-25' } },
});

export const getRequirement = defineOperation({
  id: 'getRequirement',
  method: 'get',
  path: '/v1/requirements/{requirementId}',
  tag,
  summary: 'Read a requirement and every number that was given for it',
  permission: 'requirements.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ requirementId: uuid }),
  answers: {
    200: {
      description: 'The requirement',
      schema: Requirement.extend({
        numbers: z
          .array(
            z.object({
              revision: z.int(),
              portions,
              note: z.string().nullable(),
              factId: uuid,
              recordedAt: instant,
              recordedBy: uuid,
            }),
          )
          .meta({ description: 'The newest first, at most 200' }),
      }).meta({ id: 'RequirementHistory' }),
    },
  },
  errors: ['not-found'],
  example: { status: 200, params: { requirementId: requirementIdOf(W3_LUNCH) } },
});

const shortPick = {
  shortPickId: uuid,
  dispatchId: uuid,
  requirementId: uuid,
  shortPortions: portions,
  reason: z.string(),
  recordedAt: instant,
  recordedBy: uuid,
};

export const createShortPick = defineOperation({
  id: 'createShortPick',
  method: 'post',
  path: '/v1/dispatches/{dispatchId}/short-picks',
  tag,
  summary: 'Say that a dispatch is short of what was required, and why',
  description: 'The last one for a dispatch and a requirement stands; 0 portions: it was found after all.',
  permission: 'dispatch.write',
  naming: 'fact',
  mode: 'write',
  params: z.strictObject({ dispatchId: uuid }),
  body: z
    .strictObject({
      id: factId,
      requirementId: uuid,
      shortPortions: z.int().min(0).max(MOST_PORTIONS),
      reason: line(200),
    })
    .meta({ id: 'NewShortPick' }),
  answers: { 201: { description: 'Recorded', schema: z.object(shortPick).meta({ id: 'ShortPick' }) } },
  errors: ['not-found'],
  example: {
    status: 201,
    params: { dispatchId: exampleId('dispatch/w7-planned') },
    body: {
      id: exampleId('new/short-pick'),
      requirementId: W7_LUNCH,
      shortPortions: 3,
      reason: 'One tray did not pass the seal check',
    },
  },
});

export const getRequirementCoverage = defineOperation({
  id: 'getRequirementCoverage',
  method: 'get',
  path: '/v1/requirement-coverage',
  tag,
  summary: 'What was planned, sent and received against what a site needs',
  description:
    'Counts the lines of dispatches that name a requirement. What was accepted is recorded by dispatch and lot; where two lines of a dispatch carry the same lot it is shared out in the order of the lines.',
  permission: 'requirements.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ siteId: uuid, serviceDate: date, meal: meal.optional() }),
  answers: {
    200: {
      description: 'By meal and item; those at 0 portions only if anything was sent for them',
      schema: z
        .object({
          siteId: uuid,
          serviceDate: date,
          requirements: z.array(
            z.object({
              ...asked,
              requiredPortions: portions,
              plannedPortions: portions.meta({ description: 'On dispatches that have not left' }),
              departedPortions: portions.meta({ description: 'On dispatches that have left, also those that arrived' }),
              receivedPortions: portions.meta({ description: 'Found good on arrival' }),
              shortPortions: portions.meta({ description: 'Required, and neither planned nor departed' }),
              overPortions: portions.meta({ description: 'Planned and departed beyond what is required' }),
              otherItems: z
                .array(z.object({ itemId: uuid, itemName: z.string(), portions }))
                .meta({ description: 'What was planned or sent in place of the item; it is in the numbers too' }),
              shortPicks: z
                .array(z.object({ dispatchId: uuid, shortPortions: portions, reason: z.string(), recordedAt: instant }))
                .meta({ description: 'What whoever picked could not find, as it stands' }),
            }),
          ),
        })
        .meta({ id: 'RequirementCoverage' }),
    },
  },
  errors: ['not-found', 'rule-broken'],
  example: { status: 200, query: { siteId: W3_LUNCH.siteId, serviceDate: '2026-11-25' } },
});
