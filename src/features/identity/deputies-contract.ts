/**
 * Deputies: who stands in for a quality lead, where, from when to when, and why. Somebody has to decide at weekends too; whoever does so
 * for a while is named beforehand, and the record says that they did it as a deputy.
 */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { pageSchema } from '../../platform/http/paging.ts';
import { factId, instant, pageQuery, text, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';

const Deputy = z
  .object({
    deputyId: uuid,
    personId: uuid,
    personName: z.string(),
    role: z.enum(['quality']),
    siteId: uuid.nullable().meta({ description: 'null: every site of the group' }),
    from: instant,
    to: instant,
    reason: z.string(),
    appointedBy: uuid,
    appointedAt: instant,
    endedAt: instant.nullable().meta({ description: 'Ended by a person before its time' }),
    endedBy: uuid.nullable(),
  })
  .meta({
    id: 'Deputy',
    description: 'An appointment; from it on the right is in every token that the person signs in for',
  });

const tag = 'identity';
const params = z.strictObject({ deputyId: uuid });

export const createDeputy = defineOperation({
  id: 'createDeputy',
  method: 'post',
  path: '/v1/deputies',
  tag,
  summary: 'Appoint a deputy for the quality lead',
  description:
    'For at most 31 days, not in the past. The deputy has the right from the first sign-in after `from`; tokens that hold it end with ' +
    'it. Appoint somebody who is trained for it: the right is to release and hold food. A deputy appoints no deputies, and nobody ' +
    'appoints themselves. Tokens of an external issuer carry what that issuer says, so the right does not reach those who sign in there.',
  permission: 'deputies.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      personId: uuid,
      role: z.enum(['quality']),
      siteId: uuid.nullable().meta({ description: 'null: every site, for those who act for every site themselves' }),
      from: instant,
      to: instant,
      reason: text(500),
    })
    .meta({ id: 'NewDeputy' }),
  answers: { 201: { description: 'Appointed', schema: Deputy, headers: ['Location'] } },
  errors: ['not-found', 'rule-broken'],
  example: {
    body: {
      id: exampleId('new/deputy'),
      personId: exampleId('person/cook-2'),
      role: 'quality',
      siteId: exampleId('site/ck'),
      from: '2026-11-27T17:00:00+00:00',
      to: '2026-11-30T06:00:00+00:00',
      reason: 'The quality lead is away for the weekend',
    },
    status: 201,
  },
});

export const listDeputies = defineOperation({
  id: 'listDeputies',
  method: 'get',
  path: '/v1/deputies',
  tag,
  summary: 'Deputies, by the beginning of their time',
  permission: 'deputies.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...pageQuery,
    siteId: uuid.optional().meta({ description: 'Those for every site are shown too' }),
    personId: uuid.optional(),
    open: z.enum(['true', 'false']).optional().meta({ description: 'true: not over; false: over or ended' }),
  }),
  answers: { 200: { description: 'A page', schema: pageSchema(Deputy), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200, query: { open: 'true' } },
});

export const getDeputy = defineOperation({
  id: 'getDeputy',
  method: 'get',
  path: '/v1/deputies/{deputyId}',
  tag,
  summary: 'One appointment',
  permission: 'deputies.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The appointment', schema: Deputy } },
  errors: ['not-found'],
  example: { params: { deputyId: exampleId('deputy/weekend') }, status: 200 },
});

export const createDeputyEnd = defineOperation({
  id: 'createDeputyEnd',
  method: 'post',
  path: '/v1/deputies/{deputyId}/end',
  tag,
  summary: 'End an appointment before its time',
  description: 'Tokens that were given out before stay good until they expire (15 minutes).',
  permission: 'deputies.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z.strictObject({ id: factId }).meta({ id: 'NewDeputyEnd' }),
  answers: { 201: { description: 'Ended', schema: Deputy, headers: ['Location'] } },
  errors: ['not-found', 'wrong-state'],
  example: {
    params: { deputyId: exampleId('deputy/weekend') },
    body: { id: exampleId('new/deputy-end') },
    status: 201,
  },
});
