/**
 * The month's report as it is answered, stored and hashed. It holds nothing about persons and nothing of the moment in which it was made:
 * the same cut gives the same text. Money is in whole minor units of the group's currency.
 */
import { z } from 'zod';
import { date, instant, month, signedQuantity, unit, uuid } from '../../../platform/http/scalars.ts';
import { grams, minor, percent, Share, QuantityLines, MoneyLines } from './shapes-lines.ts';

const Waste = z.object({
  siteId: uuid.nullable().meta({ description: 'null: on the road' }),
  siteName: z.string(),
  itemId: uuid,
  itemCode: z.string(),
  itemName: z.string(),
  category: z.string().nullable(),
  packaging: z.boolean().meta({ description: 'True for packaging: its mass is in no sum of food waste' }),
  reason: z.string().meta({ description: "The site's own code" }),
  reasonLabel: z.string(),
  standardReason: z.string().meta({ description: 'As in shared/discard-reasons.json' }),
  stage: z.string().meta({ description: 'Of the five of Delegated Decision (EU) 2019/1597' }),
  destination: z
    .string()
    .nullable()
    .meta({ description: 'Of the ten of the Food Loss and Waste Standard; null: not said' }),
  material: z.enum(['food', 'inedible-parts']),
  quantity: signedQuantity,
  unit,
  grams,
  valueMinor: minor,
  linesHref: z.string().meta({ description: 'The ledger lines behind it' }),
});

const wasteSum = z.object({
  code: z.string(),
  label: z.string(),
  foodG: grams,
  inediblePartsG: grams,
  inBatchesFoodG: grams.meta({ description: 'Lost inside batches, beside foodG: no discard, and without money' }),
  inBatchesInediblePartsG: grams,
  valueMinor: minor.meta({ description: 'Of the discards' }),
});

const BatchLoss = z
  .object({
    siteId: uuid,
    siteName: z.string(),
    itemId: uuid.meta({ description: 'What the recipe makes' }),
    itemName: z.string(),
    category: z.string().nullable(),
    kind: z.string().meta({ description: 'trim, cooking-loss, drip-loss, sample or other' }),
    leavesAsWater: z.boolean().meta({ description: 'True for cooking loss, which went as steam: in no sum of waste' }),
    stage: z.string().meta({ description: 'As for a discard of this reason at the site' }),
    destination: z.string().nullable().meta({ description: 'Of the ten; null: not said' }),
    foodG: grams.meta({ description: 'What nobody called inedible is food' }),
    inediblePartsG: grams,
    batches: z.int().meta({ description: 'In how many of the batches completed in the period' }),
  })
  .meta({
    id: 'MonthBatchLoss',
    description:
      'Lost inside batches completed in the period, by destination, food and inedible parts apart (Food Loss and Waste Standard 1.0, 2016; ' +
      'without packaging). This mass is in consumed already and is added to no row of stock. It has no money: the good output carries planned ' +
      'loss, and what was lost beyond plan is in making.',
  });

const SiteSums = z.object({
  siteId: uuid.nullable().meta({ description: 'null: on the road' }),
  siteCode: z.string(),
  siteName: z.string(),
  inGrams: QuantityLines,
  inMoney: MoneyLines,
  wastedFoodG: grams.meta({ description: 'Food and parts that are not eaten; without packaging' }),
  wastedMinor: minor,
  wastedPercentOfServedAndWasted: Share,
  abnormalLossMinor: minor.meta({
    description:
      'Lost beyond the plan by batches, packing runs and conversions of the site, with what was found out about it later. The sites sum ' +
      'to making.abnormalLoss - making.abnormalLossAtNoSite',
  }),
});

