/** Who recorded a fact: one answer for all kinds of facts. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { instant, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';

export const getFact = defineOperation({
  id: 'getFact',
  method: 'get',
  path: '/v1/facts/{factId}',
  tag: 'identity',
  summary: 'Who recorded a fact, on which tablet, and as whose deputy',
  description:
    'Everything that was named by its client has this: releases, holds and their lifting, settlements, scans. What it said is read where ' +
    'its `location` points. Changes by PATCH are not facts and are not here.',
  permission: 'facts.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ factId: uuid }),
  answers: {
    200: {
      description: 'Facts of your sites; those of the whole group for who acts for every site',
      schema: z
        .object({
          factId: uuid,
          operation: z.string().meta({ example: 'createRelease' }),
          siteId: uuid.nullable(),
          actorId: uuid,
          actorName: z.string().nullable().meta({ description: 'null for someone of an external issuer' }),
          deviceId: uuid
            .nullable()
            .meta({ description: 'The tablet; null elsewhere, and for a device that is the actor' }),
          deviceName: z.string().nullable(),
          deputyId: uuid
            .nullable()
            .meta({ description: 'The appointment without which the actor could not have done it there' }),
          recordedAt: instant,
          location: z.string().nullable(),
        })
        .meta({ id: 'FactRecord' }),
    },
  },
  errors: ['not-found'],
  example: { params: { factId: exampleId('use/w3-lunch') }, status: 200 },
});
