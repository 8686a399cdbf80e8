/** Answers of sites: what became of each lot, signed. */
import { z } from 'zod';
import recalls from '../../../../shared/recalls.json' with { type: 'json' };
import { defineOperation } from '../../../platform/http/contract.ts';
import { factId, instant, line, quantityOrZero, text, unit, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { recallParams } from '../shapes.ts';
import { AccountSite } from '../account/contract.ts';

const outcome = z.enum(recalls.outcomes.list.map((one) => one.code)).meta({ description: 'Of shared/recalls.json' });

const lineFields = {
  lotId: uuid,
  outcome,
  quantity: quantityOrZero.meta({ description: '0 with not-found: we have and had none of it' }),
  unit,
  placeId: uuid.optional().meta({
    description: 'Where it was. Needed with quarantined, destroyed and already-served, but for what is in a pot',
  }),
  servedAt: instant
    .optional()
    .meta({ description: 'Of already-served: when. If left out, just before the case was opened' }),
  witness: line(100).optional().meta({ description: 'Needed with destroyed: who saw it' }),
  destination: line(40)
    .optional()
    .meta({ description: 'Of what is destroyed, as in shared/destinations.json; refuse if left out' }),
  note: text(500).optional(),
};

export const answerRecall = defineOperation({
  id: 'answerRecall',
  method: 'post',
  path: '/v1/recalls/{recallId}/responses',
  tag: 'recall',
  summary: "Give a site's answer, signed: what became of each lot",
  description:
    'What was destroyed is recorded as a discard, what was set aside as a move into the quarantine place, what was served already as a use: ' +
    'facts of their own, which can be reversed. The other outcomes are statements. A new answer about a lot takes the place of the earlier ' +
    'statements about it at that site, so say all of it again; what was recorded in the ledger stays until it is reversed. In a drill nothing ' +
    'is recorded in the ledger.',
  permission: 'recall-answers.write',
  naming: 'fact',
  mode: 'write',
  params: recallParams,
  body: z
    .strictObject({
      id: factId,
      siteId: uuid,
      signedBy: line(100),
      respondedAt: instant.optional().meta({ description: 'Now, if left out' }),
      note: text(1000).optional(),
      lines: z
        .array(z.strictObject(lineFields).meta({ id: 'NewRecallResponseLine' }))
        .min(1)
        .max(500),
    })
    .meta({ id: 'NewRecallResponse' }),
  answers: {
    201: {
      description: 'Recorded',
      schema: z
        .object({
          responseId: uuid,
          recallId: uuid,
          siteId: uuid,
          signedBy: z.string(),
          respondedAt: instant,
          lines: z.array(
            z
              .object({
                lineNo: z.int(),
                lotId: uuid,
                outcome,
                quantity: quantityOrZero,
                unit,
                placeId: uuid.nullable(),
                witness: z.string().nullable(),
                note: z.string().nullable(),
                entryId: uuid.nullable().meta({ description: 'What it recorded in the ledger' }),
              })
              .meta({ id: 'RecallResponseLine' }),
          ),
          account: AccountSite.meta({ description: "The site's part of the account, with this answer" }),
        })
        .meta({ id: 'RecallResponse' }),
    },
  },
  errors: ['not-found', 'wrong-state', 'unit-mismatch', 'rule-broken', 'discard-reason-unknown'],
  example: {
    status: 201,
    params: { recallId: exampleId('recall/parsley') },
    body: {
      id: exampleId('new/recall-response'),
      siteId: exampleId('site/w3'),
      signedBy: 'Wren Ashby',
      lines: [
        {
          lotId: exampleId('lot/parsley-1'),
          outcome: 'destroyed',
          quantity: 200,
          unit: 'g',
          placeId: exampleId('place/w3-chiller'),
          witness: 'Tilda Rowe',
        },
        { lotId: exampleId('lot/parsley-1'), outcome: 'not-found', quantity: 20, unit: 'g' },
      ],
    },
  },
});
