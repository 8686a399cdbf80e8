/** Reopening a month: one person asks, another confirms. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { factId, text, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { MonthReopening } from './shapes.ts';

const tag = 'reporting';

export const createMonthReopening = defineOperation({
  id: 'createMonthReopening',
  method: 'post',
  path: '/v1/month-closes/{closeId}/reopenings',
  tag,
  summary: 'Ask for a month to be reopened',
  description:
    'Nothing changes until another person confirms it. Only the newest close can be reopened. Its files and its signature stay; closing the ' +
    'month again makes a new close beside it.',
  permission: 'months.reopen',
  naming: 'fact',
  mode: 'exclusive',
  params: z.strictObject({ closeId: uuid }),
  body: z.strictObject({ id: factId, reason: text(2000) }).meta({ id: 'NewMonthReopening' }),
  answers: { 201: { description: 'Asked for', schema: MonthReopening, headers: ['Location'] } },
  errors: ['not-found', 'wrong-state'],
  example: {
    status: 201,
    role: 'operations',
    params: { closeId: exampleId('month-close/september') },
    body: { id: exampleId('new/month-reopening'), reason: 'The dairy sent one invoice for two months' },
  },
});

export const createReopeningConfirmation = defineOperation({
  id: 'createReopeningConfirmation',
  method: 'post',
  path: '/v1/month-reopenings/{reopeningId}/confirmations',
  tag,
  summary: 'Confirm that a month is reopened, as another person than the one who asked',
  permission: 'months.reopen',
  naming: 'fact',
  mode: 'exclusive',
  params: z.strictObject({ reopeningId: uuid }),
  body: z.strictObject({ id: factId }).meta({ id: 'NewReopeningConfirmation' }),
  answers: { 201: { description: 'The month is open again', schema: MonthReopening, headers: ['Location'] } },
  errors: ['not-found', 'wrong-state', 'two-people-needed'],
  example: {
    status: 201,
    role: 'finance',
    params: { reopeningId: exampleId('month-reopening/september') },
    body: { id: exampleId('new/reopening-confirmation') },
  },
});
