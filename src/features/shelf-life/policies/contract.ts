/** Policy sets, and by which of them a site works. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { factId, instant, line, text, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const basis = z.enum(['published', 'second-hand', 'common-practice', 'from-memory']).meta({
  description:
    "published: read in the source's text; second-hand: in a copy of it; common-practice: no source found; from-memory: a lead, not evidence",
});
const ruleCode = z
  .string()
  .regex(/^[a-z0-9][a-z0-9-]{0,39}$/, 'the code of a rule')
  .meta({ example: 'cook-chill-10-c' });
const setCode = z
  .string()
  .regex(/^[a-z]{2}(-[a-z]{3})?$/, 'the code of a policy set')
  .meta({ example: 'gb-eng' });

const sourced = {
  value: z.union([z.number(), z.string()]),
  unit: z.string(),
  source: z.string(),
  edition: z.string(),
  basis,
  confirmBy: z.string().meta({ description: 'Who must confirm it, or put another in its place' }),
};

const Rule = z
  .object({
    code: z.string(),
    label: z.string(),
    appliesTo: z.string(),
    byChoice: z.boolean().meta({ description: 'A regime: it drives only where a site says that it works by it' }),
    basis: basis.meta({ description: 'That of the least sure of its numbers' }),
    numbers: z.array(z.object({ name: z.string(), ...sourced })),
    assumption: z.string(),
  })
  .meta({ id: 'PolicyRule' });

const PolicySet = z
  .object({
    code: z.string(),
    title: z.string(),
    edition: z.string(),
    jurisdictions: z.array(z.string()),
    note: z.string(),
    useBy: z.object(sourced),
    rules: z.array(Rule),
    temperatures: z.array(z.object({ code: z.string(), label: z.string(), ...sourced })),
  })
  .meta({ id: 'PolicySet' });

const SiteRule = Rule.extend({
  drives: z.boolean().meta({ description: 'It may bring a date forward or hold food at this site' }),
  whySilent: z.string().nullable().meta({ description: 'Why it drives nothing' }),
}).meta({ id: 'SiteRule' });

const SitePolicy = z
  .object({
    siteId: uuid,
    policySet: z.string(),
    title: z.string(),
    edition: z.string(),
    note: z.string(),
    rules: z.array(SiteRule),
    choice: z
      .object({
        choiceId: uuid,
        confirmed: z.array(z.string()),
        confirmedBy: z.string(),
        note: z.string().nullable(),
        recordedAt: instant,
        recordedBy: uuid,
      })
      .nullable()
      .meta({ description: "null: nobody has chosen; the set is that of the site's jurisdiction" }),
  })
  .meta({ id: 'SitePolicy' });

const Change = z.object({
  lotId: uuid,
  lotCode: z.string(),
  partId: uuid.meta({ description: 'The place or dispatch' }),
  computedBefore: instant.nullable(),
  computedAfter: instant.nullable(),
  rulingBefore: z.string().nullable(),
  rulingAfter: z.string().nullable(),
  forbiddenAfter: z.boolean(),
});

const params = z.strictObject({ siteId: uuid });
const tag = 'shelf-life';

export const listPolicySets = defineOperation({
  id: 'listPolicySets',
  method: 'get',
  path: '/v1/policy-sets',
  tag,
  summary: 'The rules of each jurisdiction, each number with its source',
  description: "Defaults for a competent person to confirm. Local law and the group's own food-safety plan come first.",
  permission: 'shelf-life.read',
  naming: 'none',
  mode: 'read',
  answers: { 200: { description: 'All of them', schema: z.object({ items: z.array(PolicySet) }) } },
  errors: [],
  example: { status: 200 },
});

export const getSitePolicy = defineOperation({
  id: 'getSitePolicy',
  method: 'get',
  path: '/v1/sites/{siteId}/policy',
  tag,
  summary: 'The rules that a site works by, and which of them drive',
  permission: 'shelf-life.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The rules', schema: SitePolicy } },
  errors: ['not-found'],
  example: { status: 200, params: { siteId: exampleId('site/hot') } },
});

export const setSitePolicy = defineOperation({
  id: 'setSitePolicy',
  method: 'post',
  path: '/v1/sites/{siteId}/policy-choices',
  tag,
  summary: 'Choose the rules of a site, and confirm those that need it',
  description:
    'A rule with a number from memory, or one of a regime, drives nothing until a named person has confirmed it here. `confirmed` is the whole ' +
    'list: what is left out is confirmed no more. The answer says what the choice changes for food that is at the site, or on its way to it; ' +
    'dates in force and holds only become stricter by themselves, whatever the rules say later.',
  permission: 'policies.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z
    .strictObject({
      id: factId,
      policySet: setCode,
      confirmed: z.array(ruleCode).max(40).meta({ description: 'Codes of rules of that set' }),
      confirmedBy: line(100).meta({ description: 'Who is competent to say so, by name' }),
      note: text(1000).optional(),
    })
    .meta({ id: 'NewPolicyChoice' }),
  answers: {
    201: {
      description: 'Chosen',
      headers: ['Location'],
      schema: SitePolicy.extend({
        lots: z.int().meta({ description: 'Lots that were looked at: at most 200' }),
        lotsInAll: z.boolean().meta({ description: 'These are all there are' }),
        changes: z.array(Change).max(100),
      }).meta({ id: 'PolicyChoiceMade' }),
    },
  },
  errors: ['not-found', 'rule-broken'],
  example: {
    status: 201,
    role: 'quality',
    params: { siteId: exampleId('site/w3') },
    body: {
      id: exampleId('new/policy-choice'),
      policySet: 'gb-eng',
      confirmed: ['hours-out-of-chill'],
      confirmedBy: 'Nora Pell',
      note: 'Read in the regulations of 2013 themselves',
    },
  },
});
