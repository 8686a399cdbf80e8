/** Where a recall begins, and what opening it would reach. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import {
  allergenCodes,
  instant,
  line,
  quantity,
  quantityOrZero,
  scannedCode,
  signedQuantity,
  text,
  uuid,
} from '../../platform/http/scalars.ts';
import { LotBrief, OnTheRoad, RecallQuantities, RecallTotals } from './shapes.ts';
import { ScopeValue } from './shapes-value.ts';
import { SharedCause, Suggestion } from './sideways/shapes.ts';

const more = {
  note: text(500).optional(),
  walk: z
    .enum(['forward', 'none'])
    .optional()
    .meta({
      description:
        'forward (if left out): all that was made from it as well; none: only the lots themselves. Of food that is recorded later ' +
        'as made from them, the hold takes hold either way',
    }),
};
const period = {
  from: instant,
  to: instant.meta({ description: 'The moment after the last one that is meant' }),
};
const kind = <K extends string>(name: K) => z.literal(name);

const Start = z
  .discriminatedUnion('kind', [
    z.strictObject({
      kind: kind('lot'),
      lotId: uuid.optional(),
      lotCode: scannedCode.optional().meta({ description: 'As scanned: a lot code, or lot code/serial' }),
      ...more,
    }),
    z.strictObject({
      kind: kind('supplier-lot'),
      supplierId: uuid.optional(),
      supplier: line(120).optional().meta({ description: 'Code or name, as written on the invoice' }),
      supplierLotCode: line(60).meta({ description: 'As written on the invoice; letters and digits are compared' }),
      ...more,
    }),
    z.strictObject({ kind: kind('supplier-period'), supplierId: uuid, ...period, ...more }),
    z.strictObject({ kind: kind('item-period'), itemId: uuid, ...period, ...more }),
    z.strictObject({
      kind: kind('batch'),
      batchId: uuid.optional(),
      batchCode: line(60).optional(),
      ...more,
    }),
    z.strictObject({ kind: kind('packing-run'), packingRunId: uuid, ...more }),
    z.strictObject({
      kind: kind('machine-period'),
      equipmentId: uuid,
      from: instant.optional(),
      to: instant.optional(),
      sinceCleanDown: instant
        .optional()
        .meta({ description: 'In place of from and to: from the full clean-down before this moment to the one after' }),
      ...more,
    }),
    z.strictObject({ kind: kind('person-period'), personId: uuid, ...period, ...more }),
    z.strictObject({ kind: kind('place-period'), placeId: uuid, ...period, ...more }),
    z.strictObject({
      kind: kind('dispatch'),
      dispatchId: uuid.optional(),
      dispatchCode: line(60).optional(),
      ...more,
    }),
    z.strictObject({ kind: kind('excursion'), excursionId: uuid, ...more }),
    z.strictObject({
      kind: kind('undeclared-allergen'),
      allergen: allergenCodes.element,
      itemId: uuid
        .optional()
        .meta({ description: 'All lots of the item in the period, whatever is known of their allergens' }),
      ...period,
      ...more,
    }),
    z.strictObject({
      kind: kind('complaint'),
      lotCode: scannedCode.meta({ description: 'As printed on the pack' }),
      whatIsWrong: z.enum(['leaker', 'foreign-body', 'illness', 'taste-or-smell', 'other']),
      ...more,
    }),
    z.strictObject({ kind: kind('likely-swap'), lotId: uuid, ...more }),
  ])
  .meta({ id: 'RecallStart', description: 'A starting point. Its own lots are always in scope' });

export type StartAsked = z.output<typeof Start>;

export const Starts = z.array(Start).min(1).max(20);

export const StartErrors = ['starts-match-nothing', 'start-ambiguous', 'scope-too-large', 'rule-broken'] as const;

const PreviewSite = z.object({
  siteId: uuid,
  siteName: z.string(),
  lotCount: quantityOrZero.nullable().meta({
    description:
      'Lots that it has or had, or that are on the road to it; null: more than 10,000 in scope, not counted by site',
  }),
  quantities: z.array(RecallQuantities),
});

const Preview = z
  .object({
    starts: z.array(
      z.object({
        position: z.int(),
        kind: z.string(),
        lotCount: quantity,
        lots: z.array(LotBrief).meta({ description: 'The first 50' }),
      }),
    ),
    lotCount: quantity,
    bound: z.int().meta({ description: 'The most lots that one case can have' }),
    totals: z.array(RecallTotals),
    sites: z.array(PreviewSite),
    packs: signedQuantity.meta({ description: 'Pieces that are still somewhere' }),
    served: signedQuantity.meta({ description: 'Pieces that were served' }),
    onTheRoad: z.array(OnTheRoad),
    value: ScopeValue.nullable().meta({ description: 'null: too many lots to work it out while somebody waits' }),
    sharedCauses: z
      .array(SharedCause)
      .meta({ description: 'What the lots that the starts name have before them in common; nearest first' }),
    ifThisToo: z.array(Suggestion).meta({
      description: 'What shared something with the scope, each with a starting point to add; offered, never added',
    }),
  })
  .meta({ id: 'RecallPreview' });

export const previewRecall = defineOperation({
  id: 'previewRecall',
  method: 'post',
  path: '/v1/recall-previews',
  tag: 'recall',
  summary: 'See what a recall would reach, before opening it',
  description: 'Changes nothing. What it shows is as of now; opening looks again.',
  permission: 'recalls.write',
  naming: 'none',
  mode: 'read',
  body: z.strictObject({ starts: Starts }).meta({ id: 'RecallPreviewRequest' }),
  answers: { 200: { description: 'What it would reach', schema: Preview } },
  errors: [...StartErrors],
  example: {
    status: 200,
    body: { starts: [{ kind: 'supplier-lot', supplier: 'Brook Farm', supplierLotCode: 'BRK-7741' }] },
  },
});