const batchGrams = {
  inputG: grams,
  gainsG: z.record(z.string(), z.int()).meta({ description: 'By kind, as in water-uptake' }),
  outputG: grams,
  lossesG: z.record(z.string(), z.int()).meta({ description: 'By kind, as in cooking-loss' }),
  unexplainedG: grams.meta({ description: 'input + gains - output - losses; below zero when more came out than that' }),
  yieldPercent: percent,
  expectedYieldPercent: percent,
};

/** Consumed and added to = produced, lost beyond plan, and what is still in open batches. All of the sites asked for. */
const Making = z
  .object({
    workInProcessOpening: minor.meta({ description: 'As the month before was closed with it, if it is closed' }),
    revalued: minor.meta({
      description:
        'What later prices and rates changed in what had gone into batches, packs and conversions before the month, less what had come ' +
        'out of them; of what was completed by then it is a later change of its loss',
    }),
    consumed: minor,
    added: minor.meta({
      description:
        'Labour, energy, overheads and packaging by the rates of the group: for a batch in the month in which it began to be made, for a ' +
        'kilogram in the month in which it came out. And what went in without ever standing in stock, such as water that has a price',
    }),
    produced: minor,
    abnormalLoss: minor.meta({
      description:
        'What was lost beyond the plan of the recipe, and in packing: an expense, carried by nothing. It takes up what rounding each row ' +
        'of the items leaves over',
    }),
    abnormalLossAtNoSite: minor.meta({
      description:
        'Of abnormalLoss, what is in no figure of bySite: a few minor units at most, where rounding the rows of the items leaves over more ' +
        'than the sites can be rounded by',
    }),
    workInProcessClosing: minor,
  })
  .meta({
    id: 'MonthMaking',
    description:
      'workInProcessOpening + revalued + consumed + added = produced + abnormalLoss + workInProcessClosing, exactly',
  });

const Summary = z.object({
  boughtG: grams.meta({ description: 'Received from suppliers, without packaging' }),
  inG: grams.meta({ description: 'received + produced + returnedIn + transferIn' }),
  servedG: grams.meta({ description: 'served + servedDerived' }),
  servedDerivedG: grams,
  otherUseG: grams.meta({ description: 'staffMeals + donated + tasted + sampled' }),
  wastedG: grams.meta({ description: 'Food waste of all reasons, food and inedible parts, without packaging' }),
  wastedFoodG: grams,
  wastedInediblePartsG: grams,
  wastedMinor: minor,
  servedMinor: minor,
  adjustedG: grams,
  adjustedMinor: minor,
  portionsServed: z.number().nullable().meta({ description: 'Where the items say how many portions a unit has' }),
  portionsPerKgBought: z.number().nullable().meta({ description: 'Two decimals' }),
  wastedPercentOfIn: Share,
  wastedPercentOfServedAndWasted: Share,
  yieldPercent: Share,
});

const Late = z
  .object({
    month: month.meta({ description: 'The closed month in which it happened' }),
    kind: z.enum(['recorded-late', 'undone', 'revalued']),
    line: z.string().meta({ description: 'Name of the line, as in items' }),
    itemId: uuid,
    itemName: z.string(),
    unit,
    quantity: signedQuantity,
    grams,
    valueMinor: minor,
    linesHref: z.string().nullable(),
  })
  .meta({
    id: 'MonthLate',
    description:
      'Of the lines above, what belongs to months that were closed when it was recorded. Never spread: each says its month and why.',
  });

