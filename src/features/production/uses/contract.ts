/** What a machine was used for. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { allergenCodes, date, instant, lotCode, pageQuery, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

/** Days that may be asked for at once. */
export const MOST_DAYS = 62;

const handling = z.enum(['raw', 'ready-to-eat']);

const Run = z.object({
  packingRunId: uuid,
  batchId: uuid,
  batchCode: lotCode,
  programme: z.string(),
  beganAt: instant.meta({ description: 'The start of the run, or its changeover to this food' }),
  handling,
  allergens: allergenCodes,
  lots: z
    .array(z.object({ lotId: uuid, lotCode, itemName: z.string() }))
    .meta({ description: 'Packs of this food; at most 20' }),
  lotCount: z.int().min(1),
});

const Carried = z.object({
  kind: z.enum(['allergen-carry-over', 'raw-before-ready-to-eat']),
  earlierPackingRunId: uuid,
  earlierEndedAt: instant,
  allergens: allergenCodes,
});

const EquipmentUse = z
  .object({
    at: instant.meta({ description: 'When it was over' }),
    what: z.enum(['packing', 'clean-down', 'check']),
    who: z.string(),
    run: Run.nullable().meta({ description: 'One for each food of a run: a changeover begins another' }),
    cleanDown: z.object({ cleanDownId: uuid, kind: z.enum(['full', 'rinse']), note: z.string().nullable() }).nullable(),
    check: z
      .object({ checkId: uuid, stage: z.string(), kind: z.string(), result: z.enum(['passed', 'failed']) })
      .nullable()
      .meta({ description: 'Of the machine itself; one that stands' }),
    found: z
      .array(Carried)
      .meta({ description: 'What food before it had left on the machine that this food does not hold' }),
    leaves: z
      .object({ raw: z.boolean(), allergens: allergenCodes })
      .meta({ description: 'What stands on the machine afterwards: all food since the last full clean-down' }),
  })
  .meta({ id: 'EquipmentUse' });

export const listEquipmentUses = defineOperation({
  id: 'listEquipmentUses',
  method: 'get',
  path: '/v1/equipment/{equipmentId}/uses',
  tag: 'process-checks',
  summary: 'What a machine was used for, and what each use leaves behind for the next',
  description:
    'Packing runs with their changeovers, clean-downs and checks of the machine, in time order, oldest first, over at most 62 days of the site. What is left behind is reckoned from what is recorded, looking back over at most 100 runs before the first day; only a full clean-down takes it off. No record shows that a machine is clean: your food-safety plan says what a clean-down takes.',
  permission: 'production.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ equipmentId: uuid }),
  query: z.strictObject({ ...pageQuery, fromDate: date, toDate: date }),
  answers: { 200: { description: 'A page', schema: pageSchema(EquipmentUse), headers: ['Link'] } },
  errors: ['not-found', 'bad-cursor', 'rule-broken', 'period-too-long'],
  example: {
    status: 200,
    params: { equipmentId: exampleId('equipment/packer-1') },
    query: { fromDate: '2026-11-23', toDate: '2026-11-25' },
  },
});
