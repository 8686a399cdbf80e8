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
  pageQuery,
  quantity,
  unit,
  uuid,
} from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { FindingBrief } from '../ledger/index.ts';

const tag = 'goods-in';

const NewLine = z.strictObject({
  lotId: uuid.optional().meta({ description: 'Your own id for the lot; made from the receipt and line if left out' }),
  lotCode: lotCode.optional().meta({ description: 'Made if left out' }),
  itemId: uuid,
  placeId: uuid.optional().meta({ description: "The site's receiving place, if left out" }),
  quantity,
  unit,
  massG: massG.optional().meta({ description: 'Weighed mass of the whole line, for pieces that are not all alike' }),
  supplierLotCode: line(60).optional().meta({ description: 'As written on the case or invoice' }),
  useByDate: date.optional().meta({ description: "The supplier's" }),
  allergens: allergenCodes.optional().meta({ description: 'As the label says; added to those of the item' }),
  mayContain: allergenCodes.optional(),
  temperatureC: z.number().min(-60).max(120).multipleOf(0.01).optional(),
  priceMinor: z.int().min(0).max(1_000_000_000_000).optional().meta({ description: 'Of the line, in minor units' }),
});

const GoodsReceipt = z
  .object({
    goodsReceiptId: uuid,
    siteId: uuid,
    supplierId: uuid,
    documentNumber: z.string().nullable(),
    occurredAt: instant,
    recordedAt: instant,
    receivedBy: uuid,
    lines: z.array(
      z.object({
        lineNo: z.int(),
        lotId: uuid,
        lotCode,
        itemId: uuid,
        itemName: z.string(),
        placeId: uuid,
        quantity,
        unit,
        supplierLotCode: z.string().nullable(),
        useByDate: date.nullable(),
        temperatureC: z.number().nullable(),
        priceMinor: z.int().nullable(),
      }),
    ),
  })
  .meta({ id: 'GoodsReceipt', description: 'What a supplier brought; each line is a lot' });

export const createGoodsReceipt = defineOperation({
  id: 'createGoodsReceipt',
  method: 'post',
  path: '/v1/goods-receipts',
  tag,
  summary: 'Take goods in: every line becomes a lot',
  description: 'An observation: it is on the floor already, so it always posts.',
  permission: 'goods-in.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      siteId: uuid,
      supplierId: uuid,
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
  errors: ['not-found', 'unit-mismatch', 'item-unsuitable', 'allergen-unknown', 'code-taken', 'rule-broken'],
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
