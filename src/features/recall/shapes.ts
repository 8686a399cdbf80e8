/** Shapes that several operations of recall answer. */
import { z } from 'zod';
import { instant, lotCode, quantityOrZero, signedQuantity, unit, uuid } from '../../platform/http/scalars.ts';
import { Quantities } from '../tracing/index.ts';

/** The most lots that one case can have. More than a staple of one central kitchen reaches in a year (common practice). */
export const MOST_LOTS = 100_000;

export const LotBrief = z
  .object({
    lotId: uuid,
    lotCode,
    itemId: uuid,
    itemName: z.string(),
    unit,
    siteId: uuid.meta({ description: 'Where it was born' }),
    siteName: z.string(),
    bornAt: instant,
    origin: z.enum(['supplied', 'produced', 'packed', 'pseudo', 'converted', 'opening']),
    supplierName: z.string().nullable(),
    supplierLotCode: z.string().nullable(),
  })
  .meta({ id: 'LotBrief' });

export const RecallQuantities = Quantities.meta({ id: 'RecallQuantities' });

export const RecallTotals = Quantities.extend({
  produced: signedQuantity,
  balanced: z.boolean().meta({ description: 'The other quantities sum to produced' }),
  lotCount: quantityOrZero,
}).meta({ id: 'RecallTotals' });

export const OnTheRoad = z
  .object({
    dispatchId: uuid,
    code: z.string(),
    fromSiteId: uuid,
    toSiteId: uuid,
    lots: z.array(z.object({ lotId: uuid, lotCode, itemName: z.string(), unit, quantity: signedQuantity })),
    quantity: signedQuantity.nullable().meta({ description: 'Of all its lots; null when they are in several units' }),
    unit: unit.nullable(),
  })
  .meta({ id: 'RecallOnTheRoad', description: 'Food in scope that has departed and not been received' });

export const recallParams = z.strictObject({ recallId: uuid });
