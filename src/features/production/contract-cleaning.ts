/** Clean-downs of machines. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { pageSchema } from '../../platform/http/paging.ts';
import { factId, instant, pageQuery, text, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';

const params = z.strictObject({ equipmentId: uuid });
const kind = z
  .enum(['full', 'rinse'])
  .meta({ description: 'Only a full clean-down takes off allergens and what raw food left' });

const CleanDown = z
  .object({
    cleanDownId: uuid,
    equipmentId: uuid,
    siteId: uuid,
    kind,
    note: z.string().nullable(),
    occurredAt: instant,
    recordedAt: instant,
    recordedBy: uuid,
  })
  .meta({ id: 'CleanDown' });

export const createCleanDown = defineOperation({
  id: 'createCleanDown',
  method: 'post',
  path: '/v1/equipment/{equipmentId}/clean-downs',
  tag: 'production',
  summary: 'Record that a machine was cleaned down',
  description:
    'Packs sealed on a machine after food with an allergen that they do not hold, or ready-to-eat packs after raw food, are findings (allergen-carry-over, raw-before-ready-to-eat) unless a full clean-down lies between. One that is entered late clears them. It is no proof that the cleaning was enough: your food-safety plan says what it takes.',
  permission: 'production.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z
    .strictObject({ id: factId, occurredAt: instant, kind, note: text(500).optional() })
    .meta({ id: 'NewCleanDown' }),
  answers: { 201: { description: 'Recorded', schema: CleanDown, headers: ['Location'] } },
  errors: ['not-found', 'time-in-future'],
  example: {
    status: 201,
    params: { equipmentId: exampleId('equipment/packer-1') },
    body: { id: exampleId('new/clean-down'), occurredAt: '2026-11-25T11:55:00+00:00', kind: 'full' },
  },
});

export const getCleanDowns = defineOperation({
  id: 'getCleanDowns',
  method: 'get',
  path: '/v1/equipment/{equipmentId}/clean-downs',
  tag: 'production',
  summary: 'Clean-downs of a machine, newest last',
  permission: 'production.read',
  naming: 'none',
  mode: 'read',
  params,
  query: z.strictObject({ ...pageQuery }),
  answers: { 200: { description: 'A page', schema: pageSchema(CleanDown), headers: ['Link'] } },
  errors: ['not-found', 'bad-cursor'],
  example: { status: 200, params: { equipmentId: exampleId('equipment/packer-1') } },
});
