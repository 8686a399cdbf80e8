/** How much to make, and what running out costs: offers, never orders. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import {
  date,
  factId,
  instant,
  quantity,
  quantityOrZero,
  signedQuantity,
  text,
  unit,
  uuid,
} from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const average = z.number().min(0).meta({ description: 'On an average day, in units, to two decimals' });
const chance = z.number().min(0).max(1).meta({ description: 'To four decimals' });
const money = z.string().regex(/^\d+(\.\d{1,6})?$/);
const moneyAsked = z
  .string()
  .regex(/^(0|[1-9]\d{0,11})(\.\d{1,6})?$/, 'minor units, at most six decimals')
  .optional();
const ranOut = z.enum(['stock-at-zero', 'used-more-than-booked', 'short-pick']);

const Outcome = z.object({
  quantity: quantityOrZero,
  expectedWaste: average,
  expectedRunOut: average.meta({ description: 'Asked for and not there; at least so much when the tail is unknown' }),
  expectedCostMinor: z.number().min(0).nullable().meta({
    description: 'On an average day, minor units to two decimals; null: what waste or running out costs is not known',
  }),
  chanceOfRunningOut: chance,
});

const Day = z.object({
  date,
  weekday: z.string(),
  served: signedQuantity.meta({ description: 'Seen served; not to staff, not given away' }),
  servedDerived: signedQuantity.meta({ description: 'As counts show; stands on the day of the count' }),
  opened: signedQuantity.meta({ description: 'Opened, decanted, portioned, regenerated or cooked at the site' }),
  returned: signedQuantity.meta({ description: 'Came back from service: it was not wanted' }),
  wasted: signedQuantity.meta({ description: 'Thrown away as over-production or past its date' }),
  requiredPortions: z.int().min(0).nullable(),
  required: quantityOrZero
    .nullable()
    .meta({ description: 'In whole units; null: nothing was said, or no portions per unit' }),
  demand: quantityOrZero.meta({
    description: 'served + servedDerived + opened - returned; at least that if it ran out',
  }),
  ranOut: z.array(z.object({ siteName: z.string(), why: ranOut })),
  leftOut: z.enum(['counted-over-several-days']).nullable().meta({ description: 'Why it is not used' }),
});

const HowMuch = z
  .object({
    siteId: uuid,
    siteName: z.string(),
    itemId: uuid,
    itemCode: z.string(),
    itemName: z.string(),
    unit,
    date,
    weekday: z.string(),
    recordedAt: instant.nullable().meta({ description: 'As recorded then; null: now' }),
    offer: z.string().meta({ description: 'The answer in words' }),
    quantity: quantityOrZero.nullable().meta({ description: 'Offered, in whole packs; null: see the curve, and why' }),
    quantityBeforeRounding: quantityOrZero.nullable(),
    packQuantity: quantity,
    packs: quantityOrZero.nullable(),
    atMostSeen: z
      .boolean()
      .meta({ description: 'true: capped at the largest day, because the largest days all ran out' }),
    criticalRatio: z
      .object({ numerator: z.string(), denominator: z.string(), value: chance })
      .nullable()
      .meta({ description: 'Running out over running out and waste, each for one unit; a fraction in lowest terms' }),
    atOffer: Outcome.nullable(),
    curve: z.array(Outcome).meta({ description: 'Around what was seen; the same figures for other quantities' }),
    requiredForDate: quantityOrZero
      .nullable()
      .meta({ description: 'What is required for the date so far, in whole units' }),
    expectedDemand: average,
    spread: z.object({
      standardDeviation: z.number().min(0),
      lower: quantityOrZero.nullable().meta({ description: 'One day in ten is at or below' }),
      upper: quantityOrZero.nullable().meta({ description: 'Nine days in ten are at or below; null: nobody knows' }),
    }),
    distribution: z.array(z.object({ quantity: quantityOrZero, chanceAtMost: chance, daysAtLeast: z.int().min(1) })),
    tail: z.object({
      unknown: z.boolean(),
      chanceBeyond: chance,
      largestSeen: quantityOrZero,
      text: z.string().nullable(),
    }),
    method: z.object({
      estimate: z.literal('product-limit'),
      days: z.enum(['same-weekday', 'all-weekdays']),
      fromDate: date,
      throughDate: date,
      weeks: z.int(),
      daysUsed: z.int(),
      daysThatRanOut: z.int(),
      daysLeftOut: z.int(),
      text: z.string(),
    }),
    costOfWaste: z.object({
      perUnitMinor: money.nullable(),
      from: z.enum(['query', 'unit-cost']).nullable(),
      text: z.string(),
    }),
    costOfRunningOut: z.object({
      perUnitMinor: money.nullable(),
      ratioPercent: z.int().nullable(),
      from: z.enum(['query', 'stated']).nullable(),
      runOutCostId: uuid.nullable(),
      text: z.string(),
    }),
    currency: z.string(),
    minorDigits: z.int().min(0).meta({ description: 'How many minor digits the currency has (ISO 4217)' }),
    days: z.array(Day).meta({ description: 'The evidence, oldest first' }),
    assumed: z.array(z.string()).meta({ description: 'What the numbers rest on, and who decides' }),
  })
  .meta({ id: 'HowMuchToMake' });

export const getHowMuchToMake = defineOperation({
  id: 'getHowMuchToMake',
  method: 'get',
  path: '/v1/reports/how-much-to-make',
  tag: 'reporting',
  summary: 'What is likely to be asked for on a day, and the quantity between waste and running out',
  description:
    "A central kitchen's demand is that of all sites, a satellite's its own. Days of the same weekday are used, or of all weekdays where " +
    'fewer than five of the same are there. Days that ran out count as "at least". An offer for whoever plans the day, never an order. With ' +
    'format=svg (or Accept: image/svg+xml) it is a picture.',
  permission: 'reports.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    siteId: uuid,
    itemId: uuid,
    date,
    weeks: z
      .string()
      .regex(/^([1-9]|[1-4]\d|5[0-2])$/, 'a whole number from 1 to 52')
      .optional()
      .meta({ description: 'How many weeks to look back; 12 if left out' }),
    packQuantity: z
      .string()
      .regex(/^[1-9]\d{0,8}$/, 'whole units')
      .optional()
      .meta({ description: 'Units in a pack or tray that is made whole; 1 if left out' }),
    runOutCostMinor: moneyAsked.meta({ description: 'What one unit too few costs; instead of what is stated' }),
    wasteCostMinor: moneyAsked.meta({ description: 'What one unit too many costs; instead of what the lots cost' }),
    recordedAt: instant.optional(),
    format: z.enum(['json', 'svg']).optional().meta({ description: 'As Accept says if left out' }),
  }),
  answers: {
    200: [
      { description: 'The offer with its evidence', schema: HowMuch },
      { description: 'The offer as a picture', contentType: 'image/svg+xml' },
    ],
  },
  errors: ['not-found', 'rule-broken', 'history-too-short'],
  example: {
    status: 200,
    query: {
      siteId: exampleId('site/w3'),
      itemId: exampleId('item/beef-stew-pack'),
      date: '2026-11-26',
      runOutCostMinor: '450',
    },
  },
});

export const createRunOutCost = defineOperation({
  id: 'createRunOutCost',
  method: 'post',
  path: '/v1/run-out-costs',
  tag: 'reporting',
  summary: 'State what it costs when there is too little',
  description:
    'As money for so many units, or as percent of what a unit costs. It is a judgement (a meal bought in a hurry, a guest who stays away, a ' +
    'patient who gets the other dish), so it is stated and never worked out. The newest of the most specific counts: item and site, then ' +
    'item, then site, then everywhere. Without a site it is for every site, and only for those who act for every site.',
  permission: 'making.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      siteId: uuid.optional(),
      itemId: uuid.optional(),
      costMinor: z
        .int()
        .min(1)
        .max(1_000_000_000_000)
        .optional()
        .meta({ description: 'Minor units of the currency of the group' }),
      perQuantity: quantity.optional().meta({ description: 'For so many units; 1 if left out. Only with costMinor' }),
      ratioPercent: z
        .int()
        .min(1)
        .max(100_000)
        .optional()
        .meta({ description: 'Of the unit cost; instead of costMinor' }),
      note: text(500).optional(),
    })
    .meta({ id: 'NewRunOutCost' }),
  answers: {
    201: {
      description: 'Stated',
      schema: z
        .object({
          runOutCostId: uuid,
          siteId: uuid.nullable(),
          itemId: uuid.nullable(),
          costMinor: z.int().nullable(),
          perQuantity: quantity,
          ratioPercent: z.int().nullable(),
          currency: z.string(),
          note: z.string().nullable(),
          recordedAt: instant,
          recordedBy: uuid,
        })
        .meta({ id: 'RunOutCost' }),
    },
  },
  errors: ['not-found', 'rule-broken'],
  example: {
    status: 201,
    body: {
      id: exampleId('new/run-out-cost'),
      siteId: exampleId('site/w3'),
      itemId: exampleId('item/beef-stew-pack'),
      costMinor: 450,
      note: 'A meal from the canteen, and the walk',
    },
  },
});

export type HowMuchAnswer = z.output<typeof HowMuch>;
