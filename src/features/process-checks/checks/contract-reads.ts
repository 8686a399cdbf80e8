/** Reading checks, their series, and what is still to be put right. */
import { z } from 'zod';
import { STAGES } from '../../../domain/process-checks/shapes.ts';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { date, pageQuery, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { Deviation, ProcessCheck } from './contract-shapes.ts';
import { checkParams } from './contract.ts';

const reading = {
  method: 'get',
  tag: 'process-checks',
  permission: 'process-checks.read',
  naming: 'none',
  mode: 'read',
} as const;
const ofChill = { status: 200, params: { checkId: exampleId('check/chill-series') } };

export const getProcessCheck = defineOperation({
  ...reading,
  id: 'getProcessCheck',
  path: '/v1/process-checks/{checkId}',
  summary: 'One check, with its limit, its result and what was done about it',
  params: checkParams,
  answers: { 200: { description: 'The check', schema: ProcessCheck } },
  errors: ['not-found'],
  example: { status: 200, params: { checkId: exampleId('check/fridge-warm') } },
});

export const listProcessChecks = defineOperation({
  ...reading,
  id: 'listProcessChecks',
  path: '/v1/process-checks',
  summary: 'Checks by time, superseded ones too',
  query: z.strictObject({
    siteId: uuid.optional(),
    batchId: uuid.optional(),
    lotId: uuid.optional().meta({ description: 'Checks about this very lot' }),
    packingRunId: uuid.optional(),
    stage: z.enum(STAGES).optional(),
    result: z.enum(['passed', 'failed']).optional(),
    fromDate: date.optional().meta({ description: "The site's date" }),
    toDate: date.optional().meta({ description: 'Included' }),
    ...pageQuery,
  }),
  answers: { 200: { description: 'A page', schema: pageSchema(ProcessCheck), headers: ['Link'] } },
  errors: ['bad-cursor', 'rule-broken'],
  example: { status: 200, query: { siteId: exampleId('site/ck'), stage: 'storage' } },
});

const step = z.object({
  minute: z.number(),
  temperatureC: z.number(),
  lethalRate: z.number(),
  cumulativeMinutes: z.number().meta({ description: 'By the trapezoid rule' }),
  cumulativeMinutesStraight: z.number().meta({ description: 'If the temperature ran straight between the points' }),
});

export const getProcessCheckSeries = defineOperation({
  ...reading,
  id: 'getProcessCheckSeries',
  path: '/v1/process-checks/{checkId}/series',
  summary: 'The points of a check that was taken as a series',
  description:
    'Minutes from the first point, temperatures in °C whatever unit was sent. For a lethality each step says the lethal rate and the minutes so far; the lower of the two sums counts. A check that was not taken as a series has none: not-found.',
  params: checkParams,
  answers: {
    200: {
      description: 'The points',
      schema: z
        .object({
          checkId: uuid,
          points: z.array(z.object({ minute: z.number(), temperatureC: z.number() })),
          steps: z.array(step).nullable().meta({ description: 'For a lethality' }),
        })
        .meta({ id: 'ProcessCheckSeries' }),
    },
  },
  errors: ['not-found'],
  example: ofChill,
});

export const getProcessCheckChart = defineOperation({
  ...reading,
  id: 'getProcessCheckChart',
  path: '/v1/process-checks/{checkId}/chart',
  summary: 'The series of a check as a picture',
  params: checkParams,
  answers: { 200: { description: 'The picture', contentType: 'image/svg+xml' } },
  errors: ['not-found'],
  example: ofChill,
});

export const listDeviations = defineOperation({
  ...reading,
  id: 'listDeviations',
  path: '/v1/deviations',
  summary: 'Failed checks that stand, with their corrective actions, open and closed',
  query: z.strictObject({
    siteId: uuid.optional(),
    fromDate: date.optional().meta({ description: "The site's date" }),
    toDate: date.optional().meta({ description: 'Included' }),
    state: z.enum(['open', 'closed']).optional(),
    ...pageQuery,
  }),
  answers: { 200: { description: 'A page', schema: pageSchema(Deviation), headers: ['Link'] } },
  errors: ['bad-cursor', 'rule-broken'],
  example: { status: 200, query: { siteId: exampleId('site/ck'), state: 'open' } },
});
