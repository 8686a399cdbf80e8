/** Equipment: machines at a site. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { code, factId, line, pageQuery, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const kind = z.enum(['vacuum-packer', 'blast-chiller', 'oven', 'kettle', 'probe', 'scale', 'other']);

const Equipment = z
  .object({
    equipmentId: uuid,
    siteId: uuid,
    code: z.string(),
    name: z.string(),
    kind,
    active: z.boolean(),
    version: z.int(),
  })
  .meta({ id: 'Equipment' });

const params = z.strictObject({ equipmentId: uuid });

export const createEquipment = defineOperation({
  id: 'createEquipment',
  method: 'post',
  path: '/v1/equipment',
  tag: 'catalogue',
  summary: 'Add a machine at a site',
  permission: 'catalogue.write',
  naming: 'fact',
  mode: 'write',
  body: z.strictObject({ id: factId, siteId: uuid, code, name: line(), kind }),
  answers: { 201: { description: 'Added', schema: Equipment, headers: ['Location', 'ETag'] } },
  errors: ['code-taken', 'not-found'],
  example: {
    body: {
      id: exampleId('new/equipment'),
      siteId: exampleId('site/ck'),
      code: 'PACK-9',
      name: 'Chamber packer by the cold room',
      kind: 'vacuum-packer',
    },
    role: 'operations',
    status: 201,
  },
});

export const listEquipment = defineOperation({
  id: 'listEquipment',
  method: 'get',
  path: '/v1/equipment',
  tag: 'catalogue',
  summary: 'Equipment by code',
  permission: 'catalogue.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery, siteId: uuid.optional(), kind: kind.optional() }),
  answers: { 200: { description: 'A page', schema: pageSchema(Equipment), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { query: { kind: 'vacuum-packer' }, status: 200 },
});

export const getEquipment = defineOperation({
  id: 'getEquipment',
  method: 'get',
  path: '/v1/equipment/{equipmentId}',
  tag: 'catalogue',
  summary: 'One machine',
  permission: 'catalogue.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The machine', schema: Equipment, headers: ['ETag'] } },
  errors: ['not-found'],
  example: { params: { equipmentId: exampleId('equipment/packer-1') }, status: 200 },
});

export const changeEquipment = defineOperation({
  id: 'changeEquipment',
  method: 'patch',
  path: '/v1/equipment/{equipmentId}',
  tag: 'catalogue',
  summary: 'Rename a machine, or take it out of use',
  permission: 'catalogue.write',
  naming: 'none',
  mode: 'write',
  conditional: true,
  params,
  body: z.strictObject({ name: line().optional(), active: z.boolean().optional() }),
  answers: { 200: { description: 'Changed', schema: Equipment, headers: ['ETag'] } },
  errors: ['not-found'],
  example: {
    params: { equipmentId: exampleId('equipment/kettle-1') },
    body: { name: 'Kettle 1, 240 litres' },
    ifMatch: '*',
    role: 'operations',
    status: 200,
  },
});
