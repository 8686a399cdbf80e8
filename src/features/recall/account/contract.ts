/** The account of a case: both shares, quantities by unit, the lines of each site, and who is to be chased. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { instant, lotCode, signedQuantity, unit, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { recallParams } from '../shapes.ts';

const tag = 'recall';
const gramText = z.string().regex(/^\d+\.\d{3}$/);

const Share = z
  .object({
    numerator: z.string().regex(/^\d+$/),
    denominator: z.string().regex(/^\d+$/),
    percent: z.number().meta({ description: 'One decimal, rounded down: 100 only when it is all' }),
  })
  .meta({ id: 'RecallShare', description: 'An exact share, by mass' });

export const Figures = z
  .object({
    toAccountForG: gramText.meta({
      description: 'Grams. All that was produced, less what went into another lot of the scope: it is counted there',
    }),
    answeredG: gramText,
    accountedG: gramText,
    notFoundG: gramText,
    openG: gramText,
    answeredShare: Share.meta({ description: 'Explained by the records or typed by somebody, not found included' }),
    accountedShare: Share.meta({ description: 'The same without what was looked for and not found' }),
  })
  .meta({ id: 'RecallFigures' });

const typed = {
  found: signedQuantity,
  quarantined: signedQuantity,
  destroyed: signedQuantity,
  returned: signedQuantity,
  alreadyServed: signedQuantity,
  notFound: signedQuantity,
};

const AccountLine = z
  .object({
    lotId: uuid,
    lotCode,
    itemName: z.string(),
    unit,
    onHand: signedQuantity,
    inTransit: signedQuantity.meta({ description: 'On the road to the site' }),
    unexplained: signedQuantity.meta({ description: 'Found missing by counts; below zero when found over' }),
    inProcess: signedQuantity.meta({ description: 'Put into a batch from which nothing has come' }),
    toType: signedQuantity.meta({ description: 'What the site has to say something about' }),
    typed: z.object(typed),
    open: signedQuantity,
  })
  .meta({ id: 'RecallAccountLine' });

export const AccountSite = z
  .object({
    siteId: uuid,
    siteName: z.string(),
    noticed: z.boolean(),
    noticedAt: instant.nullable().meta({ description: 'The newest notice' }),
    acknowledgedAt: instant.nullable().meta({ description: 'Of the newest notice' }),
    answered: z.boolean().meta({ description: 'Signed an answer since the newest notice' }),
    accounted: z.boolean().meta({ description: 'Nothing is open there' }),
    lineCount: z.int(),
    openLineCount: z.int(),
    lines: z.array(AccountLine).meta({ description: 'Open ones first; lineCount says how many there are' }),
  })
  .meta({ id: 'RecallAccountSite' });

const ByUnit = z
  .object({
    unit,
    lotCount: z.int(),
    produced: signedQuantity.meta({
      description:
        'consumedInScope + inProcess + onHand + inTransit + served + wasted + returned + unexplained, exactly',
    }),
    consumedInScope: signedQuantity.meta({ description: 'Went into another lot of the scope and is counted there' }),
    inProcess: signedQuantity,
    onHand: signedQuantity,
    inTransit: signedQuantity,
    served: signedQuantity,
    wasted: signedQuantity,
    returned: signedQuantity.meta({ description: 'To the supplier' }),
    unexplained: signedQuantity,
    toAccountFor: signedQuantity,
    typed: z.object(typed),
    open: signedQuantity,
  })
  .meta({ id: 'RecallUnitSums' });

export const Checks = z
  .object({
    level: z.string().nullable().meta({ description: 'A to E, 21 CFR 7.42(b)(3); null: none was stated' }),
    neededSites: z.int(),
    checkedSites: z.int(),
    effectiveSites: z.int().meta({ description: 'Where the newest check found that it was done as asked' }),
  })
  .meta({ id: 'RecallChecks' });

const example = { status: 200, params: { recallId: exampleId('recall/parsley') } };

export const getRecallAccount = defineOperation({
  id: 'getRecallAccount',
  method: 'get',
  path: '/v1/recalls/{recallId}/account',
  tag,
  summary: 'Say what of the food is accounted for, what is not, and where',
  description:
    'Two figures, by mass: the share answered, and the share accounted for, which what was looked for and not found stays out of. Served, wasted ' +
    'and returned to the supplier is explained by the records; what is on hand, on the road, missing by count or in a pot has to be typed by ' +
    'the site. Where more was recorded as gone than was there, the open line counts.',
  permission: 'recalls.read',
  naming: 'none',
  mode: 'read',
  params: recallParams,
  query: z.strictObject({ siteId: uuid.optional().meta({ description: 'Lines of this site only' }) }),
  answers: {
    200: {
      description: 'The account',
      schema: z
        .object({
          recallId: uuid,
          at: instant,
          figures: Figures,
          byUnit: z.array(ByUnit),
          checks: Checks,
          sites: z.array(AccountSite),
          openLines: z.int().meta({ description: 'Lots and sites where something is open; closing needs none' }),
        })
        .meta({ id: 'RecallAccount' }),
    },
  },
  errors: ['not-found'],
  example,
});

export const listRecallChasing = defineOperation({
  id: 'listRecallChasing',
  method: 'get',
  path: '/v1/recalls/{recallId}/chasing',
  tag,
  summary: 'List the sites that have not acknowledged, or have something open; longest waiting first',
  permission: 'recalls.read',
  naming: 'none',
  mode: 'read',
  params: recallParams,
  answers: {
    200: {
      description: 'Whom to call',
      schema: z
        .object({
          sites: z.array(
            z.object({
              siteId: uuid,
              siteName: z.string(),
              noticedAt: instant.nullable(),
              acknowledgedAt: instant.nullable(),
              answered: z.boolean(),
              openLots: z.int(),
              openQuantityText: z.string().meta({ example: '12 pieces, 3400 g' }),
              waitingMinutes: z.int().meta({ description: 'Since the newest notice' }),
            }),
          ),
        })
        .meta({ id: 'RecallChasing' }),
    },
  },
  errors: ['not-found'],
  example,
});

export type AccountSiteAnswer = z.output<typeof AccountSite>;
export type AccountLineAnswer = z.output<typeof AccountLine>;