export const MonthReport = z
  .object({
    month,
    throughMonth: month.meta({ description: 'The last month; the same as month for one' }),
    from: date,
    to: date.meta({ description: 'The first day after' }),
    sites: z.array(z.object({ siteId: uuid, siteCode: z.string(), siteName: z.string(), timeZone: z.string() })),
    allSites: z.boolean().meta({ description: 'The whole group, with what is on the road' }),
    state: z.enum(['open', 'closed']).meta({ description: 'closed: as it was closed, for ever' }),
    cut: z.object({
      seq: z.int(),
      moneyNo: z.int(),
      recordedAt: instant.nullable().meta({ description: 'Of the last fact that is in it; null before the first' }),
    }),
    currency: z.object({ code: z.string(), minorDigits: z.int() }),
    items: z.array(
      z.object({
        itemId: uuid,
        itemCode: z.string(),
        itemName: z.string(),
        itemKind: z.enum(['ingredient', 'prepared', 'packed', 'packaging']),
        category: z.string().nullable(),
        unit,
        inUnits: QuantityLines,
        inGrams: QuantityLines.meta({
          description: 'Each row is rounded to whole grams once, by largest remainder, so that it still adds up',
        }),
        inMoney: MoneyLines,
        uncostedQuantity: signedQuantity.meta({
          description: 'Of what moved or stands, in lots that have no full price',
        }),
        linesHref: z.string().meta({ description: 'The ledger lines behind the row; add line=wasted and the like' }),
      }),
    ),
    categories: z.array(z.object({ category: z.string().nullable(), inGrams: QuantityLines, inMoney: MoneyLines })),
    totals: z.object({ inGrams: QuantityLines, inMoney: MoneyLines }).meta({
      description:
        'Sums of what is printed above; goods only once each: grams of prepared food count beside those of what it was made of',
    }),
    bySite: z.array(SiteSums),
    waste: z.array(Waste),
    wasteBy: z.object({
      reason: z.array(wasteSum).meta({ description: 'By standard reason, the largest first' }),
      destination: z.array(wasteSum).meta({ description: 'All ten of the standard, and not-said' }),
      stage: z.array(wasteSum).meta({ description: 'All five of the Decision' }),
    }),
    batchLosses: z.array(BatchLoss),
    making: Making,
    late: z.array(Late),
    batches: z
      .array(
        z.object({
          batchId: uuid,
          code: z.string(),
          siteId: uuid,
          recipeId: uuid,
          itemName: z.string(),
          completedOn: date.meta({ description: "The site's date" }),
          ...batchGrams,
          costMinor: minor.meta({ description: 'What went in and was added' }),
          abnormalLossMinor: minor,
        }),
      )
      .meta({
        description: 'Completed in the month. Packing runs are not in it: those that lost something are in packingRuns',
      }),
    packingRuns: z
      .object({
        count: z.int().meta({ description: 'Packing runs of the month that lost something' }),
        runs: z.array(
          z.object({
            packingRunId: uuid,
            batchCode: z.string().meta({ description: 'Of the batch that was packed' }),
            siteId: uuid,
            itemName: z.string().meta({ description: 'What was packed' }),
            lossG: grams.meta({ description: 'Taken to fill packs and not in them, without packaging' }),
            abnormalLossMinor: minor.meta({ description: 'At cost: all of it is beyond the plan' }),
          }),
        ),
      })
      .meta({ description: 'Up to 50, the largest loss in grams first' }),
    recipes: z.array(
      z.object({
        recipeId: uuid,
        recipeCode: z.string(),
        itemName: z.string(),
        batches: z.int(),
        ...batchGrams,
        costMinor: minor,
        abnormalLossMinor: minor,
      }),
    ),
    uncostedLots: z.object({
      count: z.int(),
      lots: z.array(z.object({ lotId: uuid, lotCode: z.string(), itemName: z.string(), reason: z.string() })).meta({
        description: 'Up to 50; the rest by /v1/reports/uncosted-lots',
      }),
    }),
    summary: Summary,
    comparison: z
      .object({
        previous: z.object({ month, throughMonth: month, summary: Summary }).nullable(),
        lastYear: z.object({ month, throughMonth: month, summary: Summary }).nullable(),
      })
      .meta({ description: 'The period before, and the same period a year before; null where nothing was recorded' }),
    notes: z.array(z.string()).meta({ description: 'What the figures rest on and leave out' }),
  })
  .meta({ id: 'MonthReport' });

export type MonthReportAnswer = z.output<typeof MonthReport>;
