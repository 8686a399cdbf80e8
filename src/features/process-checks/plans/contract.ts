/** Process plans: what is checked while food of a recipe is made, and what a check has to show. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { factId, instant, line, pageQuery, text, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import * as shapes from './shapes.ts';

const number = z.number().min(-100).max(100_000).multipleOf(0.001);
const temperatureC = z.number().min(-60).max(150).multipleOf(0.01);
const zValueC = z.number().min(1).max(50).multipleOf(0.01);
const WEEK_MIN = 10_080;
const referenceCode = z.string().regex(/^[a-z0-9][a-z0-9-]{0,39}$/, 'the code of a target or rule');

const ownTarget = z.strictObject({
  label: line().optional(),
  referenceTemperatureC: temperatureC,
  zBelowC: zValueC,
  zAboveC: zValueC,
  targetMinutes: z.number().min(0).max(WEEK_MIN).multipleOf(0.01).meta({ description: 'Above zero' }),
  logReduction: z.number().min(1).max(20).multipleOf(0.1).optional().meta({ description: '6 if left out' }),
});
const ownCooling = z.strictObject({
  label: line().optional(),
  points: z
    .array(
      z.strictObject({
        label: line().optional(),
        fromC: temperatureC.nullable().meta({ description: 'null: from the first point of the series' }),
        toC: temperatureC,
        withinMinutes: z.number().min(1).max(WEEK_MIN).multipleOf(0.01),
      }),
    )
    .min(1)
    .max(5),
});

const limit = z
  .union([
    z.literal('default'),
    z.strictObject({ atLeast: number.optional(), atMost: number.optional() }),
    z.strictObject({ target: z.union([referenceCode, ownTarget]) }),
    z.strictObject({ coolingRule: z.union([referenceCode, ownCooling]) }),
    z.strictObject({ leastTested: z.int().min(1).max(10_000), mostFailed: z.int().min(0).max(9_999) }),
  ])
  .meta({
    description:
      "default, or left out: the site's or its jurisdiction's, when a batch is opened. A target or coolingRule is a code of " +
      'the lists of process checks, or your own numbers; own numbers want a source.',
  });

const NewPoint = z
  .strictObject({
    ...shapes.pointFields,
    label: line(),
    limit: limit.optional(),
    source: line(500).optional().meta({ description: 'Where own numbers are from' }),
    edition: line(100).optional(),
    basis: z
      .enum(['published', 'second-hand', 'common-practice', 'from-memory'])
      .optional()
      .meta({ description: 'Of own numbers; common-practice if left out' }),
    confirmed: z.boolean().optional().meta({
      description:
        'You confirm a number that is from memory, or a limit of heat or cold that asks less than the default of the jurisdiction; false if left out, and then it never releases by itself',
    }),
  })
  .meta({ id: 'NewPlanPoint' });

const ProcessPlan = z
  .object({
    planId: uuid,
    recipeId: uuid,
    version: z.int(),
    release: shapes.release,
    twoPeople: shapes.twoPeople,
    points: z.array(shapes.StoredPoint),
    note: z.string().nullable(),
    recordedAt: instant,
    recordedBy: uuid,
    cautions: shapes.cautions,
  })
  .meta({ id: 'ProcessPlan' });

const recipeParams = z.strictObject({ recipeId: uuid });
const tag = 'process-checks';

export const createProcessPlan = defineOperation({
  id: 'createProcessPlan',
  method: 'post',
  path: '/v1/recipes/{recipeId}/process-plans',
  tag,
  summary: 'Say what is checked while food of a recipe is made',
  description:
    'A new version stands beside the old one; a batch keeps the plan that it was opened with, with the defaults of its site in place. Batches that ' +
    'are open already keep theirs. Where a batch has a plan, it is released on its checks.',
  permission: 'process-plans.write',
  naming: 'fact',
  mode: 'write',
  params: recipeParams,
  body: z
    .strictObject({
      id: factId,
      points: z.array(NewPoint).min(1).max(40),
      release: shapes.release,
      twoPeople: shapes.twoPeople,
      note: text(1000).optional(),
    })
    .meta({ id: 'NewProcessPlan' }),
  answers: { 201: { description: 'Kept as the newest version', schema: ProcessPlan, headers: ['Location'] } },
  errors: ['not-found', 'rule-broken'],
  example: {
    status: 201,
    role: 'quality',
    params: { recipeId: exampleId('recipe/beef-stew') },
    body: {
      id: exampleId('new/process-plan'),
      release: 'automatic',
      twoPeople: false,
      points: [
        {
          code: 'cook',
          label: 'Core after cooking',
          stage: 'cook',
          kind: 'core-temperature',
          per: 'load',
          requiredFor: 'release',
          critical: true,
          repeatable: true,
        },
        {
          code: 'chill',
          label: 'Chilling',
          stage: 'chill',
          kind: 'cooling',
          limit: 'default',
          confirmed: true,
          per: 'load',
          requiredFor: 'release',
          critical: true,
          repeatable: false,
        },
        {
          code: 'ph',
          label: 'pH of the gravy',
          stage: 'cook',
          kind: 'ph',
          limit: { atLeast: 5.2, atMost: 6.2 },
          source: 'Our own trials of the recipe, spring 2026',
          per: 'batch',
          requiredFor: null,
          critical: false,
          repeatable: true,
        },
      ],
      note: 'Written with Nora Pell after the autumn review',
    },
  },
});

export const listProcessPlans = defineOperation({
  id: 'listProcessPlans',
  method: 'get',
  path: '/v1/recipes/{recipeId}/process-plans',
  tag,
  summary: "Versions of a recipe's process plan, newest first",
  permission: 'process-plans.read',
  naming: 'none',
  mode: 'read',
  params: recipeParams,
  query: z.strictObject(pageQuery),
  answers: { 200: { description: 'A page', schema: pageSchema(ProcessPlan), headers: ['Link'] } },
  errors: ['not-found', 'bad-cursor'],
  example: { status: 200, params: { recipeId: exampleId('recipe/beef-stew') } },
});

export const getProcessPlan = defineOperation({
  id: 'getProcessPlan',
  method: 'get',
  path: '/v1/process-plans/{planId}',
  tag,
  summary: 'One version of a process plan',
  permission: 'process-plans.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ planId: uuid }),
  answers: { 200: { description: 'The plan', schema: ProcessPlan } },
  errors: ['not-found'],
  example: { status: 200, params: { planId: exampleId('process-plan/beef-stew') } },
});

export const suggestProcessPlan = defineOperation({
  id: 'suggestProcessPlan',
  method: 'get',
  path: '/v1/recipes/{recipeId}/suggested-process-plan',
  tag,
  summary: "A first draft of a plan, from the recipe's steps and what counts at a site",
  description:
    'Common practice for a competent person to change; nothing is kept. Send `plan` back as it is, or changed, to keep it. `resolved` says which ' +
    'limits the defaults become at the site.',
  permission: 'process-plans.read',
  naming: 'none',
  mode: 'read',
  params: recipeParams,
  query: z.strictObject({ siteId: uuid }),
  answers: {
    200: {
      description: 'The draft',
      schema: z
        .object({
          recipeId: uuid,
          siteId: uuid,
          jurisdiction: z.string(),
          steps: z.array(z.string()),
          plan: z.object({
            release: shapes.release,
            twoPeople: shapes.twoPeople,
            points: z.array(z.object({ ...shapes.pointFields, code: z.string(), label: z.string() })),
          }),
          resolved: z.array(
            z.object({
              code: z.string(),
              reason: z.string().meta({ description: "The trade's reason for the point: common practice" }),
              limit: shapes.Limit,
              source: shapes.Source,
              assumption: z.string().nullable(),
            }),
          ),
          cautions: shapes.cautions,
        })
        .meta({ id: 'SuggestedProcessPlan' }),
    },
  },
  errors: ['not-found'],
  example: {
    status: 200,
    params: { recipeId: exampleId('recipe/beef-stew') },
    query: { siteId: exampleId('site/ck') },
  },
});

export const getBatchProcessPlan = defineOperation({
  id: 'getBatchProcessPlan',
  method: 'get',
  path: '/v1/batches/{batchId}/process-plan',
  tag,
  summary: 'The plan that a batch was opened with, every limit in place',
  description:
    'Not found where the recipe had no plan when the batch was opened: such a batch is released by a person alone.',
  permission: 'process-plans.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ batchId: uuid }),
  answers: {
    200: {
      description: "The batch's copy",
      schema: z
        .object({
          batchId: uuid,
          planId: uuid,
          planVersion: z.int(),
          release: shapes.release,
          twoPeople: shapes.twoPeople,
          points: z.array(shapes.ControlPoint),
          cautions: shapes.cautions,
        })
        .meta({ id: 'BatchProcessPlan' }),
    },
  },
  errors: ['not-found'],
  example: { status: 200, params: { batchId: exampleId('batch/open') } },
});
