/** How a site keeps raw food and allergens apart on its machines, and its own limits for checks outside any plan. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { factId, instant, line, text, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import * as shapes from './shapes.ts';

const bound = z.number().min(-100).max(100_000).multipleOf(0.001);
const rawOnPacker = z
  .enum(['refuse', 'hold'])
  .meta({ description: 'Ready-to-eat food on a packer that last ran raw food without a recorded clean-down in full' });
const allergenChangeover = z
  .enum(['refuse', 'hold', 'finding'])
  .meta({ description: 'Food on a machine that last ran an allergen which it does not hold, without a clean-down' });

const setting = <T extends z.ZodType>(value: T) =>
  z.object({
    value,
    source: z.string(),
    edition: z.string(),
    basis: shapes.sourceBasis,
    standing: z.string().meta({ description: 'Law, guidance or custom, and what follows from that' }),
  });

const SiteProcessPolicy = z
  .object({
    siteId: uuid,
    jurisdiction: z.string(),
    rawOnPacker: setting(rawOnPacker),
    allergenChangeover: setting(allergenChangeover),
    twoPeople: setting(z.boolean()),
    limits: z
      .array(
        z.object({
          stage: shapes.stage.nullable().meta({ description: 'null: at any stage' }),
          kind: shapes.checkKind,
          limit: shapes.Limit,
          source: shapes.Source,
          assumption: z.string().nullable(),
          own: z.boolean().meta({ description: "The site's own, in place of its jurisdiction's" }),
          looser: z.boolean().meta({ description: "It asks less than the jurisdiction's default" }),
        }),
      )
      .meta({ description: 'What checks outside any plan are held against; a plan that says default gets these too' }),
    policy: z
      .object({
        policyId: uuid,
        version: z.int(),
        confirmedBy: z.string(),
        note: z.string().nullable(),
        recordedAt: instant,
        recordedBy: uuid,
      })
      .nullable()
      .meta({ description: "null: the site has said nothing; all is its jurisdiction's" }),
    cautions: shapes.cautions,
  })
  .meta({ id: 'SiteProcessPolicy' });

const params = z.strictObject({ siteId: uuid });
const path = '/v1/sites/{siteId}/process-policy';
const tag = 'process-checks';

export const getSiteProcessPolicy = defineOperation({
  id: 'getSiteProcessPolicy',
  method: 'get',
  path,
  tag,
  summary: 'How a site keeps raw food and allergens apart, and what its checks are held against',
  permission: 'process-plans.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'What counts there', schema: SiteProcessPolicy } },
  errors: ['not-found'],
  example: { status: 200, params: { siteId: exampleId('site/ck') } },
});

export const createSiteProcessPolicy = defineOperation({
  id: 'createSiteProcessPolicy',
  method: 'post',
  path,
  tag,
  summary: "Set a site's own process policy in place of its jurisdiction's defaults",
  description:
    'The newest version counts, as a whole: limits that are left out are those of the jurisdiction again. Batches that are open keep the limits that ' +
    'they were opened with. A limit that asks less than the default is taken, and is marked so wherever it is answered.',
  permission: 'process-plans.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z
    .strictObject({
      id: factId,
      rawOnPacker,
      allergenChangeover,
      twoPeople: shapes.twoPeople,
      limits: z
        .array(
          z.strictObject({
            stage: shapes.stage,
            kind: shapes.checkKind,
            atLeast: bound.optional(),
            atMost: bound.optional(),
            source: line(500).meta({ description: 'Where the number is from' }),
          }),
        )
        .max(60)
        .optional(),
      confirmedBy: line(100).meta({ description: 'Who is competent to say so, by name' }),
      note: text(1000).optional(),
    })
    .meta({ id: 'NewSiteProcessPolicy' }),
  answers: { 201: { description: 'Kept as the newest version', schema: SiteProcessPolicy, headers: ['Location'] } },
  errors: ['not-found', 'rule-broken'],
  example: {
    status: 201,
    role: 'quality',
    params: { siteId: exampleId('site/ck') },
    body: {
      id: exampleId('new/process-policy'),
      rawOnPacker: 'refuse',
      allergenChangeover: 'hold',
      twoPeople: true,
      limits: [
        {
          stage: 'storage',
          kind: 'temperature',
          atMost: 5,
          source: "The group's food-safety plan, chapter 4",
        },
      ],
      confirmedBy: 'Nora Pell',
      note: 'After the autumn review',
    },
  },
});
