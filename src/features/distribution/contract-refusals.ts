/** Refused at the door: the food stays on the van. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { code, factId, instant, line, quantity, unit, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { FindingBrief } from '../ledger/index.ts';
import { serials } from './shapes.ts';

export const createRefusal = defineOperation({
  id: 'createRefusal',
  method: 'post',
  path: '/v1/dispatches/{dispatchId}/refusals',
  tag: 'distribution',
  summary: 'Record what was refused at the door and stayed on the van',
  description:
    'An observation by the driver or the receiver; it always posts. The food goes back on a leg of its own, a dispatch of purpose return from the site that refused it to the site that sent it, which has departed already. When that is received, the food is put into quarantine: it was out of sight, and its packs are not mixed with others.',
  permission: 'drops.write',
  naming: 'fact',
  mode: 'write',
  params: z.strictObject({ dispatchId: uuid }),
  body: z
    .strictObject({
      id: factId,
      occurredAt: instant,
      reason: line(200),
      lines: z
        .array(z.strictObject({ lotId: uuid, quantity, unit, serials }))
        .min(1)
        .max(500),
    })
    .meta({ id: 'NewRefusal' }),
  answers: {
    201: {
      description: 'Recorded',
      schema: z
        .object({
          refusalId: uuid,
          dispatchId: uuid,
          returnDispatchId: uuid.meta({ description: 'The leg back' }),
          returnCode: code,
          occurredAt: instant,
          reason: z.string(),
          lines: z.array(z.object({ lotId: uuid, lotCode: z.string(), quantity, unit })),
          findings: z.array(FindingBrief),
        })
        .meta({ id: 'Refusal' }),
      headers: ['Location'],
    },
  },
  errors: ['not-found', 'unit-mismatch', 'serials-do-not-fit'],
  example: {
    status: 201,
    params: { dispatchId: exampleId('dispatch/w3-on-the-road') },
    body: {
      id: exampleId('new/refusal'),
      occurredAt: '2026-11-25T11:04:00+00:00',
      reason: 'Pouches wet, label not readable',
      lines: [{ lotId: exampleId('lot/beef-stew-packs-1'), quantity: 1, unit: 'piece' }],
    },
  },
});
