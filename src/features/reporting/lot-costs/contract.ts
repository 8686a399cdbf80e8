/** What one lot cost and why; which lots have no full price. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { instant, pageQuery, quantityOrZero, signedQuantity, unit, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { monthQuery } from '../contract.ts';
import { currency } from '../prices/contract.ts';

const tag = 'costs';
const minor = z.int().meta({ description: 'Minor units; a table adds up as it is printed' });
const exact = z
  .string()
  .regex(/^\d+(\.\d{1,18})?$/)
  .meta({
    description: 'Minor units for one unit of the lot, exactly: a decimal of at most 18 places',
    example: '0.75',
  });
const recordedAt = instant.optional().meta({ description: 'As it was recorded at this moment; now if left out' });

const reason = z.enum(['no-price', 'price-zero', 'uncosted-input', 'nothing-went-in', 'made-from-itself']).meta({
  description:
    'no-price, price-zero: nobody said what it cost; uncosted-input: something that went in, or into that, has no price; nothing-went-in: ' +
    'it was made of nothing that is recorded; made-from-itself: by a late entry it is part of its own origin',
});

const Cut = z.object({ seq: z.int(), moneyNo: z.int(), recordedAt: instant.nullable() });

const MadeBy = z
  .object({
    processId: uuid,
    kind: z.enum(['batch', 'packing', 'conversion']),
    code: z.string().nullable().meta({ description: 'Of the batch; of the batch that was packed' }),
    state: z.enum(['open', 'completed']),
    poolMinor: minor.meta({ description: 'What went in and what rates added' }),
    addedMinor: minor,
    carriedMinor: minor.meta({ description: 'Carried by what came out and stands' }),
    abnormalLossMinor: minor.meta({
      description: 'Lost beyond the plan of the recipe: an expense, carried by nothing',
    }),
    workInProcessMinor: minor.meta({ description: 'Of an open batch: not yet carried' }),
    inputs: z.array(
      z.object({
        lotId: uuid,
        lotCode: z.string(),
        itemName: z.string(),
        quantity: signedQuantity,
        unit,
        unitCostMinor: exact,
        valueMinor: minor,
        uncosted: z.boolean(),
      }),
    ),
    rates: z.array(z.object({ kind: z.enum(['labour', 'energy', 'overhead', 'packaging']), amountMinor: minor })),
    outputs: z.array(
      z.object({
        lotId: uuid,
        lotCode: z.string(),
        itemName: z.string(),
        quantity: quantityOrZero.meta({ description: 'What stands, reversals net' }),
        unit,
        valueMinor: minor,
      }),
    ),
  })
  .meta({ id: 'LotMadeBy' });

const LotCost = z
  .object({
    lotId: uuid,
    lotCode: z.string(),
    itemName: z.string(),
    quantity: quantityOrZero.meta({
      description: 'Bought: as it was taken in; made: what stands as made, reversals net',
    }),
    unit,
    currency,
    minorDigits: z.int().meta({ description: 'Digits after the point of the currency, by ISO 4217' }),
    unitCostMinor: exact,
    totalMinor: minor.meta({ description: 'quantity times unit cost, rounded once' }),
    uncosted: z.boolean().meta({ description: 'Some of what went in has no price: the cost is too low' }),
    uncostedReason: reason.nullable(),
    unpricedPercent: z.number().meta({ description: 'Of its mass, how much has no price' }),
    boughtMassG: z
      .number()
      .meta({ description: 'Mass bought from suppliers that is in the quantity; losses took their share' }),
    madeBy: MadeBy.nullable().meta({ description: 'null: it was bought' }),
    prices: z
      .array(
        z.object({
          priceId: uuid.nullable().meta({ description: 'null: as the delivery line said' }),
          priceMinor: z.int(),
          perQuantity: quantityOrZero.meta({ description: "In the lot's unit" }),
          freeOfCharge: z.boolean(),
          invoiceNumber: z.string().nullable(),
          reason: z.string().nullable(),
          recordedAt: instant.nullable().meta({ description: 'null: with the delivery' }),
        }),
      )
      .meta({ description: 'The one that counts first' }),
    versions: z.array(z.object({ recordedAt: instant, unitCostMinor: exact })).meta({
      description: 'What it was found to cost, the newest first, up to 50',
    }),
    cut: Cut,
  })
  .meta({ id: 'LotCost' });

export const getLotCost = defineOperation({
  id: 'getLotCost',
  method: 'get',
  path: '/v1/lots/{lotId}/cost',
  tag,
  summary: 'What a lot cost, and how it came to that',
  description:
    'A bought lot costs what its invoice says. What was made costs what went in and what rates add; the loss that its recipe plans is carried ' +
    'by the good output (normal loss), what was lost beyond it is an expense (abnormal loss). Whole units of 10^-18 of a minor unit are ' +
    'reckoned with, never decimals that round on the way.',
  permission: 'costs.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ lotId: uuid }),
  query: z.strictObject({ recordedAt }),
  answers: { 200: { description: 'The cost', schema: LotCost } },
  errors: ['not-found', 'rule-broken'],
  example: { status: 200, params: { lotId: exampleId('lot/beef-stew-packs-1') } },
});

const UncostedLot = z
  .object({
    lotId: uuid,
    lotCode: z.string(),
    itemId: uuid,
    itemName: z.string(),
    siteId: uuid.meta({ description: 'Where it came to be' }),
    quantity: signedQuantity.meta({ description: 'At birth' }),
    unit,
    reason,
    unpricedPercent: z.number(),
  })
  .meta({ id: 'UncostedLot' });

export const listUncostedLots = defineOperation({
  id: 'listUncostedLots',
  method: 'get',
  path: '/v1/reports/uncosted-lots',
  tag,
  summary: 'List lots without a full price that moved in a month or stand at its end',
  description: 'Those that nobody said a price of first: the others follow from them.',
  permission: 'costs.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    month: monthQuery.month,
    site: monthQuery.site,
    recordedAt,
    ...pageQuery,
  }),
  answers: { 200: { description: 'A page of lots', schema: pageSchema(UncostedLot), headers: ['Link'] } },
  errors: ['not-found', 'bad-cursor', 'rule-broken'],
  example: { status: 200, query: { month: '2026-11', site: 'CK' } },
});
