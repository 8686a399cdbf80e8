/** How places are watched. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { date, factId, instant, line, text, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const temperatureC = z.number().min(-60).max(150);
const how = z.enum(['sensor', 'by-hand', 'none']).meta({
  description:
    'sensor: readings come by themselves. by-hand: somebody reads and sends them. none: nobody looks, and assumedC counts',
});
const between = z.enum(['step', 'line', 'warmer-end']).meta({
  description: 'What holds between two readings: the first, the line between them, or the warmer of the two',
});
const minutes = (least: number, most: number, description: string) =>
  z.int().min(least).max(most).meta({ description });

const upperC = temperatureC.meta({ description: 'Warmer than this is outside; unmonitored time counts at least so' });
const lowerC = temperatureC.meta({ description: 'Colder than this is outside' });
const assumedC = temperatureC.meta({ description: 'What counts where nothing was seen, if that is more' });
const gapMin = minutes(1, 1380, 'More minutes without a reading are unmonitored');
const delayMin = minutes(0, 1440, 'Outside for no longer is no excursion: a door was open');
const lagMin = minutes(0, 600, 'For how long the air must be warm before food is; 0 unless validated');

const Statement = z
  .object({
    placeId: uuid,
    version: z.int().meta({ description: "0: the default of the place's kind" }),
    from: date.nullable().meta({ description: 'The first UTC day that it holds for; null for the default' }),
    how,
    upperC,
    lowerC: lowerC.nullable(),
    assumedC: assumedC.nullable(),
    between,
    gapMin,
    delayMin,
    lagMin,
    lagValidatedBy: z.string().nullable(),
    note: z.string().nullable(),
    recordedAt: instant.nullable(),
    source: z.string().nullable().meta({ description: 'Of the default: where its upper limit comes from' }),
    basis: z.string().nullable().meta({ description: 'Of the default: published, second-hand or common-practice' }),
  })
  .meta({ id: 'PlaceMonitoring' });

const params = z.strictObject({ placeId: uuid });
const path = '/v1/places/{placeId}/monitoring';

export const setPlaceMonitoring = defineOperation({
  id: 'setPlaceMonitoring',
  method: 'post',
  path,
  tag: 'temperature',
  summary: 'Say how a place is watched, from a day on',
  description:
    "What is left out is as the place's kind has it by default. Days are UTC. The statement with the latest day holds, of two for one day the later. What follows from its days is computed anew: excursions, and what is left of the lives of lots that were there.",
  permission: 'policies.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z
    .strictObject({
      id: factId,
      from: date.optional().meta({ description: 'Today, if left out; up to 400 days back' }),
      how: how.optional(),
      upperC: upperC.optional(),
      lowerC: lowerC.optional(),
      assumedC: assumedC.optional(),
      between: between.optional(),
      gapMin: gapMin.optional(),
      delayMin: delayMin.optional(),
      lagMin: lagMin.optional(),
      lagValidatedBy: line(100).optional().meta({ description: 'Who validated the lag; demanded with it' }),
      note: text(1000).optional(),
    })
    .meta({ id: 'NewPlaceMonitoring' }),
  answers: { 201: { description: 'In force from that day', schema: Statement, headers: ['Location', 'ETag'] } },
  errors: ['not-found', 'rule-broken'],
  example: {
    params: { placeId: exampleId('place/ck-freezer') },
    body: {
      id: exampleId('new/monitoring'),
      from: '2026-11-25',
      upperC: -18,
      delayMin: 90,
      note: 'Defrosts for an hour at night',
    },
    role: 'quality',
    status: 201,
  },
});

export const getPlaceMonitoring = defineOperation({
  id: 'getPlaceMonitoring',
  method: 'get',
  path,
  tag: 'temperature',
  summary: 'How a place is watched today, and every statement about it',
  permission: 'temperature.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: {
    200: {
      description: 'In force today, and what was said, the latest day first',
      schema: z.object({ inForce: Statement, statements: z.array(Statement) }).meta({ id: 'PlaceMonitoringHistory' }),
    },
  },
  errors: ['not-found'],
  example: { params: { placeId: exampleId('place/ck-chiller') }, status: 200 },
});
