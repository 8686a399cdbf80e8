/** A closed month as it was closed, beside what is known of it now. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { date, instant, month, signedQuantity, unit, uuid } from '../../../platform/http/scalars.ts';

const minor = z.int().meta({ description: 'Minor units of the currency' });
const amounts = z.object({
  quantity: signedQuantity
    .nullable()
    .meta({ description: 'In the unit of the item; null where there is none to add up' }),
  grams: z.int().nullable(),
  valueMinor: minor,
});
const compared = {
  line: z.string().meta({ description: 'Name of the line, as in items of the report' }),
  closed: amounts,
  now: amounts,
  difference: amounts.meta({ description: 'now - closed' }),
};
const cut = z.object({ seq: z.int(), moneyNo: z.int(), recordedAt: instant.nullable() });

const RestatedMonth = z
  .object({
    month,
    closeId: uuid,
    currency: z.object({ code: z.string(), minorDigits: z.int() }),
    closed: cut.meta({ description: 'The cut of the close' }),
    now: cut,
    rows: z
      .array(z.object({ itemId: uuid, itemCode: z.string(), itemName: z.string(), unit, ...compared }))
      .meta({ description: 'Only what differs' }),
    totals: z.array(z.object(compared)).meta({ description: 'Of every line' }),
    facts: z
      .array(
        z.object({
          kind: z.enum(['entry', 'price', 'batch-completion']),
          what: z.string().meta({ description: 'Of an entry its kind, such as use or reversal' }),
          factId: uuid,
          occurredOn: date.nullable().meta({ description: "The site's date of an entry" }),
          recordedAt: instant,
          text: z.string(),
          href: z.string(),
        }),
      )
      .meta({
        description:
          'What was recorded since about days before the end of the month, and prices and completions that reach what moved by then. ' +
          'Days before the month change its opening. Up to 200 of each',
      }),
    factsInAll: z.int(),
    notes: z.array(z.string()),
  })
  .meta({ id: 'RestatedMonth' });
export type RestatedAnswer = z.output<typeof RestatedMonth>;

export const getRestatedMonth = defineOperation({
  id: 'getRestatedMonth',
  method: 'get',
  path: '/v1/months/{month}/restated',
  tag: 'reporting',
  summary: 'A closed month as it was closed, as it would be told now, the difference, and which facts made it',
  description:
    'For understanding, not for the books: the closed figures stay, and the difference stands in the month that was open when it became known.',
  permission: 'months.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ month }),
  answers: { 200: { description: 'Both, side by side', schema: RestatedMonth } },
  errors: ['wrong-state'],
  example: { status: 200, role: 'finance', params: { month: '2026-09' } },
});
