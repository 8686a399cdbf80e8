/** Readings: taken in bulk, and listed. */
import { z } from 'zod';
import problems from '../../../../shared/reading-problems.json' with { type: 'json' };
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { instant, pageQuery, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { CSV, JSON_TYPE, NDJSON } from './formats.ts';

export const MOST_READINGS = 50_000;

const centigrade = z.number().min(-60).max(150).meta({ description: 'At most two decimals', example: 3.25 });
const written = z.object({
  sensor: z.string().meta({ description: 'Code or id of the sensor' }),
  at: instant,
  temperatureC: z.number().optional().meta({ description: '-60 to 150; kept in hundredths', example: 3.25 }),
  temperatureF: z.number().optional().meta({ description: 'In place of temperatureC' }),
});

const HOW =
  'Each reading is judged by itself: good ones are kept, the others are named. Sending them again, in any order or in other parts, ends with the same set. ' +
  'Two temperatures of one sensor at one time are both kept, and the warmer one counts. Taken from 400 days back to 10 minutes ahead. ' +
  "deviceTime, the sender's clock as it sends, shows whether its times can be believed; without it the times of readings older than 10 minutes are in doubt.";

/** What may be sent, for uploads and imports alike. */
export const readingBodies = (mostReadings: number) => ({
  [JSON_TYPE]: {
    schema: z.object({
      deviceTime: instant.optional(),
      readings: z.array(written).max(mostReadings),
    }),
  },
  [NDJSON]: {
    description: 'One reading a line: {"sensor":"CK-CHILL-AIR","at":"2026-11-25T06:40:00Z","temperatureC":3.25}',
  },
  [CSV]: { description: 'First line sensor,at,temperatureC (or temperatureF), in any order; then one reading a line' },
});

export const Problems = z
  .array(
    z.object({
      line: z.int().meta({ description: 'From 1; of a text every line counts, of JSON the place in the list' }),
      pointer: z.string(),
      code: z.enum(Object.keys(problems) as (keyof typeof problems)[]),
      detail: z.string(),
    }),
  )
  .max(100)
  .meta({ description: 'The first 100' });

/** received = stored + duplicates + refused */
export const counts = {
  received: z.int(),
  stored: z.int().meta({ description: 'New in the set' }),
  duplicates: z.int().meta({ description: 'In the set already, or more than once in this call' }),
  conflicts: z.int().meta({ description: 'Of those stored: another temperature was kept for the same time already' }),
  refused: z.int(),
};

export const deviceTimeQuery = z.strictObject({
  deviceTime: instant.optional().meta({ description: "The sender's clock as it sends; JSON may carry it in the body" }),
});

export const createReadings = defineOperation({
  id: 'createReadings',
  method: 'post',
  path: '/v1/readings',
  tag: 'temperature',
  summary: 'Send readings, up to 50,000 a call',
  description: `${HOW} Content-Encoding: gzip is taken; 8 MiB at most, also unpacked. A sensor that is unknown and one that is somebody else's are told apart by nothing.`,
  permission: 'readings.write',
  naming: 'none',
  mode: 'write',
  query: deviceTimeQuery,
  rawBody: { types: readingBodies(MOST_READINGS), limitKb: 8 * 1024 },
  answers: {
    200: {
      description: 'What became of them',
      schema: z
        .object({
          ...counts,
          problems: Problems,
          placeDays: z.int().meta({ description: 'Days of places, vehicles and crates that are computed anew' }),
        })
        .meta({ id: 'ReadingsTaken' }),
    },
  },
  errors: ['csv-unreadable'],
  example: {
    body: {
      deviceTime: '2026-11-25T12:00:00+00:00',
      readings: [
        { sensor: 'CK-CHILL-AIR', at: '2026-11-25T11:50:00+00:00', temperatureC: 3.25 },
        { sensor: 'CK-CHILL-AIR', at: '2026-11-25T11:55:00+00:00', temperatureC: 3.31 },
      ],
    },
    status: 200,
  },
});

const Reading = z
  .object({
    sensorId: uuid,
    sensor: z.string().meta({ description: "The sensor's code" }),
    at: instant,
    temperatureC: centigrade,
    timeInDoubt: z.boolean().meta({ description: "Nobody has shown yet that the sensor's clock was right" }),
  })
  .meta({ id: 'Reading' });

export const listReadings = defineOperation({
  id: 'listReadings',
  method: 'get',
  path: '/v1/readings',
  tag: 'temperature',
  summary: 'Readings of a sensor, or of the sensors that were at a place, by sensor and time',
  description:
    'From `from` up to and not including `to`. format=csv answers all of them as a file that can be sent again; JSON comes in pages.',
  permission: 'temperature.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...pageQuery,
    sensorId: uuid.optional(),
    placeId: uuid.optional(),
    from: instant,
    to: instant,
    format: z.enum(['json', 'csv']).optional(),
  }),
  answers: {
    200: [
      { description: 'A page', schema: pageSchema(Reading), headers: ['Link'] },
      { description: 'All of them', contentType: CSV },
    ],
  },
  errors: ['bad-cursor', 'rule-broken'],
  example: {
    query: {
      sensorId: exampleId('sensor/ck-chiller-air'),
      from: '2026-11-25T00:00:00+00:00',
      to: '2026-11-25T12:00:00+00:00',
    },
    status: 200,
  },
});
