/**
 * The month's report as it is answered, stored and hashed. It holds nothing about persons and nothing of the moment in which it was made:
 * the same cut gives the same text. Money is in whole minor units of the group's currency.
 */
import { z } from 'zod';
import { date, instant, month, signedQuantity, unit, uuid } from '../../../platform/http/scalars.ts';

const grams = z.int().meta({ description: 'Whole grams' });
const minor = z.int().meta({ description: 'Minor units of the currency; below zero where it takes away' });
const percent = z.number().nullable().meta({ description: 'One decimal; null when there is nothing to take it of' });
export const Share = z.object({ value: percent, of: z.string().meta({ description: 'What it is a percentage of' }) });

const lines = (amount: z.ZodInt) =>
  z.object({
    opening: amount,
    received: amount.meta({ description: 'From suppliers, and stock taken on when records began' }),
    produced: amount,
    returnedIn: amount.meta({ description: 'Came back from service' }),
    transferIn: amount.meta({ description: 'Arrived from outside the sites asked for' }),
    adjusted: amount.meta({
      description: 'Found over by counts; below zero when found missing: what nobody explained',
    }),
    consumed: amount.meta({ description: 'Put into batches, packs and conversions' }),
    served: amount.meta({ description: 'Seen to be served' }),
    servedDerived: amount.meta({ description: 'Nobody saw it, but counts showed it to be used' }),
    staffMeals: amount,
    donated: amount,
    tasted: amount,
    sampled: amount.meta({ description: 'Taken by or for a laboratory' }),
    wasted: amount,
    transferOut: amount.meta({ description: 'Sent outside the sites asked for' }),
    returnedToSupplier: amount,
    closing: amount,
  });

export const QuantityLines = lines(signedQuantity).meta({
  id: 'MonthLines',
  description:
    'opening + received + produced + returnedIn + transferIn + adjusted = consumed + served + servedDerived + staffMeals + donated + ' +
    'tasted + sampled + wasted + transferOut + returnedToSupplier + closing, exactly',
});

export const MoneyLines = lines(minor)
  .extend({
    revalued: minor.meta({
      description:
        'What later prices changed in the worth of what had moved or stood before the month; on the left side of the sum',
    }),
  })
  .meta({
    id: 'MonthMoney',
    description:
      'opening + received + produced + returnedIn + transferIn + adjusted + revalued = consumed + served + ... + closing, exactly',
  });

export const Waste = z.object({
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
  valueMinor: minor,
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
  abnormalLossMinor: minor,
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

/** Consumed and added to = produced, lost beyond plan, and what is still in open batches. */
const Making = z
  .object({
    workInProcessOpening: minor,
    consumed: minor,
    added: minor.meta({ description: 'Labour, energy, overheads and packaging by the rates of the group' }),
    produced: minor,
    abnormalLoss: minor.meta({
      description: 'What was lost beyond the plan of the recipe: an expense, carried by nothing',
    }),
    workInProcessClosing: minor,
  })
  .meta({
    id: 'MonthMaking',
    description: 'workInProcessOpening + consumed + added = produced + abnormalLoss + workInProcessClosing, exactly',
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
      .meta({ description: 'Completed in the month' }),
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
