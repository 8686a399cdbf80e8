/** Deliveries that suppliers announced: what is on its way, what came of it. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { date, factId, instant, pageQuery, quantity, unit, uuid } from '../../../platform/http/scalars.ts';
import { derivedId, exampleId } from '../../../platform/ids.ts';

const tag = 'exchange';

const Line = z.object({
  lineNo: z.int(),
  epc: z.string().meta({ description: 'The article, lot or pack as URI, as it was said' }),
  gtin: z.string().nullable(),
  itemId: uuid.nullable().meta({ description: 'The item with that GTIN; null: none, or several' }),
  itemName: z.string().nullable(),
  supplierLotCode: z.string().nullable(),
  sscc: z.string().nullable().meta({ description: 'The crate or pallet that it is in' }),
  quantity: z.number().nullable(),
  uom: z.string().nullable().meta({ description: 'UN/ECE Recommendation 20; null: so many of the article' }),
  itemQuantity: quantity.nullable().meta({ description: "In the item's unit; null where it cannot be said" }),
  unit: unit.nullable(),
  useByDate: date.nullable(),
  bestBeforeDate: date.nullable(),
  notes: z.array(z.string()).meta({ description: 'What could not be understood, for a person' }),
});

const Difference = z.object({
  kind: z.enum(['short', 'over', 'not-received', 'not-announced', 'amount-not-announced', 'use-by-differs']),
  itemId: uuid,
  itemName: z.string(),
  supplierLotCode: z.string().nullable(),
  unit,
  announcedQuantity: z.int().nullable(),
  receivedQuantity: z.int().meta({ description: 'With what was refused at the door' }),
  announcedUseByDate: date.nullable(),
  receivedUseByDate: date.nullable(),
});

const Proposal = z.object({
  siteId: uuid,
  supplierId: uuid,
  documentNumber: z.string().optional(),
  lines: z.array(
    z.object({
      itemId: uuid,
      quantity,
      unit,
      supplierLotCode: z.string().optional(),
      useByDate: date.optional(),
      bestBeforeDate: date.optional(),
    }),
  ),
});

const AnnouncedDelivery = z
  .object({
    announcedDeliveryId: uuid,
    state: z.enum(['announced', 'received', 'withdrawn']),
    captureId: uuid,
    eventId: z.string().meta({ description: "The sender's name of the shipping event" }),
    shippedAt: instant,
    recordedAt: instant,
    from: z.object({ gln: z.string().nullable(), supplierId: uuid.nullable(), supplierName: z.string().nullable() }),
    to: z.object({ gln: z.string().nullable(), siteId: uuid.nullable(), siteName: z.string().nullable() }),
    despatchAdvice: z.string().nullable(),
    purchaseOrder: z.string().nullable(),
    ssccs: z.array(z.string()),
    lines: z.array(Line),
    notes: z.array(z.string()),
    withdrawal: z.object({ declaredAt: instant, reason: z.string().nullable(), captureId: uuid }).nullable(),
    goodsReceiptIds: z.array(uuid),
    differences: z
      .array(Difference)
      .meta({ description: 'Announced against received; empty until something was received' }),
    goodsReceipt: Proposal.nullable().meta({
      description:
        'Fields to begin a goods receipt with, for who receives to compare with what is there: occurredAt, temperatures and places are theirs to say. Lines that could not be understood are not in it',
    }),
  })
  .meta({ id: 'AnnouncedDelivery', description: "A supplier's word, not a fact: nothing is in stock by it" });

export type AnnouncedDeliveryAnswer = z.output<typeof AnnouncedDelivery>;

const params = z.strictObject({ announcedDeliveryId: uuid });
const example = { announcedDeliveryId: derivedId('announced-delivery-0', exampleId('epcis-capture/brook')) };

export const listAnnouncedDeliveries = defineOperation({
  id: 'listAnnouncedDeliveries',
  method: 'get',
  path: '/v1/announced-deliveries',
  tag,
  summary: 'Deliveries that suppliers announced, the last shipped first',
  description:
    'Of your sites; those that name no site of the group are shown to whoever acts at all of them. Numbers are looked up on reading: a GTIN or GLN that is entered later is understood then.',
  permission: 'announced-deliveries.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...pageQuery,
    siteId: uuid.optional(),
    state: z.enum(['announced', 'received', 'withdrawn']).optional(),
  }),
  answers: { 200: { description: 'A page', schema: pageSchema(AnnouncedDelivery), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { query: { siteId: exampleId('site/ck'), state: 'announced' }, status: 200 },
});

export const getAnnouncedDelivery = defineOperation({
  id: 'getAnnouncedDelivery',
  method: 'get',
  path: '/v1/announced-deliveries/{announcedDeliveryId}',
  tag,
  summary: 'One announced delivery, with a goods receipt to begin with',
  permission: 'announced-deliveries.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The delivery', schema: AnnouncedDelivery } },
  errors: ['not-found'],
  example: { params: example, status: 200 },
});

export const receiveAnnouncedDelivery = defineOperation({
  id: 'receiveAnnouncedDelivery',
  method: 'post',
  path: '/v1/announced-deliveries/{announcedDeliveryId}/receipts',
  tag,
  summary: 'Say which goods receipt came of it',
  description:
    'The receipt stands as it is; this says what it answers to, and lists what differs. One delivery may come in several receipts.',
  permission: 'goods-in.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z.strictObject({ id: factId, goodsReceiptId: uuid }),
  answers: { 201: { description: 'Received', schema: AnnouncedDelivery, headers: ['Location'] } },
  errors: ['not-found', 'rule-broken'],
  example: {
    params: example,
    body: { id: exampleId('new/announced-receipt'), goodsReceiptId: exampleId('goods-receipt/carrots-1') },
    role: 'kitchen',
    status: 201,
  },
});
