/** Sensors, and where they are. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { code, factId, instant, line, pageQuery, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const kind = z.enum(['air', 'simulant', 'between-packs']).meta({
  description:
    'air: the air of the place. simulant: in something that warms and cools as food does. between-packs: lies among packs; evidence for the quality lead, and lifts nothing by itself',
});
const deviceId = uuid.meta({ description: 'Only this device may send its readings; people at the site may as well' });

const Sensor = z
  .object({
    sensorId: uuid,
    siteId: uuid,
    code: z.string(),
    name: z.string(),
    kind,
    deviceId: uuid.nullable(),
    active: z.boolean(),
    version: z.int(),
  })
  .meta({ id: 'Sensor' });

const vehicle = line(60).meta({ description: 'As the dispatches name it', example: 'VAN-2' });
const crateCode = line(60).meta({ description: 'As the dispatch lines name it' });

const Location = z
  .object({
    locationId: uuid,
    sensorId: uuid,
    from: instant,
    placeId: uuid.nullable(),
    vehicle: z.string().nullable(),
    crateCode: z.string().nullable(),
  })
  .meta({
    id: 'SensorLocation',
    description: 'From this time it is there, until the next statement; nowhere: not in use',
  });

const Stay = Location.extend({ to: instant.nullable().meta({ description: 'null: still there' }) }).meta({
  id: 'SensorStay',
});

const base = { tag: 'temperature' } as const;
const params = z.strictObject({ sensorId: uuid });
const ckAir = exampleId('sensor/ck-chiller-air');

export const createSensor = defineOperation({
  ...base,
  id: 'createSensor',
  method: 'post',
  path: '/v1/sensors',
  summary: 'Add a sensor',
  description: 'Say next where it is; its readings count for nothing until then.',
  permission: 'sensors.write',
  naming: 'fact',
  mode: 'write',
  body: z.strictObject({ id: factId, siteId: uuid, code, name: line(100), kind, deviceId: deviceId.optional() }),
  answers: { 201: { description: 'Added', schema: Sensor, headers: ['Location', 'ETag'] } },
  errors: ['code-taken', 'not-found'],
  example: {
    body: {
      id: exampleId('new/sensor'),
      siteId: exampleId('site/ck'),
      code: 'CK-CHILL-BACK',
      name: 'Cold room 1, back wall',
      kind: 'air',
    },
    role: 'operations',
    status: 201,
  },
});

export const listSensors = defineOperation({
  ...base,
  id: 'listSensors',
  method: 'get',
  path: '/v1/sensors',
  summary: 'Sensors by code',
  permission: 'temperature.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery, siteId: uuid.optional() }),
  answers: { 200: { description: 'A page', schema: pageSchema(Sensor), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200 },
});

export const getSensor = defineOperation({
  ...base,
  id: 'getSensor',
  method: 'get',
  path: '/v1/sensors/{sensorId}',
  summary: 'One sensor, and where it has been',
  permission: 'temperature.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: {
    200: {
      description: 'The sensor',
      schema: Sensor.extend({ stays: z.array(Stay) }).meta({ id: 'SensorWithStays' }),
      headers: ['ETag'],
    },
  },
  errors: ['not-found'],
  example: { params: { sensorId: ckAir }, status: 200 },
});

export const changeSensor = defineOperation({
  ...base,
  id: 'changeSensor',
  method: 'patch',
  path: '/v1/sensors/{sensorId}',
  summary: 'Rename a sensor, give it to another device, or take it off the list',
  description: 'Late readings of one that is no longer active are still taken: they are from when it was.',
  permission: 'sensors.write',
  naming: 'none',
  mode: 'write',
  conditional: true,
  params,
  body: z.strictObject({
    name: line(100).optional(),
    active: z.boolean().optional(),
    deviceId: deviceId.nullable().optional(),
  }),
  answers: { 200: { description: 'Changed', schema: Sensor, headers: ['ETag'] } },
  errors: ['not-found'],
  example: {
    params: { sensorId: ckAir },
    body: { name: 'Cold room 1, by the door' },
    ifMatch: '*',
    role: 'operations',
    status: 200,
  },
});

export const createSensorLocation = defineOperation({
  ...base,
  id: 'createSensorLocation',
  method: 'post',
  path: '/v1/sensors/{sensorId}/locations',
  summary: 'Say where a sensor is from a time on',
  description:
    'At most one of placeId, vehicle and crateCode; none: not in use. A statement about an earlier time changes where it was, and what follows from that is computed anew. Of two about the same time the one recorded later stands.',
  permission: 'sensors.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z.strictObject({
    id: factId,
    from: instant,
    placeId: uuid.optional(),
    vehicle: vehicle.optional(),
    crateCode: crateCode.optional(),
  }),
  answers: { 201: { description: 'Recorded', schema: Location, headers: ['Location'] } },
  errors: ['not-found', 'rule-broken', 'time-in-future'],
  example: {
    params: { sensorId: ckAir },
    body: {
      id: exampleId('new/sensor-location'),
      from: '2026-11-25T09:00:00+00:00',
      placeId: exampleId('place/ck-freezer'),
    },
    role: 'operations',
    status: 201,
  },
});
