/** Holds and findings. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { pageSchema } from '../../platform/http/paging.ts';
import { factId, instant, lotCode, pageQuery, signedQuantity, text, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { findingIdOf } from './findings-store.ts';

const late = exampleId('use/hot-late');
const lateFinding = findingIdOf('past-use-by', late, late);
const stew = exampleId('lot/beef-stew-packs-1');

const Hold = z
  .object({
    holdId: uuid,
    kind: z.string(),
    lotId: uuid,
    lotCode,
    siteId: uuid.nullable(),
    accountId: uuid.nullable().meta({ description: 'A place or a dispatch' }),
    propagates: z.boolean(),
    note: z.string().nullable(),
    placedAt: instant,
    placedBy: uuid,
    placedDeputyId: uuid.nullable().meta({ description: 'Placed as a deputy, by that appointment' }),
    liftedAt: instant.nullable(),
    liftedBy: uuid.nullable(),
    liftedDeputyId: uuid.nullable().meta({ description: 'Lifted as a deputy, by that appointment' }),
    liftNote: z.string().nullable(),
    useByAt: instant.nullable().meta({ description: 'Kind `use-by`: the date in force of the lot in that account' }),
    ruling: z.string().nullable().meta({ description: 'Kind `use-by`: the limit that rules' }),
    reached: z.int().meta({ description: 'Lots that it has reached, its own included' }),
  })
  .meta({ id: 'Hold', description: 'A reason why a lot may not be used' });

export const createHold = defineOperation({
  id: 'createHold',
  method: 'post',
  path: '/v1/holds',
  tag: 'holds',
  summary: 'Place a hold on a lot',
  description:
    'Everywhere (and then on everything made from it, now and later), at one site, or in one place or dispatch. Placing takes the exclusive gate: no request under way slips past it.',
  permission: 'holds.write',
  naming: 'fact',
  mode: 'exclusive',
  body: z
    .strictObject({
      id: factId,
      kind: z.enum(['quality', 'safety', 'awaiting-laboratory']),
      lotId: uuid,
      siteId: uuid.optional(),
      accountId: uuid.optional().meta({ description: 'placeId or dispatchId; not together with siteId' }),
      note: text(1000),
    })
    .meta({ id: 'NewHold' }),
  answers: { 201: { description: 'Placed', schema: Hold, headers: ['Location'] } },
  errors: ['not-found', 'rule-broken'],
  example: {
    status: 201,
    body: { id: exampleId('new/hold'), kind: 'quality', lotId: stew, note: 'Ward reports an off smell' },
  },
});

export const listHolds = defineOperation({
  id: 'listHolds',
  method: 'get',
  path: '/v1/holds',
  tag: 'holds',
  summary: 'List holds',
  permission: 'holds.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery, lotId: uuid.optional(), open: z.enum(['true', 'false']).optional() }),
  answers: { 200: { description: 'Holds', schema: pageSchema(Hold), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200, query: { open: 'true' } },
});

export const getHold = defineOperation({
  id: 'getHold',
  method: 'get',
  path: '/v1/holds/{holdId}',
  tag: 'holds',
  summary: 'Read a hold',
  permission: 'holds.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ holdId: uuid }),
  answers: { 200: { description: 'The hold', schema: Hold } },
  errors: ['not-found'],
  example: { status: 200, params: { holdId: exampleId('hold/dressing') } },
});

export const createHoldLift = defineOperation({
  id: 'createHoldLift',
  method: 'post',
  path: '/v1/holds/{holdId}/lift',
  tag: 'holds',
  summary: 'Lift a hold, with the reason',
  description: 'Lifts it from every lot that it reached. What awaits release is released, or rejected, with its batch.',
  permission: 'holds.write',
  naming: 'fact',
  mode: 'exclusive',
  params: z.strictObject({ holdId: uuid }),
  body: z.strictObject({ id: factId, note: text(1000) }).meta({ id: 'NewHoldLift' }),
  answers: { 201: { description: 'Lifted', schema: Hold, headers: ['Location'] } },
  errors: ['not-found', 'wrong-state'],
  example: {
    status: 201,
    params: { holdId: exampleId('hold/dressing') },
    body: { id: exampleId('new/hold-lift'), note: 'Supplier sent the missing certificate' },
  },
});

const Finding = z
  .object({
    findingId: uuid,
    kind: z.string().meta({ example: 'shortfall' }),
    siteId: uuid,
    lotId: uuid.nullable(),
    lotCode: lotCode.nullable(),
    quantity: signedQuantity.nullable(),
    detail: z.record(z.string(), z.unknown()),
    occurredAt: instant,
    recordedAt: instant,
    status: z.enum(['open', 'settled', 'cleared']),
    settledBy: uuid.nullable(),
    settledAt: instant.nullable(),
    settlementNote: z.string().nullable(),
  })
  .meta({ id: 'Finding', description: 'Open; settled by a person; or cleared by a later fact' });

export const listFindings = defineOperation({
  id: 'listFindings',
  method: 'get',
  path: '/v1/findings',
  tag: 'findings',
  summary: 'List findings, open ones unless another status is asked for',
  permission: 'findings.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...pageQuery,
    siteId: uuid.optional(),
    lotId: uuid.optional(),
    kind: z
      .string()
      .regex(/^[a-z-]{1,40}$/)
      .optional(),
    status: z.enum(['open', 'settled', 'cleared']).optional(),
  }),
  answers: { 200: { description: 'Findings at your sites', schema: pageSchema(Finding), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200, query: { status: 'open' } },
});

export const getFinding = defineOperation({
  id: 'getFinding',
  method: 'get',
  path: '/v1/findings/{findingId}',
  tag: 'findings',
  summary: 'Read a finding',
  permission: 'findings.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ findingId: uuid }),
  answers: { 200: { description: 'The finding', schema: Finding } },
  errors: ['not-found'],
  example: { status: 200, params: { findingId: lateFinding } },
});

export const createFindingSettlement = defineOperation({
  id: 'createFindingSettlement',
  method: 'post',
  path: '/v1/findings/{findingId}/settlement',
  tag: 'findings',
  summary: 'Settle a finding: say what came of it',
  permission: 'findings.settle',
  naming: 'fact',
  mode: 'write',
  params: z.strictObject({ findingId: uuid }),
  body: z.strictObject({ id: factId, note: text(1000) }).meta({ id: 'NewFindingSettlement' }),
  answers: { 201: { description: 'Settled', schema: Finding, headers: ['Location'] } },
  errors: ['not-found', 'wrong-state'],
  example: {
    status: 201,
    params: { findingId: lateFinding },
    body: { id: exampleId('new/finding-settlement'), note: 'Delivery note was short; supplier will credit' },
  },
});
