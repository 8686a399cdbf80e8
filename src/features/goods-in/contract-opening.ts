/** Going live: the stock that is there on the first day, of unknown origin, and said so. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import {
  allergenCodes,
  date,
  factId,
  instant,
  line,
  lotCode,
  quantity,
  text,
  unit,
  uuid,
} from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { FindingBrief } from '../ledger/index.ts';
import { entered, MOST_ROWS } from './shapes.ts';

const tag = 'goods-in';

const NewLine = z.strictObject({
  itemId: uuid,
  placeId: uuid.optional().meta({ description: 'Where such food is presumed to be at the site, if left out' }),
  quantity: quantity.optional().meta({ description: 'With unit; or give entryUnit and entryQuantity' }),
  unit: unit.optional(),
  ...entered,
  useByDate: date.optional(),
  bestBeforeDate: date.optional(),
  lotCode: lotCode.optional().meta({ description: 'As on its label; the same lot in two places is two lines' }),
  supplierLotCode: line(60).optional(),
  allergens: allergenCodes.optional().meta({ description: 'All that the label declares' }),
  mayContain: allergenCodes.optional(),
});

const stock = {
  siteId: uuid,
  occurredAt: instant,
  lines: z.array(NewLine).min(1).max(MOST_ROWS).optional(),
  csv: text(500_000)
    .optional()
    .meta({
      description: `Instead of lines: a table with a heading row, separated by commas, semicolons or tabs; columns in any order. item, place, quantity, unit and use-by are required, best-before, lot-code, supplier-lot, allergens and may-contain are not. item and place are codes; an empty place is the presumed one; unit is the item's or one of its entry units; dates are YYYY-MM-DD; allergen codes are separated by blanks. At most ${MOST_ROWS} rows.`,
      example: 'item,place,quantity,unit,use-by\nCARROTS,CHILL-1,12500,g,2026-11-30\n',
    }),
};

const Row = {
  row: z.int().meta({ description: 'Place in lines, from 1; of a table, its line, the heading being 1' }),
};
const reasons = z.array(z.string()).meta({ description: 'In words' });

const Report = z
  .object({
    siteId: uuid,
    occurredAt: instant,
    rows: z.int().meta({ description: 'As they were sent, without empty ones' }),
    taken: z.array(
      z.object({
        ...Row,
        lotId: uuid.nullable().meta({ description: 'null in a check' }),
        lotCode: lotCode.nullable(),
        itemId: uuid,
        itemCode: z.string(),
        itemName: z.string(),
        placeId: uuid,
        placePresumed: z.boolean(),
        quantity,
        unit,
        entryUnit: z.string().nullable(),
        entryQuantity: z.number().nullable(),
        useByDate: date.nullable(),
        bestBeforeDate: date.nullable(),
      }),
    ),
    doubtful: z.array(
      z.object({
        ...Row,
        taken: z.boolean().meta({ description: 'false: an exact repeat, left out so that it is recorded once' }),
        reasons,
      }),
    ),
    refused: z.array(z.object({ ...Row, reasons })),
  })
  .meta({ id: 'OpeningStockReport', description: 'Row by row: taken, taken with a doubt, refused' });
export type OpeningReport = z.output<typeof Report>;

const caution =
  'Nobody knows where this food came from or how warm it has been: its lots have the origin opening and no supplier, and a trace back ends at them. A date that is missing or past is for a competent person to settle before the food is used.';

export const createOpeningStock = defineOperation({
  id: 'createOpeningStock',
  method: 'post',
  path: '/v1/opening-stock',
  tag,
  summary: 'Go live: record the stock that is there',
  description: `Each row is a lot; rows with one lot code are one lot in several places. When a row is refused nothing is recorded, unless takeGood says to take the others. ${caution}`,
  permission: 'goods-in.write',
  naming: 'fact',
  mode: 'write',
  bodyLimitKb: 1024,
  body: z
    .strictObject({
      id: factId,
      ...stock,
      takeGood: z.boolean().optional().meta({ description: 'Take the good rows even if others are refused' }),
    })
    .meta({ id: 'NewOpeningStock' }),
  answers: {
    201: {
      description: 'Recorded',
      schema: Report.extend({ entryId: uuid, findings: z.array(FindingBrief) }).meta({ id: 'OpeningStockAnswer' }),
      headers: ['Location'],
    },
  },
  errors: ['not-found', 'csv-unreadable', 'atomic-refused', 'code-taken', 'rule-broken'],
  example: {
    status: 201,
    body: {
      id: exampleId('new/opening-stock'),
      siteId: exampleId('site/ck'),
      occurredAt: '2026-11-25T05:00:00+00:00',
      lines: [
        {
          itemId: exampleId('item/carrots'),
          placeId: exampleId('place/ck-chiller'),
          quantity: 12500,
          unit: 'g',
          useByDate: '2026-11-30',
        },
      ],
    },
  },
});

export const checkOpeningStock = defineOperation({
  id: 'checkOpeningStock',
  method: 'post',
  path: '/v1/opening-stock-checks',
  tag,
  summary: 'See what would become of opening stock, without recording any',
  description: `Writes nothing and uses up no id. ${caution}`,
  permission: 'goods-in.write',
  naming: 'none',
  mode: 'read',
  bodyLimitKb: 1024,
  body: z.strictObject(stock).meta({ id: 'OpeningStockCheck' }),
  answers: { 200: { description: 'What would be taken, doubted, refused', schema: Report } },
  errors: ['not-found', 'csv-unreadable', 'code-taken', 'rule-broken'],
  example: {
    status: 200,
    body: {
      siteId: exampleId('site/ck'),
      occurredAt: '2026-11-25T05:00:00+00:00',
      csv: 'item,place,quantity,unit,use-by\nCARROTS,CHILL-1,12500,g,2026-11-30\nCARROTS,CELLAR,500,g,\n',
    },
  },
});
