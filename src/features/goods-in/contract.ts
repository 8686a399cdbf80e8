/** Receipts from suppliers. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { pageSchema } from '../../platform/http/paging.ts';
import {
  allergenCodes,
  date,
  factId,
  instant,
  line,
  lotCode,
  massG,
  MAX_QUANTITY,
  pageQuery,
  quantityOrZero,
  text,
  unit,
  uuid,
} from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { FindingBrief } from '../ledger/index.ts';
import { entered } from './shapes.ts';

const tag = 'goods-in';
const deliveryLineNo = z.int().min(1).max(9999);

const NewLine = z.strictObject({
  lotId: uuid.optional().meta({ description: 'Your own id for the lot; made from the receipt and line if left out' }),
  lotCode: lotCode.optional().meta({ description: 'Made if left out' }),
  itemId: uuid,
  deliveryLineNo: deliveryLineNo
    .optional()
    .meta({ description: 'Line of the delivery note: several lots may have come on one' }),
  placeId: uuid.optional().meta({
    description: 'Where it was put; where such food is presumed to be put at the site, if left out',
  }),
  quantity: quantityOrZero
    .optional()
    .meta({ description: 'What was taken in, with unit; 0 only when the whole line was rejected' }),
  unit: unit.optional(),
  ...entered,
  rejectedQuantity: z.number().min(0).max(MAX_QUANTITY).multipleOf(0.001).optional().meta({
    description: 'Refused at the door, beside what was taken in; in entryUnit where the line is said so, else in unit',
  }),
  rejectedReason: text(200).optional().meta({ description: 'Required with rejectedQuantity' }),
  massG: massG.optional().meta({ description: 'Weighed mass of the whole line, for pieces that are not all alike' }),
  supplierLotCode: line(60).optional().meta({ description: 'As written on the case or invoice' }),
  useByDate: date.optional().meta({ description: "The supplier's" }),
  bestBeforeDate: date.optional().meta({ description: 'About quality; blocks nothing, and is no use-by' }),
  allergens: allergenCodes.optional().meta({
    description: 'All that the label declares. Added to those of the item; a difference is a finding, never left out',
  }),
  mayContain: allergenCodes.optional(),
  allergensConfirmed: z
    .boolean()
    .optional()
    .meta({ description: 'The label of this lot was read; true if left out and allergens are given' }),
  temperatureC: z.number().min(-60).max(120).multipleOf(0.01).optional(),
  priceMinor: z.int().min(0).max(1_000_000_000_000).optional().meta({ description: 'Of the line, in minor units' }),
});

export type NewGoodsReceiptLine = z.output<typeof NewLine>;

const CashPurchase = z.strictObject({ shopName: line(100), receiptNumber: line(60).optional() });

const GoodsReceipt = z
  .object({
    goodsReceiptId: uuid,
    siteId: uuid,
    supplierId: uuid.nullable(),
    cashPurchase: z.object({ shopName: z.string(), receiptNumber: z.string().nullable() }).nullable(),
    documentNumber: z.string().nullable(),
    occurredAt: instant,
    recordedAt: instant,
    receivedBy: uuid,
    lines: z.array(
      z.object({
        lineNo: z.int(),
        deliveryLineNo: z.int().nullable(),
        lotId: uuid.nullable().meta({ description: 'null: the whole line was rejected' }),
        lotCode: lotCode.nullable(),
        itemId: uuid,
        itemName: z.string(),
        placeId: uuid.nullable(),
        placePresumed: z.boolean().meta({ description: 'Nobody said where it was put' }),
        quantity: quantityOrZero,
        unit,
        entryUnit: z.string().nullable(),
        entryQuantity: z.number().nullable().meta({ description: 'As it was said, in entryUnit' }),
        rejectedQuantity: quantityOrZero.meta({ description: 'Refused at the door; never was in stock' }),
        rejectedReason: z.string().nullable(),
        supplierLotCode: z.string().nullable(),
        useByDate: date.nullable(),
        bestBeforeDate: date.nullable(),
        allergensConfirmed: z.boolean(),
        temperatureC: z.number().nullable(),
        priceMinor: z.int().nullable(),
      }),
    ),
  })
  .meta({
    id: 'GoodsReceipt',
    description: 'What a supplier brought; each line is a lot, unless it was rejected whole',
  });

export const createGoodsReceipt = defineOperation({
  id: 'createGoodsReceipt',
  method: 'post',
  path: '/v1/goods-receipts',
  tag,
  summary: 'Take goods in: every line becomes a lot',
  description:
    'An observation: it is on the floor already, so it always posts. Quantities are said in the unit of the item or in one of its entry units (case, tin, tray). A part refused at the door is kept on the line and never enters stock. What is bought for cash names the shop instead of a supplier. A label that does not say what the item says is a finding; the lot gets every allergen of both, and a person decides what may be served to whom.',
  permission: 'goods-in.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      siteId: uuid,
      supplierId: uuid.optional().meta({ description: 'Left out with cashPurchase' }),
      cashPurchase: CashPurchase.optional().meta({ description: 'Bought at a shop; instead of supplierId' }),
      documentNumber: line(60).optional(),
      occurredAt: instant,
      lines: z.array(NewLine).min(1).max(200),
    })
    .meta({ id: 'NewGoodsReceipt' }),
  answers: {
    201: {
      description: 'Taken in',
      schema: GoodsReceipt.extend({ findings: z.array(FindingBrief) }).meta({ id: 'GoodsReceiptAnswer' }),
      headers: ['Location'],
    },
  },
  errors: [
    'not-found',
    'unit-mismatch',
    'entry-unit-unknown',
    'item-unsuitable',
    'allergen-unknown',
    'code-taken',
    'rule-broken',
  ],
  example: {
    status: 201,
    body: {
      id: exampleId('new/goods-receipt'),
      siteId: exampleId('site/ck'),
      supplierId: exampleId('supplier/brook'),
      documentNumber: 'DN-20931',
      occurredAt: '2026-11-25T06:10:00+00:00',
      lines: [
        {
          itemId: exampleId('item/beef-shin'),
          placeId: exampleId('place/ck-chiller'),
          quantity: 24000,
          unit: 'g',
          supplierLotCode: 'BRK-7802',
          useByDate: '2026-11-30',
          temperatureC: 2.4,
          priceMinor: 22800,
        },
      ],
    },
  },
});

export const listGoodsReceipts = defineOperation({
  id: 'listGoodsReceipts',
  method: 'get',
  path: '/v1/goods-receipts',
  tag,
  summary: 'List goods receipts',
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery, siteId: uuid.optional(), supplierId: uuid.optional() }),
  answers: { 200: { description: 'Receipts at your sites', schema: pageSchema(GoodsReceipt), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200, query: { supplierId: exampleId('supplier/brook') } },
});

export const getGoodsReceipt = defineOperation({
  id: 'getGoodsReceipt',
  method: 'get',
  path: '/v1/goods-receipts/{goodsReceiptId}',
  tag,
  summary: 'Read a goods receipt',
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ goodsReceiptId: uuid }),
  answers: { 200: { description: 'The receipt', schema: GoodsReceipt } },
  errors: ['not-found'],
  example: { status: 200, params: { goodsReceiptId: exampleId('goods-receipt/carrots-1') } },
});
