/** Which lots to use: two plans for the same amounts. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { date, instant, lotCode, quantity, quantityOrZero, unit, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const DEMAND = '[A-Za-z0-9][A-Za-z0-9._-]{0,35}:[1-9]\\d{0,8}';

const Plan = z.object({
  sends: z.array(z.object({ lotId: uuid, lotCode, siteId: uuid, siteCode: z.string(), quantity })),
  links: z.int().min(0).meta({ description: 'Pairs of a lot and a site that gets some of it' }),
  mostSites: z
    .int()
    .min(0)
    .meta({ description: 'Sites that one lot goes to, at most: so many are to be phoned for it' }),
  worstRecall: quantityOrZero.meta({
    description:
      'All that the sites of one lot are sent, for the lot where this is most: they keep it back until they have looked',
  }),
  worstRecallG: z.number().min(0),
  averageRecall: z
    .number()
    .min(0)
    .meta({ description: 'The same, averaged over the lots that are used; two decimals' }),
  averageRecallG: z.number().min(0),
  leftBehindUseByAt: instant
    .nullable()
    .meta({ description: 'The earliest date of what stays; null: nothing with a date stays' }),
});

const LotsToUse = z
  .object({
    siteId: uuid,
    itemId: uuid,
    itemName: z.string(),
    unit,
    date,
    demands: z.array(
      z.object({
        siteId: uuid,
        siteCode: z.string(),
        siteName: z.string(),
        quantity,
        neededAt: instant,
        shortQuantity: quantityOrZero.meta({ description: 'What neither plan can cover' }),
      }),
    ),
    unsuitable: z
      .array(z.object({ siteCode: z.string(), portions: z.int(), why: z.string() }))
      .meta({ description: 'Required in a texture or diet that this item does not have: in no plan' }),
    lots: z.array(
      z.object({
        lotId: uuid,
        lotCode,
        quantity: quantityOrZero.meta({
          description: 'Free to leave, less what dispatches that have not left are to take',
        }),
        useByAt: instant.nullable().meta({ description: 'In force; of several places the earliest' }),
        places: z.array(z.string()),
        offered: z.boolean(),
        whyNot: z.string().nullable(),
      }),
    ),
    oldestFirst: Plan,
    fewestLinks: Plan.nullable(),
    whyNoFewest: z.string().nullable(),
    bound: z.object({ lotsAndSites: z.int(), atMost: z.int() }),
    offer: z.string().meta({ description: 'The answer in words' }),
    rules: z.array(z.string()),
  })
  .meta({ id: 'LotsToUse' });

export const getLotsToUse = defineOperation({
  id: 'getLotsToUse',
  method: 'get',
  path: '/v1/reports/lots-to-use',
  tag: 'reporting',
  summary: 'Which lots to send to which sites: by date, and with the fewest sites to phone in a recall',
  description:
    'For what sites require of an item on a date and nothing covers yet, or for amounts that you give. Held, quarantined and regenerated ' +
    'food is not offered. Plan A goes by the oldest date in force; plan B has the fewest links between lots and sites among the plans that ' +
    'cover the same, use only food that is in date when needed and take the same of every lot that would be past its date a day later. ' +
    'An offer: nothing is reserved, and it is checked again when the dispatch is planned and when it departs.',
  permission: 'reports.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    siteId: uuid.meta({ description: 'Where the lots are' }),
    itemId: uuid,
    date: date.optional().meta({ description: "When it is needed; the site's today if left out" }),
    demands: z
      .string()
      .max(2000)
      .regex(new RegExp(`^${DEMAND}(,${DEMAND})*$`), 'site code or id, colon, quantity; more after commas')
      .optional()
      .meta({
        description:
          'Instead of requirements, as in W3:12,SCH:20, in the unit of the item; needed until the end of the date',
      }),
  }),
  answers: { 200: { description: 'Both plans with their figures', schema: LotsToUse } },
  errors: ['not-found', 'rule-broken'],
  example: {
    status: 200,
    query: { siteId: exampleId('site/ck'), itemId: exampleId('item/beef-stew-pack'), date: '2026-11-26' },
  },
});

export type LotsAnswer = z.output<typeof LotsToUse>;
