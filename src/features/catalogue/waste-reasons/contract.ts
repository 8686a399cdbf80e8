/** Why a site throws food away, in its own words. */
import { z } from 'zod';
import { FOOD_WASTE_STAGES, STANDARD_REASONS } from '../../../domain/waste-reasons.ts';
import { defineOperation } from '../../../platform/http/contract.ts';
import { factId, line, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const tag = 'catalogue';
const code = z
  .string()
  .regex(/^[a-z0-9][a-z0-9-]{0,39}$/, '1 to 40 small letters, digits or dashes')
  .meta({ example: 'bones' });
const label = line(60);
const standardReason = z.enum([...STANDARD_REASONS.keys()]).meta({ description: 'Of shared/discard-reasons.json' });
export const foodWasteStage = z
  .enum(FOOD_WASTE_STAGES)
  .meta({ description: 'Stage of the food supply chain, of the five of Delegated Decision (EU) 2019/1597' });

const WasteReason = z
  .object({
    code: z.string(),
    label: z.string().meta({ description: 'What the site calls it' }),
    standardReason,
    stage: foodWasteStage,
    active: z.boolean().meta({
      description:
        'Offered to people. What is recorded with a reason that is not offered any more is recorded all the same',
    }),
    own: z.boolean().meta({ description: "The site's own code; false: a standard one, renamed or not" }),
    version: z.int().meta({ description: '0: a standard reason that the site has not renamed' }),
  })
  .meta({ id: 'WasteReason' });

const params = z.strictObject({ siteId: uuid });

export const createWasteReason = defineOperation({
  id: 'createWasteReason',
  method: 'post',
  path: '/v1/sites/{siteId}/waste-reasons',
  tag,
  summary: 'Add a reason of the site for throwing food away, or rename a standard one',
  description:
    'A code of its own maps to a standard reason, for ever: what was reported stays true. The code of a standard reason renames that at ' +
    'this site. A site has 100 at most.',
  permission: 'catalogue.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z
    .strictObject({
      id: factId,
      code,
      label,
      standardReason: standardReason
        .optional()
        .meta({ description: 'Needed with a code of its own; a standard code is its own standard reason' }),
    })
    .meta({ id: 'NewWasteReason' }),
  answers: { 201: { description: 'Added', schema: WasteReason, headers: ['ETag'] } },
  errors: ['not-found', 'code-taken', 'rule-broken'],
  example: {
    params: { siteId: exampleId('site/w3') },
    body: {
      id: exampleId('new/waste-reason'),
      code: 'patient-away',
      label: 'Patient away or fasting',
      standardReason: 'over-production',
    },
    role: 'operations',
    status: 201,
  },
});

export const listWasteReasons = defineOperation({
  id: 'listWasteReasons',
  method: 'get',
  path: '/v1/sites/{siteId}/waste-reasons',
  tag,
  summary: 'Reasons that the site has: standard ones and its own',
  permission: 'catalogue.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: {
    200: {
      description: 'All of them, standard ones first',
      schema: z
        .object({ siteId: uuid, foodWasteStage: foodWasteStage.nullable(), reasons: z.array(WasteReason) })
        .meta({ id: 'WasteReasons' }),
    },
  },
  errors: ['not-found'],
  example: { params: { siteId: exampleId('site/ck') }, status: 200 },
});

export const changeWasteReason = defineOperation({
  id: 'changeWasteReason',
  method: 'patch',
  path: '/v1/sites/{siteId}/waste-reasons/{code}',
  tag,
  summary: 'Rename a reason of the site, or stop offering it',
  description:
    'What it maps to stays. Standard reasons are always offered; one that has no name of the site yet is not found here.',
  permission: 'catalogue.write',
  naming: 'none',
  mode: 'write',
  conditional: true,
  params: z.strictObject({ siteId: uuid, code }),
  body: z.strictObject({ label: label.optional(), active: z.boolean().optional() }),
  answers: { 200: { description: 'Changed', schema: WasteReason, headers: ['ETag'] } },
  errors: ['not-found', 'rule-broken'],
  example: {
    params: { siteId: exampleId('site/ck'), code: 'peel' },
    body: { label: 'Peel, skins, roots and shells' },
    ifMatch: '*',
    role: 'operations',
    status: 200,
  },
});
