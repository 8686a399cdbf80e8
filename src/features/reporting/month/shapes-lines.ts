/** The lines of a row of the month, and the measures that its schemas share. */
import { z } from 'zod';
import { signedQuantity } from '../../../platform/http/scalars.ts';

export const grams = z.int().meta({ description: 'Whole grams' });
export const minor = z.int().meta({ description: 'Minor units of the currency; below zero where it takes away' });
export const percent = z
  .number()
  .nullable()
  .meta({ description: 'One decimal; null when there is nothing to take it of' });
export const Share = z.object({ value: percent, of: z.string().meta({ description: 'What it is a percentage of' }) });

const lines = (amount: z.ZodInt) =>
  z.object({
    opening: amount,
    received: amount.meta({ description: 'From suppliers, and stock taken on when records began' }),
    produced: amount,
    returnedIn: amount.meta({ description: 'Came back from service' }),
    transferIn: amount.meta({ description: 'Arrived from outside the sites asked for' }),
    adjusted: amount.meta({
      description: 'Found over by counts; below zero when found missing: what nobody explained',
    }),
    consumed: amount.meta({ description: 'Put into batches, packs and conversions' }),
    served: amount.meta({ description: 'Seen to be served' }),
    servedDerived: amount.meta({ description: 'Nobody saw it, but counts showed it to be used' }),
    staffMeals: amount,
    donated: amount,
    tasted: amount,
    sampled: amount.meta({ description: 'Taken by or for a laboratory' }),
    wasted: amount,
    transferOut: amount.meta({ description: 'Sent outside the sites asked for' }),
    returnedToSupplier: amount,
    closing: amount,
  });

export const QuantityLines = lines(signedQuantity).meta({
  id: 'MonthLines',
  description:
    'opening + received + produced + returnedIn + transferIn + adjusted = consumed + served + servedDerived + staffMeals + donated + ' +
    'tasted + sampled + wasted + transferOut + returnedToSupplier + closing, exactly',
});

export const MoneyLines = lines(minor)
  .extend({
    revalued: minor.meta({
      description:
        'What later prices changed in the worth of what had moved or stood before the month; on the left side of the sum',
    }),
  })
  .meta({
    id: 'MonthMoney',
    description:
      'opening + received + produced + returnedIn + transferIn + adjusted + revalued = consumed + served + ... + closing, exactly',
  });
