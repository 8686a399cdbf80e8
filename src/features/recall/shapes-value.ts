/** What a scope is worth, as answers show it. */
import { z } from 'zod';
import { lotCode, quantityOrZero, signedQuantity, unit, uuid } from '../../platform/http/scalars.ts';

const minor = signedQuantity.meta({ description: 'Minor units of the currency' });

export const ScopeValue = z
  .object({
    currency: z.string().regex(/^[A-Z]{3}$/),
    onHandMinor: minor,
    inTransitMinor: minor,
    inProcessMinor: minor.meta({ description: 'In a batch that nothing has come out of yet' }),
    servedMinor: minor,
    wastedMinor: minor,
    unexplainedMinor: minor.meta({ description: 'Found missing by counts; below zero when found over' }),
    totalMinor: minor.meta({ description: 'The sum of the other amounts' }),
    unpricedMassG: signedQuantity.meta({
      description: 'Mass of what has no price, as it went in; worth nothing above',
    }),
    unpricedLotCount: quantityOrZero,
    unpricedLots: z
      .array(z.object({ lotId: uuid, lotCode, itemName: z.string(), quantity: quantityOrZero, unit }))
      .max(50)
      .meta({ description: 'Deliveries without a price that are in it, whole, up to 50' }),
    assumptions: z.array(z.string()),
  })
  .meta({ id: 'ScopeValue', description: 'At the prices that were paid for what is in it, each lot counted once' });

export type ScopeValueAnswer = z.output<typeof ScopeValue>;
