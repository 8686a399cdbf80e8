/** What a lot cost by its invoice. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import {
  factId,
  instant,
  line,
  MAX_QUANTITY,
  month,
  pageQuery,
  quantity,
  unit,
  uuid,
} from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const tag = 'costs';

/** An ISO 4217 code. */
export const currency = z
  .string()
  .regex(/^[A-Z]{3}$/, 'a currency code such as GBP')
  .meta({ description: "ISO 4217; the group's own, said again so that a slip shows", example: 'GBP' });

export const amountMinor = z
  .int()
  .min(0)
  .max(MAX_QUANTITY)
  .meta({ description: 'Minor units of the currency: pennies, cents' });

const Price = z
  .object({
    priceId: uuid,
    lotId: uuid,
    lotCode: z.string(),
    itemName: z.string(),
    priceMinor: amountMinor,
    perQuantity: quantity.nullable().meta({ description: "In the lot's unit; null: for all of the lot" }),
    unit,
    currency,
    freeOfCharge: z.boolean(),
    invoiceNumber: z.string().nullable(),
    reason: z.string().nullable(),
    supersedesPriceId: uuid
      .nullable()
      .meta({ description: 'null: the first; what the delivery line said is before it' }),
    moneyNo: z
      .int()
      .meta({ description: 'Its number among the facts that change costs, in the order in which they became known' }),
    recordedAt: instant,
    recordedBy: uuid,
  })
  .meta({ id: 'Price' });

export const createPrice = defineOperation({
  id: 'createPrice',
  method: 'post',
  path: '/v1/prices',
  tag,
  summary: 'Say what a bought lot cost, or correct it',
  description:
    'The newest counts, before what the delivery line said. Everything that was made of the lot follows. What moved in a closed month stays ' +
    'as it was closed; the difference shows in the oldest open month, as revalued.',
  permission: 'prices.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      lotId: uuid,
      priceMinor: amountMinor,
      currency: currency.optional(),
      perQuantity: quantity.optional().meta({
        description: "What the price is for, in the lot's unit; all of the lot if left out",
      }),
      unit: unit.optional().meta({ description: 'Of perQuantity' }),
      freeOfCharge: z
        .literal(true)
        .optional()
        .meta({ description: 'Wanted with a price of 0, and refused with another' }),
      invoiceNumber: line(60).optional(),
      reason: line(300).optional().meta({ description: 'Why it differs from what was said before' }),
    })
    .meta({ id: 'NewPrice' }),
  answers: {
    201: {
      description: 'Recorded',
      schema: Price.extend({
        adjustsMonth: month.nullable().meta({
          description: 'The open month in which the difference shows, where the lot moved in a closed one',
        }),
      }).meta({ id: 'RecordedPrice' }),
      headers: ['Location'],
    },
  },
  errors: ['not-found', 'price-unusable', 'currency-differs', 'unit-mismatch', 'rule-broken'],
  example: {
    status: 201,
    role: 'finance',
    body: {
      id: exampleId('new/price'),
      lotId: exampleId('lot/carrots-1'),
      priceMinor: 2140,
      currency: 'GBP',
      invoiceNumber: 'INV-20417',
      reason: 'The invoice is dearer than the delivery note',
    },
  },
});

export const listPrices = defineOperation({
  id: 'listPrices',
  method: 'get',
  path: '/v1/prices',
  tag,
  summary: 'List prices that were said apart from deliveries, newest first',
  permission: 'costs.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ lotId: uuid.optional(), ...pageQuery }),
  answers: { 200: { description: 'Of lots that your sites took in', schema: pageSchema(Price), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200, query: { lotId: exampleId('lot/carrots-1') } },
});
