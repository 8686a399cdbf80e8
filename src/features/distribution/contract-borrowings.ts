/** Borrowing between sites, by one call of the receiver. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { code, factId, instant, line, lotCode, quantity, unit, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { FindingBrief } from '../ledger/index.ts';
import { serials } from './shapes.ts';

export const createBorrowing = defineOperation({
  id: 'createBorrowing',
  method: 'post',
  path: '/v1/borrowings',
  tag: 'distribution',
  summary: 'Record food that was borrowed from another site',
  description:
    'An observation by the site that has it now; it always posts. Departure and receipt are recorded at once, as a dispatch that is closed. The answer says lot by lot whether it may be used: what should not have left the other site is held here until the quality lead decides. Nothing is told of the other site, whose stock shows what is missing there.',
  permission: 'receipt.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      fromSiteId: uuid,
      toSiteId: uuid,
      toPlaceId: uuid
        .optional()
        .meta({ description: 'If left out: where the site says that such food is put, or its receiving place' }),
      occurredAt: instant,
      reason: line(200).optional(),
      lines: z
        .array(
          z.strictObject({
            lotId: uuid,
            quantity,
            unit,
            serials,
            fromPlaceId: uuid.optional().meta({
              description: 'If left out: the place of the other site where most of the lot is, or its receiving place',
            }),
          }),
        )
        .min(1)
        .max(100),
    })
    .meta({ id: 'NewBorrowing' }),
  answers: {
    201: {
      description: 'Recorded',
      schema: z
        .object({
          borrowingId: uuid,
          dispatchId: uuid,
          code,
          fromSiteId: uuid,
          toSiteId: uuid,
          occurredAt: instant,
          lines: z.array(
            z.object({
              lotId: uuid,
              lotCode,
              quantity,
              unit,
              toPlaceId: uuid,
              mayUse: z.boolean(),
              whyNot: z.string().nullable().meta({ description: 'If not, why, in words that a cook can act on' }),
            }),
          ),
          findings: z.array(FindingBrief),
        })
        .meta({ id: 'Borrowing' }),
      headers: ['Location'],
    },
  },
  errors: ['not-found', 'unit-mismatch', 'serials-do-not-fit', 'rule-broken'],
  example: {
    status: 201,
    body: {
      id: exampleId('new/borrowing'),
      fromSiteId: exampleId('site/w9'),
      toSiteId: exampleId('site/w3'),
      toPlaceId: exampleId('place/w3-chiller'),
      occurredAt: '2026-11-25T11:30:00+00:00',
      reason: 'Two late admissions',
      lines: [{ lotId: exampleId('lot/beef-stew-packs-1'), quantity: 2, unit: 'piece' }],
    },
  },
});
