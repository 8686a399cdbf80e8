/** Faults of packs that show after packing: leakers, pouches that were packed anew, complaints. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { date, factId, instant, pageQuery, scannedCode, serial, text, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { FAULT_KINDS, FAULT_REASONS } from './kinds.ts';

const tag = 'production';
const kind = z.enum(FAULT_KINDS).meta({
  description:
    'leaker: it had lost its vacuum; re-bagged: its food was packed anew; complaint: somebody complained of it',
});
const reason = z.enum(FAULT_REASONS);
const packs = z.int().min(1).max(100_000);

const PackFault = z
  .object({
    faultId: uuid,
    siteId: uuid.meta({ description: 'Where it was found' }),
    siteName: z.string(),
    kind,
    lotId: uuid,
    lotCode: z.string(),
    itemName: z.string(),
    serial: z.string().nullable(),
    packs: z.int(),
    reason: reason.nullable(),
    note: z.string().nullable(),
    occurredAt: instant,
    recordedAt: instant,
    recordedBy: uuid,
    packingRunId: uuid.meta({ description: 'The run that sealed it' }),
    batchId: uuid,
    batchCode: z.string(),
    packedAtSiteId: uuid,
    equipmentId: uuid,
    equipmentName: z.string(),
    programme: z.string(),
    packedAt: instant.meta({ description: 'When the run ended' }),
    withdrawn: z
      .object({ withdrawalId: uuid, reason: z.string(), recordedAt: instant, recordedBy: uuid })
      .nullable()
      .meta({ description: 'Told wrongly or twice: it counts nowhere any more' }),
    advice: z.string().nullable().meta({ description: 'Where more has to be done than to write it down' }),
  })
  .meta({ id: 'PackFault' });

export const createPackFault = defineOperation({
  id: 'createPackFault',
  method: 'post',
  path: '/v1/pack-faults',
  tag,
  summary: 'Record a leaker, a pack that was packed anew, or a complaint',
  description:
    'An observation, at whatever site it shows. It is tied to the packing run that sealed the pack, and counts in the reject rates of its machine and programme. It moves no food and holds none: discard the pack, or set it aside, as before. Food that was frozen, thawed or put elsewhere since is followed back to its packs.',
  permission: 'pack-faults.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      siteId: uuid,
      kind,
      lotId: uuid.optional().meta({ description: 'Or give code' }),
      code: scannedCode.optional().meta({ description: 'As scanned: a lot code, or lot code/serial' }),
      serial: serial.optional().meta({ description: 'Of one numbered pack' }),
      packs: packs.optional().meta({ description: '1, if left out' }),
      reason: reason.optional(),
      note: text(1000).optional(),
      occurredAt: instant.optional(),
    })
    .meta({ id: 'NewPackFault' }),
  answers: { 201: { description: 'Recorded', schema: PackFault, headers: ['Location'] } },
  errors: ['not-found', 'rule-broken', 'time-in-future'],
  example: {
    status: 201,
    body: {
      id: exampleId('new/pack-fault'),
      siteId: exampleId('site/w3'),
      kind: 'leaker',
      lotId: exampleId('lot/stew-b-packs-1'),
      serial: '2',
      reason: 'crease',
      occurredAt: '2026-11-25T11:20:00+00:00',
    },
  },
});

export const getPackFault = defineOperation({
  id: 'getPackFault',
  method: 'get',
  path: '/v1/pack-faults/{faultId}',
  tag,
  summary: 'One fault of a pack, with the run that sealed it',
  permission: 'process-checks.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ faultId: uuid }),
  answers: { 200: { description: 'The fault', schema: PackFault } },
  errors: ['not-found'],
  example: { status: 200, params: { faultId: exampleId('pack-fault/first') } },
});

export const listPackFaults = defineOperation({
  id: 'listPackFaults',
  method: 'get',
  path: '/v1/pack-faults',
  tag,
  summary: 'Faults of packs, newest last',
  description: 'Those that were found at your sites, and those of packs that were sealed there.',
  permission: 'process-checks.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...pageQuery,
    siteId: uuid.optional().meta({ description: 'Where they were found' }),
    packedAtSiteId: uuid.optional(),
    packingRunId: uuid.optional(),
    lotId: uuid.optional(),
    kind: kind.optional(),
    fromDate: date.optional().meta({ description: 'At the site where it was found' }),
    toDate: date.optional().meta({ description: 'The last day' }),
  }),
  answers: { 200: { description: 'A page', schema: pageSchema(PackFault), headers: ['Link'] } },
  errors: ['bad-cursor', 'rule-broken'],
  example: { status: 200, query: { packedAtSiteId: exampleId('site/ck'), fromDate: '2026-11-20' } },
});

export const createPackFaultWithdrawal = defineOperation({
  id: 'createPackFaultWithdrawal',
  method: 'post',
  path: '/v1/pack-faults/{faultId}/withdrawals',
  tag,
  summary: 'Withdraw a fault that was recorded wrongly or twice',
  description:
    'At the site where it was recorded. It stays readable, marked, and no longer counts in reject rates nor with its run. There is no edit: record the right one anew.',
  permission: 'pack-faults.write',
  naming: 'fact',
  mode: 'exclusive',
  params: z.strictObject({ faultId: uuid }),
  body: z.strictObject({ id: factId, reason: text(500) }).meta({ id: 'NewPackFaultWithdrawal' }),
  answers: { 201: { description: 'Withdrawn', schema: PackFault, headers: ['Location'] } },
  errors: ['not-found', 'wrong-state'],
  example: {
    status: 201,
    params: { faultId: exampleId('pack-fault/first') },
    body: { id: exampleId('new/pack-fault-withdrawal'), reason: 'The same pack was told twice' },
  },
});
