/** Shapes that several operations of the ledger answer. */
import { z } from 'zod';
import {
  allergenCodes,
  date,
  instant,
  line,
  lotCode,
  quantity,
  signedQuantity,
  unit,
  uuid,
} from '../../platform/http/scalars.ts';

export const FindingBrief = z
  .object({
    kind: z.string().meta({ example: 'shortfall' }),
    lotId: uuid.nullable(),
    quantity: signedQuantity.nullable(),
    detail: z.record(z.string(), z.unknown()),
  })
  .meta({ id: 'FindingBrief', description: 'What an observation showed that the rules do not allow' });

export const EntryAnswer = z
  .object({
    entryId: uuid,
    seq: z.int(),
    kind: z.string(),
    siteId: uuid,
    occurredAt: instant,
    occurredOn: date,
    recordedAt: instant,
    findings: z.array(FindingBrief),
  })
  .meta({ id: 'EntryAnswer', description: 'A recorded fact that moved quantity' });

export const TakingAnswer = EntryAnswer.extend({
  mayUse: z.boolean().meta({ description: 'Whether it might be used at that moment, as far as was known' }),
  whyNot: z.string().nullable().meta({ description: 'If not, why, in words that a cook can act on' }),
}).meta({ id: 'TakingAnswer' });

export const HoldBrief = z.object({ holdId: uuid, kind: z.string(), rootLotId: uuid }).meta({ id: 'HoldBrief' });

export const Lot = z
  .object({
    lotId: uuid,
    code: lotCode,
    itemId: uuid,
    itemCode: z.string(),
    itemName: z.string(),
    origin: z.enum(['supplied', 'produced', 'packed', 'pseudo', 'converted', 'opening']),
    siteId: uuid.meta({ description: 'Where it was born' }),
    unit,
    quantity: quantity.meta({ description: 'At birth' }),
    massMg: z
      .int()
      .meta({ description: 'Of the whole quantity at birth; q units weigh exactly q x massMg / quantity' }),
    serialised: z.boolean(),
    bornAt: instant,
    handling: z.enum(['raw', 'ready-to-eat']),
    storageInstruction: z.string(),
    printedUseByAt: instant.nullable(),
    printedUseByDate: date.nullable(),
    useByAt: instant.nullable().meta({ description: 'In force; the first moment at which it may no longer be used' }),
    useByDate: date.nullable(),
    useByBasis: z.unknown().meta({ description: 'Which rule gave the printed date, from what' }),
    allergens: allergenCodes,
    mayContain: allergenCodes,
    supplierId: uuid.nullable(),
    supplierLotCode: line().nullable(),
    shopName: z.string().nullable().meta({ description: 'Bought for cash there: no supplier of the catalogue' }),
    bestBeforeDate: date.nullable().meta({ description: 'About quality; blocks nothing' }),
    goodsReceiptId: uuid.nullable(),
    batchId: uuid.nullable(),
    loadNo: z.int().nullable(),
    packingRunId: uuid.nullable(),
    holds: z.array(HoldBrief).meta({ description: 'Open holds that reach it' }),
    earlierUseBys: z.array(z.object({ accountId: uuid, useByAt: instant })).meta({
      description: 'Places and dispatches where the date in force is earlier than `useByAt`, for the part there',
    }),
  })
  .meta({ id: 'Lot', description: 'A quantity of one item with one origin and one history' });

export const lotParams = z.strictObject({ lotId: uuid });
