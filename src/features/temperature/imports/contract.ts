/** Long uploads of readings: taken at once, worked through piece by piece, with progress. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { instant, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { counts, deviceTimeQuery, Problems, readingBodies } from '../readings/contract.ts';

export const MOST_LINES = 2_000_000;

const ReadingImport = z
  .object({
    readingImportId: uuid,
    state: z.enum(['waiting', 'running', 'done']),
    percent: z.int().min(0).max(100).meta({ description: 'Of the lines; 100 only when all is done' }),
    ...counts,
    problems: Problems,
    placeDays: z.int().meta({
      description: 'Days of places, vehicles and crates computed anew, once for each piece that touched them',
    }),
    receivedAt: instant,
    doneAt: instant.nullable(),
  })
  .meta({ id: 'ReadingImport', description: 'The counts grow while it runs; they are final when it is done' });

const base = { tag: 'temperature', permission: 'readings.write' } as const;
const params = z.strictObject({ importId: uuid });
const logger = { importId: exampleId('reading-import/van-logger') };

export const createReadingImport = defineOperation({
  ...base,
  id: 'createReadingImport',
  method: 'post',
  path: '/v1/reading-imports',
  summary: 'Send a long file of readings',
  description:
    'As createReadings, up to 2,000,000 lines and 256 MiB (JSON 8 MiB). It is kept at once and put into the set in the background; follow it at Location, or by its events. ' +
    'An Idempotency-Key (a UUID) becomes its id: the same file sent again under it is the same import. Pack long files: a request has a minute.',
  naming: 'offered',
  mode: 'write',
  query: deviceTimeQuery,
  rawBody: { types: readingBodies(MOST_LINES), limitKb: 256 * 1024 },
  answers: { 202: { description: 'Kept; being worked through', schema: ReadingImport, headers: ['Location'] } },
  errors: ['csv-unreadable'],
  example: {
    body: {
      deviceTime: '2026-11-25T12:00:00+00:00',
      readings: [{ sensor: 'CK-CHILL-AIR', at: '2026-11-25T11:45:00+00:00', temperatureC: 3.4 }],
    },
    status: 202,
  },
});

export const getReadingImport = defineOperation({
  ...base,
  id: 'getReadingImport',
  method: 'get',
  path: '/v1/reading-imports/{importId}',
  summary: 'How far an import is',
  description: 'For whoever may send readings at all the sites that its sender could.',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The import', schema: ReadingImport } },
  errors: ['not-found'],
  example: { params: logger, status: 200 },
});

export const getReadingImportEvents = defineOperation({
  ...base,
  id: 'getReadingImportEvents',
  method: 'get',
  path: '/v1/reading-imports/{importId}/events',
  summary: 'How far an import is, told as it goes on',
  description:
    'Server-Sent Events (https://html.spec.whatwg.org/multipage/server-sent-events.html): `progress` with the import as data whenever it has changed, `done` with the last. The stream ends then, or after five minutes: connect again.',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'Events', contentType: 'text/event-stream' } },
  errors: ['not-found'],
  example: { params: logger, status: 200 },
});
