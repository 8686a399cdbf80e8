/** Effectiveness checks: was the site reached, and did it do as asked (21 CFR 7.42(b)(3))? */
import { z } from 'zod';
import table from '../../../../shared/recalls.json' with { type: 'json' };
import { defineOperation } from '../../../platform/http/contract.ts';
import { factId, instant, text, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { recallParams } from '../shapes.ts';
import { Checks } from '../account/contract.ts';

const method = z.enum(table.checkMethods.list.map((one) => one.code));

export const recordRecallCheck = defineOperation({
  id: 'recordRecallCheck',
  method: 'post',
  path: '/v1/recalls/{recallId}/checks',
  tag: 'recall',
  summary: 'Record that a site was checked: whether it was reached and did as asked',
  description: 'A later check of the same site takes the place of the earlier one in the sums; both stay.',
  permission: 'recalls.write',
  naming: 'fact',
  mode: 'write',
  params: recallParams,
  body: z
    .strictObject({
      id: factId,
      siteId: uuid,
      method,
      effective: z.boolean(),
      checkedAt: instant.optional().meta({ description: 'Now, if left out' }),
      note: text(1000).optional(),
    })
    .meta({ id: 'NewRecallCheck' }),
  answers: {
    201: {
      description: 'Recorded',
      schema: z
        .object({
          checkId: uuid,
          recallId: uuid,
          siteId: uuid,
          method,
          effective: z.boolean(),
          checkedAt: instant,
          checks: Checks,
        })
        .meta({ id: 'RecallCheck' }),
    },
  },
  errors: ['not-found', 'wrong-state', 'rule-broken'],
  example: {
    status: 201,
    params: { recallId: exampleId('recall/parsley') },
    body: { id: exampleId('new/recall-check'), siteId: exampleId('site/w3'), method: 'telephone', effective: true },
  },
});
