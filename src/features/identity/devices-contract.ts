/** Devices: scanners, tablets and loggers that sign in by themselves, each at one site. */
import { z } from 'zod';
import { exampleId } from '../../platform/ids.ts';
import { defineOperation } from '../../platform/http/contract.ts';
import { pageSchema } from '../../platform/http/paging.ts';
import { factId, line, pageQuery, uuid } from '../../platform/http/scalars.ts';

const Device = z
  .object({ deviceId: uuid, name: z.string(), siteId: uuid, active: z.boolean(), version: z.int() })
  .meta({ id: 'Device' });

const base = { tag: 'identity', permission: 'people.manage' } as const;
const params = z.strictObject({ deviceId: uuid });

export const createDevice = defineOperation({
  ...base,
  id: 'createDevice',
  method: 'post',
  path: '/v1/devices',
  summary: 'Add a device',
  description: 'It can sign in once a token has been made for it.',
  naming: 'fact',
  mode: 'write',
  body: z.strictObject({ id: factId, name: line(100), siteId: uuid }),
  answers: { 201: { description: 'Added', schema: Device, headers: ['Location', 'ETag'] } },
  errors: ['not-found'],
  example: {
    body: { id: exampleId('new/device'), name: 'Scanner at the ward pantry', siteId: exampleId('site/w3') },
    status: 201,
  },
});

export const listDevices = defineOperation({
  ...base,
  id: 'listDevices',
  method: 'get',
  path: '/v1/devices',
  summary: 'Devices by name',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery, siteId: uuid.optional() }),
  answers: { 200: { description: 'A page', schema: pageSchema(Device), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200 },
});

export const getDevice = defineOperation({
  ...base,
  id: 'getDevice',
  method: 'get',
  path: '/v1/devices/{deviceId}',
  summary: 'One device',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The device', schema: Device, headers: ['ETag'] } },
  errors: ['not-found'],
  example: { params: { deviceId: exampleId('device/w3-scanner') }, status: 200 },
});

export const changeDevice = defineOperation({
  ...base,
  id: 'changeDevice',
  method: 'patch',
  path: '/v1/devices/{deviceId}',
  summary: 'Rename a device, or let it in no more',
  naming: 'none',
  mode: 'write',
  conditional: true,
  params,
  body: z.strictObject({ name: line(100).optional(), active: z.boolean().optional() }),
  answers: { 200: { description: 'Changed', schema: Device, headers: ['ETag'] } },
  errors: ['not-found'],
  example: {
    params: { deviceId: exampleId('device/w3-scanner') },
    body: { name: 'Scanner, ward 3' },
    ifMatch: '*',
    status: 200,
  },
});

export const createDeviceToken = defineOperation({
  ...base,
  id: 'createDeviceToken',
  method: 'post',
  path: '/v1/devices/{deviceId}/token',
  summary: 'Make a new token for a device',
  description: 'Shown this once. The token before it stops working at once.',
  naming: 'none',
  mode: 'write',
  params,
  answers: {
    200: {
      description: 'The token',
      schema: z.object({ deviceId: uuid, deviceToken: z.string() }).meta({ id: 'DeviceToken' }),
    },
  },
  errors: ['not-found'],
  example: { params: { deviceId: exampleId('device/w3-scanner') }, status: 200 },
});
