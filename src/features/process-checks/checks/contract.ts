/** Taking checks, correcting them, and saying what was done about those that failed. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import {
  CHECK_BODY_KB,
  NewCheckCorrection,
  NewCorrectiveAction,
  NewProcessCheck,
  TakenProcessCheck,
} from './contract-shapes.ts';

export const checkParams = z.strictObject({ checkId: uuid });
const taken = (description: string) => ({
  201: { description, schema: TakenProcessCheck, headers: ['Location'] as const },
});
const fridge = {
  siteId: exampleId('site/ck'),
  stage: 'storage',
  kind: 'temperature',
  about: { kind: 'place', id: exampleId('place/ck-chiller') },
};

export const createProcessCheck = defineOperation({
  id: 'createProcessCheck',
  method: 'post',
  path: '/v1/process-checks',
  tag: 'process-checks',
  summary: 'Record a check; the service says whether it passed',
  description:
    "Held against the control point of the batch's plan, or else against the limit of the site or its jurisdiction. A check that fails is a finding. It holds the food that it is about, unless it may be repeated and the food waits for release anyway; at another site than where the food was made it holds it at that site only; at service (regeneration, hot-holding) it holds nothing. It does not replace the food-safety plan: what to do with the food is decided by the quality lead.",
  permission: 'process-checks.write',
  naming: 'fact',
  mode: 'write',
  bodyLimitKb: CHECK_BODY_KB,
  body: NewProcessCheck,
  answers: taken('Recorded'),
  errors: ['not-found', 'rule-broken', 'series-unusable', 'time-in-future', 'batch-closed'],
  example: { status: 201, body: { id: exampleId('new/process-check'), ...fridge, temperatureC: 3.4 } },
});

export const createCheckCorrection = defineOperation({
  id: 'createCheckCorrection',
  method: 'post',
  path: '/v1/process-checks/{checkId}/corrections',
  tag: 'process-checks',
  summary: 'Record a check anew in place of one that was recorded wrongly',
  description:
    'The whole check again, with the reason. Both stay readable; only the newest counts. Where a failed check becomes a passed one, its finding is cleared and a hold stays until a person lifts it. Where a passed one becomes a failed one, the food is held, and what was released on it is a finding.',
  permission: 'process-checks.write',
  naming: 'fact',
  mode: 'exclusive',
  bodyLimitKb: CHECK_BODY_KB,
  params: checkParams,
  body: NewCheckCorrection,
  answers: taken('Recorded in its place'),
  errors: ['not-found', 'rule-broken', 'series-unusable', 'time-in-future', 'already-corrected'],
  example: {
    status: 201,
    params: { checkId: exampleId('check/fridge-typo') },
    body: {
      id: exampleId('new/check-correction'),
      ...fridge,
      occurredAt: '2026-11-25T06:05:00+00:00',
      temperatureC: 4.1,
      reason: 'The point was forgotten: it read 4.1, not 41',
    },
  },
});

export const createCorrectiveAction = defineOperation({
  id: 'createCorrectiveAction',
  method: 'post',
  path: '/v1/process-checks/{checkId}/corrective-actions',
  tag: 'process-checks',
  summary: 'Say what was done about a check that failed',
  description:
    'The last one may close the matter. A quality lead closes; where the control point may be repeated and a later check of it has passed, whoever works there may. Closing settles the finding of the check, with the action as its note. It lifts no hold: that comes with the release, or is done by a person.',
  permission: 'corrective-actions.write',
  naming: 'fact',
  mode: 'write',
  params: checkParams,
  body: NewCorrectiveAction,
  answers: taken('Recorded'),
  errors: ['not-found', 'wrong-state', 'time-in-future', 'already-corrected'],
  example: {
    status: 201,
    params: { checkId: exampleId('check/fridge-warm') },
    body: {
      id: exampleId('new/corrective-action'),
      action: 'Door seal replaced; food moved to the other chiller and found below 5 °C',
    },
  },
});
