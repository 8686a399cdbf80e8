/** What is said of a case: class, depth, action, reason, how thoroughly to check, who leads. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { factId, instant, text, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { StatementInForce, statementFields } from '../contract-cases.ts';
import { recallParams } from '../shapes.ts';

export const makeRecallStatement = defineOperation({
  id: 'makeRecallStatement',
  method: 'post',
  path: '/v1/recalls/{recallId}/statements',
  tag: 'recall',
  summary: 'Say what is now known or decided of a case',
  description:
    'Nothing is edited: what is said before stays, and the newest of each field is in force. Codes are in shared/recalls.json. Notices that ' +
    'were sent keep their words; with tellSites every site gets a new one.',
  permission: 'recalls.write',
  naming: 'fact',
  mode: 'write',
  params: recallParams,
  body: z
    .strictObject({
      id: factId,
      ...statementFields,
      tellSites: z.boolean().optional().meta({ description: 'Send every site of the case a new notice that says it' }),
      note: text(1000).optional(),
    })
    .meta({ id: 'NewRecallStatement' }),
  answers: {
    201: {
      description: 'Said',
      schema: z
        .object({
          statementId: uuid,
          recallId: uuid,
          saidAt: instant,
          said: z.record(z.string(), z.unknown()),
          inForce: StatementInForce,
        })
        .meta({ id: 'RecallStatement' }),
    },
  },
  errors: ['not-found', 'rule-broken', 'wrong-state'],
  example: {
    status: 201,
    params: { recallId: exampleId('recall/parsley') },
    body: {
      id: exampleId('new/recall-statement'),
      class: 'I',
      action: 'recall',
      reason: 'supplier-warning',
      checkLevel: 'A',
      text: 'Destroy what is left before a witness.',
    },
  },
});
