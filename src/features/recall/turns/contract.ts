/** Closing a case, and opening it again. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { factId, instant, text, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { recallParams } from '../shapes.ts';
import { Checks, Figures } from '../account/contract.ts';

const Turn = z
  .object({
    turnId: uuid,
    recallId: uuid,
    code: z.string(),
    state: z.enum(['closed', 'open']),
    turnNo: z.int(),
    turnedAt: instant,
    note: z.string(),
    figures: Figures.meta({ description: 'As they stood at that moment' }),
    checks: Checks,
  })
  .meta({ id: 'RecallTurn', description: 'A case was closed, or opened again' });

const turning = {
  method: 'post',
  tag: 'recall',
  permission: 'recalls.close',
  naming: 'fact',
  params: recallParams,
  answers: { 201: { description: 'Done', schema: Turn } },
} as const;

export const closeRecall = defineOperation({
  ...turning,
  id: 'closeRecall',
  path: '/v1/recalls/{recallId}/closing',
  summary: 'Close a case in which every quantity is typed',
  description:
    'Refused while anything is open, and while a site that had some of it has not answered. Not found is an answer; it stays below 100 % accounted ' +
    'for. Closing says that everything was answered for, not that it may be eaten: the hold of the case stands, unless liftHold ' +
    'says that what is left may be used again. The hold of a drill, which blocks nothing, ends with it.',
  mode: 'exclusive',
  body: z
    .strictObject({
      id: factId,
      note: text(1000),
      liftHold: z.boolean().optional().meta({
        description:
          'What is left may be used again, as the quality lead decides: a false alarm, say. Other holds stay. false if left out',
      }),
    })
    .meta({ id: 'NewRecallClosing' }),
  errors: ['not-found', 'wrong-state', 'quantities-open', 'rule-broken'],
  example: {
    status: 201,
    params: { recallId: exampleId('recall/drill-dressing') },
    body: { id: exampleId('new/recall-closing'), note: 'All sites have answered; all of it was found' },
  },
});

export const reopenRecall = defineOperation({
  ...turning,
  id: 'reopenRecall',
  path: '/v1/recalls/{recallId}/reopening',
  summary: 'Open a closed case again',
  description: 'Not when its hold was lifted: a new case freezes the food again.',
  mode: 'write',
  body: z.strictObject({ id: factId, note: text(1000) }).meta({ id: 'NewRecallReopening' }),
  errors: ['not-found', 'wrong-state', 'rule-broken'],
  example: {
    status: 201,
    params: { recallId: exampleId('recall/drill-shin') },
    body: { id: exampleId('new/recall-reopening'), note: 'One more tray turned up' },
  },
});
