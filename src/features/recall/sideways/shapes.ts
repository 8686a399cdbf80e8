/** Suggestions and shared causes, as answers show them. */
import { z } from 'zod';
import { instant, lotCode, quantityOrZero, unit, uuid } from '../../../platform/http/scalars.ts';

export const suggestionKinds = [
  'packer-after-raw',
  'same-machine',
  'packer-shift',
  'warm-dispatch',
  'same-place',
  'likely-swap',
  'supplier-code',
  'same-delivery',
] as const;
export type SuggestionKind = (typeof suggestionKinds)[number];

const period = { from: instant, to: instant };

/** Starting points that a suggestion can hand over, as they are posted. */
const Start = z
  .discriminatedUnion('kind', [
    z.object({ kind: z.literal('lot'), lotId: uuid }),
    z.object({ kind: z.literal('likely-swap'), lotId: uuid }),
    z.object({ kind: z.literal('batch'), batchId: uuid }),
    z.object({ kind: z.literal('packing-run'), packingRunId: uuid }),
    z.object({ kind: z.literal('dispatch'), dispatchId: uuid }),
    z.object({ kind: z.literal('supplier-lot'), supplierId: uuid, supplierLotCode: z.string() }),
    z.object({ kind: z.literal('supplier-period'), supplierId: uuid, ...period }),
    z.object({ kind: z.literal('machine-period'), equipmentId: uuid, ...period }),
    z.object({ kind: z.literal('person-period'), personId: uuid, ...period }),
    z.object({ kind: z.literal('place-period'), placeId: uuid, ...period }),
  ])
  .meta({ id: 'SuggestedStart', description: 'A starting point, ready to be posted' });

const Lot = z.object({
  lotId: uuid,
  lotCode,
  itemId: uuid,
  itemName: z.string(),
  unit,
  siteId: uuid,
  siteName: z.string(),
  bornAt: instant,
  origin: z.enum(['supplied', 'produced', 'packed', 'pseudo', 'converted', 'opening']),
  supplierName: z.string().nullable(),
  supplierLotCode: z.string().nullable(),
});

export const Suggestion = z
  .object({
    kind: z.enum(suggestionKinds),
    whyText: z.string(),
    lotCount: quantityOrZero.meta({
      description: 'Lots that it would add by itself; what was made from them comes too',
    }),
    lots: z.array(Lot).max(50).meta({ description: 'Up to 50 of them' }),
    start: Start,
  })
  .meta({ id: 'RecallSuggestion', description: 'What shared something with the scope. Offered, never added.' });

export const SharedCause = z
  .object({
    kind: z.enum(['supplier-lot', 'lot', 'batch', 'packing-run', 'conversion', 'machine', 'packer']),
    /** of the lot, the process, the machine or the person */
    id: uuid,
    text: z.string(),
    steps: quantityOrZero.meta({ description: 'How many processes before the lots, at most' }),
    start: Start.nullable(),
  })
  .meta({ id: 'SharedCause', description: 'What all of the lots have before them' });

export type StartAnswer = z.output<typeof Start>;
export type SuggestionAnswer = z.output<typeof Suggestion>;
export type SharedCauseAnswer = z.output<typeof SharedCause>;
