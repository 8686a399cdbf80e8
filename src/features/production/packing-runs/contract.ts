/** Reading packing runs. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { date, instant, line, pageQuery, quantity, unit, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { FAULT_KINDS } from '../faults/kinds.ts';
import { rejectReason } from './contract-said.ts';

const tag = 'production';

const Head = z
  .object({
    packingRunId: uuid,
    batchId: uuid,
    batchCode: z.string(),
    siteId: uuid,
    equipmentId: uuid,
    equipmentName: z.string(),
    programme: z.string().meta({ description: 'Its name at the time' }),
    programmeId: uuid.nullable().meta({ description: 'null: the run gave a name only' }),
    programmeVersion: z.int().nullable().meta({ description: 'The version that it was packed with' }),
    packerId: uuid,
    packerName: z.string(),
    startedAt: instant,
    finishedAt: instant,
    packsMade: z.int().meta({ description: 'Sealed and kept; rejected ones are not among them' }),
    packsRejected: z.int(),
    undone: z.boolean().meta({ description: 'Its entry was taken back' }),
  })
  .meta({ id: 'PackingRunHead' });

const PackingRun = Head.extend({
  rejects: z.array(z.object({ reason: rejectReason, packs: z.int() })).meta({
    description: 'What is known of why; the rest of packsRejected was not said',
  }),
  fills: z.array(
    z.object({
      fromLotId: uuid,
      fromLotCode: z.string(),
      usedQuantity: z.int(),
      usedUnit: unit,
      packLotId: uuid,
      packLotCode: z.string(),
      itemName: z.string(),
      packs: quantity,
      changedOverAt: instant,
    }),
  ),
  checks: z
    .array(
      z.object({
        checkId: uuid,
        kind: z.string(),
        result: z.enum(['passed', 'failed']),
        reasons: z.array(z.string()),
        temperatureC: z.number().nullable().meta({ description: 'Of a core temperature' }),
        tested: z.int().nullable().meta({ description: 'Of a sample' }),
        failed: z.int().nullable(),
        occurredAt: instant,
        doneBy: uuid,
        instrumentId: uuid.nullable(),
        note: z.string().nullable(),
      }),
    )
    .meta({ description: 'Checks of the run and of its packs that stand' }),
  faults: z
    .array(
      z.object({ faultId: uuid, kind: z.enum(FAULT_KINDS), packs: z.int(), siteName: z.string(), occurredAt: instant }),
    )
    .meta({ description: 'What showed afterwards, wherever the packs were' }),
}).meta({ id: 'PackingRun' });

export const getPackingRun = defineOperation({
  id: 'getPackingRun',
  method: 'get',
  path: '/v1/packing-runs/{packingRunId}',
  tag,
  summary: 'One packing run: fills, rejects, seal tests, what showed afterwards',
  permission: 'production.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ packingRunId: uuid }),
  answers: { 200: { description: 'The run', schema: PackingRun } },
  errors: ['not-found'],
  example: { status: 200, params: { packingRunId: exampleId('packing-run/stew-b') } },
});

export const listPackingRuns = defineOperation({
  id: 'listPackingRuns',
  method: 'get',
  path: '/v1/packing-runs',
  tag,
  summary: 'Packing runs, newest last',
  permission: 'production.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...pageQuery,
    siteId: uuid.optional(),
    equipmentId: uuid.optional(),
    programme: line(60).optional().meta({ description: 'By name' }),
    programmeId: uuid.optional(),
    fromDate: date.optional().meta({ description: 'Finished on this date at the site, or later' }),
    toDate: date.optional().meta({ description: 'The last day' }),
  }),
  answers: { 200: { description: 'A page', schema: pageSchema(Head), headers: ['Link'] } },
  errors: ['bad-cursor', 'rule-broken'],
  example: { status: 200, query: { equipmentId: exampleId('equipment/packer-1'), fromDate: '2026-11-24' } },
});
