/** What is said of a case: class, depth, action, reason, how thoroughly to check, who leads. */
import { z } from 'zod';
import table from '../../../../shared/recalls.json' with { type: 'json' };
import { defineOperation } from '../../../platform/http/contract.ts';
import { factId, instant, line, text, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const codesOf = ({ list }: { list: readonly { code: string }[] }) => z.enum(list.map((one) => one.code));

/** Optional, each; the newest of each is in force. */
export const statementFields = {
  class: codesOf(table.classes).optional().meta({ description: '21 CFR 7.3(m)', example: 'I' }),
  depth: codesOf(table.depths).optional().meta({ description: 'How far it goes, 21 CFR 7.42(b)(1)' }),
  action: codesOf(table.actions)
    .optional()
    .meta({
      description: 'withdrawal: before it reached whoever eats it; recall: it has, or may have (178/2002 Art. 19)',
    }),
  reason: codesOf(table.reasons).optional(),
  text: text(2000).optional().meta({ description: 'What is wrong, and what is to become of the food, in plain words' }),
  checkLevel: codesOf(table.checkLevels)
    .optional()
    .meta({ description: 'How many sites are to be checked, 21 CFR 7.42(b)(3)' }),
  checkPercent: z.int().min(11).max(99).optional().meta({ description: 'Level B only, and needed there' }),
  leadName: line(100).optional(),
  contact: line(200).optional().meta({ description: 'Where to ask: telephone, mail' }),
};

const orNull = <T extends z.ZodType>(schema: z.ZodOptional<T>) => schema.unwrap().nullable();

export const StatementInForce = z
  .object({
    class: orNull(statementFields.class),
    depth: orNull(statementFields.depth),
    action: orNull(statementFields.action),
    reason: orNull(statementFields.reason),
    text: orNull(statementFields.text),
    checkLevel: orNull(statementFields.checkLevel),
    checkPercent: orNull(statementFields.checkPercent),
    leadName: orNull(statementFields.leadName),
    contact: orNull(statementFields.contact),
  })
  .meta({ id: 'RecallStatementInForce', description: 'The newest of each; null: nobody said it' });

export type InForce = z.output<typeof StatementInForce>;

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
  params: z.strictObject({ recallId: uuid }),
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
      class: 'II',
      action: 'recall',
      reason: 'supplier-warning',
      checkLevel: 'A',
      text: 'Pieces of glass may be in it. Destroy it before a witness.',
    },
  },
});
