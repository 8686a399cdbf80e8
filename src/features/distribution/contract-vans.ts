/** Van runs: drops in order, and when each of them was reached. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { pageSchema } from '../../platform/http/paging.ts';
import {
  code,
  factId,
  instant,
  line,
  lotCode,
  pageQuery,
  quantity,
  serial,
  signedQuantity,
  unit,
  uuid,
} from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { FindingBrief } from '../ledger/index.ts';

const tag = 'distribution';
const params = z.strictObject({ vanRunId: uuid });
const dispatchIds = z.array(uuid).min(1).max(60).meta({ description: 'In the order of the drops' });
const time = instant.nullable();

const VanRunHead = z
  .object({
    vanRunId: uuid,
    code,
    siteId: uuid,
    vehicle: z.string(),
    driverId: uuid.nullable(),
    driverName: z.string().nullable(),
    plannedFor: instant,
    version: z.int(),
  })
  .meta({ id: 'VanRunHead' });

const DropTimes = z.object({
  arrivedAt: time.meta({ description: 'The van stood at the site' }),
  doorAt: time.meta({ description: 'The food was out of the van; from then on the warmth of the van is not its own' }),
  putAwayAt: time.meta({ description: 'The food was where it is kept' }),
});

const Drop = z.object({
  position: z.int(),
  dispatchId: uuid,
  dispatchCode: code,
  purpose: z.enum(['delivery', 'return', 'destruction']),
  state: z.enum(['planned', 'departed', 'closed']),
  siteId: uuid,
  siteName: z.string(),
  plannedFor: time,
  departedAt: time,
  jurisdictions: z.array(z.string()).meta({ description: 'Of the two ends; two when they differ' }),
  jurisdictionNote: z.string().nullable().meta({ description: 'What two jurisdictions mean on the road' }),
  crates: z
    .array(
      z.object({
        crateCode: z.string().nullable().meta({ description: 'null: loose packs' }),
        lots: z.array(
          z.object({ lotId: uuid, lotCode, itemName: z.string(), quantity, unit, serials: z.array(serial) }),
        ),
      }),
    )
    .meta({ description: 'What is handed over' }),
  found: z
    .array(
      z.object({
        lotId: uuid,
        lotCode,
        unit,
        sent: signedQuantity,
        accepted: signedQuantity,
        setAside: signedQuantity,
        refused: signedQuantity,
        inTransit: signedQuantity,
        missing: signedQuantity,
      }),
    )
    .meta({ description: 'Sent against found, by lot' }),
  times: DropTimes.meta({ description: 'Of each time what was recorded last' }),
  timesRecorded: z
    .array(DropTimes.extend({ dropTimeId: uuid, recordedAt: instant, recordedBy: uuid }))
    .meta({ description: 'All that was said of the times, in the order in which it was recorded' }),
  refusals: z.array(
    z.object({
      refusalId: uuid,
      returnDispatchId: uuid,
      returnCode: code,
      reason: z.string(),
      occurredAt: instant,
      lots: z.array(z.object({ lotId: uuid, lotCode, quantity, unit })),
    }),
  ),
});

const VanRun = VanRunHead.extend({
  drops: z.array(Drop).meta({ description: 'Those that you may see: all of them at the site that it starts from' }),
  likelyWrongDrops: z
    .array(
      z.object({
        lotId: uuid,
        lotCode,
        missingAtDispatchId: uuid,
        overAtDispatchId: uuid,
        quantity,
      }),
    )
    .meta({
      description:
        'Packs of one lot that are missing at one drop and too many at another of the same run. Nothing is posted: whoever looks puts it right',
    }),
}).meta({ id: 'VanRun', description: 'One round of a van: its drops in order' });

export const createVanRun = defineOperation({
  id: 'createVanRun',
  method: 'post',
  path: '/v1/van-runs',
  tag,
  summary: 'Plan a van run: which dispatches, in which order',
  description: 'Moves nothing. Each dispatch leaves and is received by itself, and is on one van run at a time.',
  permission: 'dispatch.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      code: code.optional(),
      siteId: uuid.meta({ description: 'Where it starts' }),
      vehicle: line(60),
      driverId: uuid.optional(),
      driverName: line(100).optional().meta({ description: 'If left out, the name of driverId' }),
      plannedFor: instant,
      dispatchIds,
    })
    .meta({ id: 'NewVanRun' }),
  answers: { 201: { description: 'Planned', schema: VanRun, headers: ['Location', 'ETag'] } },
  errors: ['not-found', 'code-taken', 'rule-broken'],
  example: {
    status: 201,
    body: {
      id: exampleId('new/van-run'),
      siteId: exampleId('site/ck'),
      vehicle: 'Van 2',
      driverName: 'Ines Marrow',
      plannedFor: '2026-11-25T12:30:00+00:00',
      dispatchIds: [exampleId('dispatch/w7-planned')],
    },
  },
});

export const listVanRuns = defineOperation({
  id: 'listVanRuns',
  method: 'get',
  path: '/v1/van-runs',
  tag,
  summary: 'List van runs that start from your sites or call there, latest first',
  permission: 'dispatch.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery, siteId: uuid.optional(), driverId: uuid.optional() }),
  answers: { 200: { description: 'Van runs', schema: pageSchema(VanRunHead), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200, query: { siteId: exampleId('site/ck') } },
});

export const getVanRun = defineOperation({
  id: 'getVanRun',
  method: 'get',
  path: '/v1/van-runs/{vanRunId}',
  tag,
  summary: 'Read a van run: the drop list, when each drop was reached, what was refused, what was likely swapped',
  permission: 'dispatch.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The van run', schema: VanRun, headers: ['ETag'] } },
  errors: ['not-found'],
  example: { status: 200, params: { vanRunId: exampleId('van-run/wards') } },
});

export const changeVanRun = defineOperation({
  id: 'changeVanRun',
  method: 'patch',
  path: '/v1/van-runs/{vanRunId}',
  tag,
  summary: 'Change a van run: order of drops, vehicle, driver, time',
  description: 'dispatchIds, if given, replace all drops. Times that were recorded stay with their dispatch.',
  permission: 'dispatch.write',
  naming: 'none',
  mode: 'write',
  conditional: true,
  params,
  body: z
    .strictObject({
      vehicle: line(60).optional(),
      driverId: uuid.nullable().optional(),
      driverName: line(100).nullable().optional(),
      plannedFor: instant.optional(),
      dispatchIds: dispatchIds.optional(),
    })
    .meta({ id: 'VanRunChange' }),
  answers: { 200: { description: 'Changed', schema: VanRun, headers: ['ETag'] } },
  errors: ['not-found', 'rule-broken'],
  example: {
    status: 200,
    params: { vanRunId: exampleId('van-run/wards') },
    ifMatch: '*',
    body: { vehicle: 'Van 3', driverName: 'Teo Larkin' },
  },
});

export const createDropTimes = defineOperation({
  id: 'createDropTimes',
  method: 'post',
  path: '/v1/van-runs/{vanRunId}/drop-times',
  tag,
  summary: 'Record when a drop was reached, handed over and put away',
  description:
    'An observation. Arrival, door and put-away are three times, so that food that was handed over early is not charged with what the van was like later. Of each time what was recorded last stands; what was said before is kept.',
  permission: 'drops.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z
    .strictObject({
      id: factId,
      dispatchId: uuid,
      arrivedAt: instant.optional(),
      doorAt: instant.optional(),
      putAwayAt: instant.optional(),
    })
    .meta({ id: 'NewDropTimes' }),
  answers: {
    201: {
      description: 'Recorded',
      schema: DropTimes.extend({
        dropTimeId: uuid,
        vanRunId: uuid,
        dispatchId: uuid,
        findings: z.array(FindingBrief),
      }).meta({ id: 'DropTimes', description: 'The times of a drop as they stand now' }),
      headers: ['Location'],
    },
  },
  errors: ['not-found', 'rule-broken'],
  example: {
    status: 201,
    params: { vanRunId: exampleId('van-run/wards') },
    body: {
      id: exampleId('new/drop-times'),
      dispatchId: exampleId('dispatch/w3-on-the-road'),
      arrivedAt: '2026-11-25T10:40:00+00:00',
      doorAt: '2026-11-25T10:46:00+00:00',
    },
  },
});
