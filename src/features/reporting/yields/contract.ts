/** Yields of batches and recipes, and the way from raw to plate. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { date, uuid } from '../../../platform/http/scalars.ts';
import { monthQuery } from '../contract.ts';

const grams = z.int().meta({ description: 'Whole grams' });
const percent = z.number().nullable().meta({ description: 'One decimal; null when there is nothing to take it of' });
const minor = z.int().meta({ description: 'Minor units of the currency of the group' });
const byKind = z.record(z.string(), z.int());

const Range = z.object({
  mean: z.number(),
  lower: z.number(),
  upper: z.number(),
  n: z.int().meta({ description: 'Earlier batches that it rests on' }),
  basis: z.enum(['same-version', 'all-versions']).meta({
    description: 'Earlier batches of the same version of the recipe, or of all when there are fewer than eight of it',
  }),
});
const usual = Range.nullable().meta({ description: 'In percent; null with fewer than eight earlier batches' });

const Batch = z.object({
  batchId: uuid,
  code: z.string(),
  completedOn: date.meta({ description: "The site's date" }),
  recipeVersion: z.int(),
  expectedYieldPercent: percent,
  yieldPercent: percent,
  inputG: grams,
  gainsG: byKind.meta({ description: 'By kind, as in water-uptake' }),
  outputG: grams,
  plannedLossG: grams.meta({
    description: 'Trim, cooking and drip loss as written down, as far as the recipe allows for it',
  }),
  recordedWasteG: grams.meta({ description: 'Everything else that was written down as lost' }),
  lossesG: byKind.meta({ description: 'As written down: together plannedLossG + recordedWasteG' }),
  unexplainedG: grams.meta({ description: 'The rest: above zero is missing, below zero is more than went in' }),
  costMinor: minor.meta({ description: 'What went in and was added' }),
  abnormalLossMinor: minor.meta({
    description: 'What was lost beyond the plan of the recipe: an expense, carried by nothing',
  }),
  standsOut: z.boolean(),
  side: z.enum(['above', 'below']).nullable(),
  usualRange: usual,
});

const Chain = z.object({
  itemId: uuid,
  itemName: z.string(),
  boughtG: grams.meta({
    description: 'Bought for it, with all that was lost on the way; water from the tap is not bought',
  }),
  preparedG: grams.meta({ description: 'What went in less trim' }),
  cookedG: grams,
  packedG: grams.meta({ description: 'Made in the period and not packed on: packs, and food that was not packed' }),
  servedG: grams.meta({ description: 'Of packedG, by the moment of the report' }),
  otherUseG: grams.meta({ description: 'Staff meals, donations, tastings, laboratory' }),
  wastedG: grams,
  madeOnG: grams.meta({ description: 'Became part of other food' }),
  stockG: grams.meta({ description: 'Still there' }),
  differenceG: grams.meta({ description: 'Counted, given back or weighed differently; packedG less all the above' }),
  portionsServed: z.number().nullable().meta({ description: 'Where the item says how many portions a unit has' }),
  portionsPerKgBought: z.number().nullable(),
  servedPercentOfBought: percent,
});

const Yields = z
  .object({
    fromDate: date,
    toDate: date.meta({ description: 'The last day' }),
    siteIds: z.array(uuid).nullable().meta({ description: 'null: the whole group' }),
    cut: z.object({ seq: z.int(), moneyNo: z.int() }),
    recipes: z
      .array(
        z.object({
          recipeId: uuid,
          recipeCode: z.string(),
          itemName: z.string(),
          siteId: uuid,
          siteName: z.string(),
          expectedYieldPercent: percent.meta({ description: 'Of the latest batch' }),
          median: percent.meta({ description: 'Of the batches in the period' }),
          lowest: percent,
          highest: percent,
          spread: Range.extend({ method: z.string() }).nullable().meta({
            description: 'The usual range for the next batch, in percent; null with fewer than eight batches',
          }),
          standOuts: z.int(),
          costMinor: minor,
          abnormalLossMinor: minor.meta({ description: 'Sums of what is printed for the batches' }),
          batches: z.array(Batch),
        }),
      )
      .meta({ description: 'One row a recipe and site: history is that of one kitchen' }),
    chain: z
      .array(Chain)
      .meta({ description: 'By item that was packed or served as it was made, of what was made in the period' }),
    notes: z.array(z.string()),
  })
  .meta({ id: 'Yields' });

export const getYields = defineOperation({
  id: 'getYields',
  method: 'get',
  path: '/v1/reports/yields',
  tag: 'reporting',
  summary: 'What batches yielded against their recipe and its history, and the way of food from raw to plate',
  description:
    'Batches completed in the period, at most twelve months, by the calendar of their site. input + gains = output + planned loss + recorded ' +
    "waste + unexplained, exactly. A batch stands out when it is beyond the limits of its recipe's earlier batches at that site: mean ± 3 x mean " +
    'moving range / 1.128 (NIST/SEMATECH e-Handbook, 6.3.2.2), and at least half a percentage point from the mean. The chain follows what was ' +
    'made in the period, whenever its food was bought and whenever it was served. With format=svg (or Accept: image/svg+xml) and a recipe it ' +
    'is a picture of its batches over time.',
  permission: 'reports.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    fromDate: date,
    toDate: date.meta({ description: 'The last day' }),
    recipeId: uuid.optional().meta({ description: 'Needed for a picture' }),
    site: monthQuery.site,
    recordedAt: monthQuery.recordedAt,
    format: z.enum(['json', 'svg']).optional().meta({ description: 'As Accept says if left out' }),
  }),
  answers: {
    200: [
      { description: 'The yields', schema: Yields },
      { description: 'The batches of the recipe over time, as a picture', contentType: 'image/svg+xml' },
    ],
  },
  errors: ['not-found', 'rule-broken', 'period-too-long'],
  example: { status: 200, query: { fromDate: '2026-10-01', toDate: '2026-11-25', site: 'CK', format: 'json' } },
});

export type YieldsAnswer = z.output<typeof Yields>;
export type RecipeYields = YieldsAnswer['recipes'][number];
