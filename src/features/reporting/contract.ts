/** The month: waste and yield. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { date, month, signedQuantity, unit, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';

const grams = z.int().meta({ description: 'Whole grams' });
const percent = z.number().nullable().meta({ description: 'One decimal; null when there is nothing to take it of' });

const Lines = z
  .object({
    opening: signedQuantity,
    received: signedQuantity.meta({ description: 'From suppliers, and stock taken on when records began' }),
    produced: signedQuantity,
    returnedIn: signedQuantity.meta({ description: 'Came back from service' }),
    transferIn: signedQuantity.meta({ description: 'Arrived from another site' }),
    adjusted: signedQuantity.meta({ description: 'Found over by counts; below zero when found missing' }),
    consumed: signedQuantity.meta({ description: 'Put into batches and packs' }),
    served: signedQuantity,
    servedDerived: signedQuantity.meta({ description: 'How much of served nobody saw, but counts showed to be gone' }),
    wasted: signedQuantity,
    wastedByReason: z.array(z.object({ reason: z.string(), quantity: signedQuantity })),
    transferOut: signedQuantity.meta({ description: 'Sent to another site' }),
    returnedToSupplier: signedQuantity,
    closing: signedQuantity,
  })
  .meta({
    id: 'MonthLines',
    description:
      'opening + received + produced + returnedIn + transferIn + adjusted = consumed + served + wasted + transferOut + ' +
      'returnedToSupplier + closing, exactly',
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

const share = z.object({ value: percent, of: z.string().meta({ description: 'What it is a percentage of' }) });

const Report = z
  .object({
    month,
    from: date,
    to: date.meta({ description: 'The first day after the month' }),
    siteId: uuid.nullable().meta({ description: 'null: the whole group, with what is on the road' }),
    siteName: z.string().nullable(),
    items: z.array(
      z.object({
        itemId: uuid,
        itemCode: z.string(),
        itemName: z.string(),
        unit,
        inUnits: Lines,
        inGrams: Lines.meta({
          description: 'Each row is rounded to whole grams once, by largest remainder, so that it still adds up',
        }),
      }),
    ),
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
        }),
      )
      .meta({ description: 'Completed in the month' }),
    recipes: z.array(
      z.object({ recipeId: uuid, recipeCode: z.string(), itemName: z.string(), batches: z.int(), ...batchGrams }),
    ),
    summary: z.object({
      inG: grams,
      servedG: grams,
      servedDerivedG: grams.meta({ description: 'Of servedG, what counts showed to be gone' }),
      wastedG: grams,
      wastedByReason: z.array(z.object({ reason: z.string(), quantityG: grams })),
      adjustedG: grams,
      wastedPercentOfIn: share,
      wastedPercentOfServedAndWasted: share,
    }),
  })
  .meta({ id: 'WasteAndYield' });

export const getWasteAndYield = defineOperation({
  id: 'getWasteAndYield',
  method: 'get',
  path: '/v1/reports/waste-and-yield',
  tag: 'reporting',
  summary: 'What came, went, was wasted and is left in a month, by item; and what batches yielded',
  description:
    "A month is the sites' calendar month. For one site, what is on the road is outside; for the group it is inside. A fact that was " +
    'undone is not counted. Every row adds up exactly, in units and in whole grams. With format=csv (or Accept: text/csv): one row an item.',
  permission: 'reports.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    month,
    siteId: uuid.optional().meta({ description: 'Needed unless you may read reports of the whole group' }),
    format: z.enum(['json', 'csv']).optional().meta({ description: 'As Accept says if left out' }),
  }),
  answers: {
    200: [
      { description: 'The report', schema: Report },
      { description: 'One row an item', contentType: 'text/csv' },
    ],
  },
  errors: ['not-found', 'rule-broken'],
  example: { status: 200, query: { month: '2026-11', siteId: exampleId('site/ck'), format: 'json' } },
});

export type ReportAnswer = z.output<typeof Report>;
