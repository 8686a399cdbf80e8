/** Lots, their history, stock; entries and their reversal. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { pageSchema } from '../../platform/http/paging.ts';
import {
  date,
  factId,
  instant,
  line,
  lotCode,
  pageQuery,
  quantity,
  text,
  unit,
  uuid,
} from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { HoldBrief, Lot, lotParams } from './shapes.ts';

const tag = 'lots';
const stew = exampleId('lot/beef-stew-packs-1');

export const listLots = defineOperation({
  id: 'listLots',
  method: 'get',
  path: '/v1/lots',
  tag,
  summary: 'Find lots',
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...pageQuery,
    code: lotCode.optional(),
    itemId: uuid.optional(),
    batchId: uuid.optional(),
    supplierLotCode: line(60).optional().meta({ description: 'As written on the invoice' }),
    supplierId: uuid.optional(),
  }),
  answers: { 200: { description: 'Lots that your sites have to do with', schema: pageSchema(Lot), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200, query: { supplierLotCode: 'BRK-7741' } },
});

export const LotDetail = Lot.extend({
  changes: z
    .array(
      z.object({
        kind: z.enum(['use-by-earlier', 'allergens-added']),
        detail: z.record(z.string(), z.unknown()),
        causeLotId: uuid.nullable().meta({ description: 'The lot that brought it; null: a person decided' }),
        actorId: uuid,
        recordedAt: instant,
      }),
    )
    .meta({ description: 'What became stricter since birth, and why' }),
}).meta({ id: 'LotDetail' });

export const createUseByChange = defineOperation({
  id: 'createUseByChange',
  method: 'post',
  path: '/v1/lots/{lotId}/use-by-changes',
  tag,
  summary: 'Bring a use-by forward',
  description:
    'Only ever earlier than the one in force. What was made from the lot follows, unless a kill step lies between.',
  permission: 'release.write',
  naming: 'fact',
  mode: 'exclusive',
  params: lotParams,
  body: z.strictObject({ id: factId, useByDate: date, reason: text(500) }).meta({ id: 'NewUseByChange' }),
  answers: { 201: { description: 'Brought forward', schema: LotDetail, headers: ['Location'] } },
  errors: ['not-found', 'use-by-later-than-computed', 'rule-broken'],
  example: {
    status: 201,
    params: { lotId: stew },
    body: { id: exampleId('new/use-by-change'), useByDate: '2026-11-25', reason: 'Warm for an hour on the van' },
  },
});

export const getLot = defineOperation({
  id: 'getLot',
  method: 'get',
  path: '/v1/lots/{lotId}',
  tag,
  summary: 'Read a lot',
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  params: lotParams,
  answers: { 200: { description: 'The lot', schema: LotDetail } },
  errors: ['not-found'],
  example: { status: 200, params: { lotId: stew } },
});

const Stop = z
  .object({
    kind: z.enum(['place', 'transit', 'supplier', 'consumed', 'produced', 'served', 'waste', 'variance']),
    siteId: uuid,
    placeId: uuid.nullable(),
    placeName: z.string().nullable(),
    dispatchId: uuid.nullable(),
    shortfall: z.boolean().meta({ description: 'Taken from, or given back to, what was missing there' }),
  })
  .meta({ id: 'Stop', description: 'An account: where quantity can be' });

const reason = z.string().nullable().meta({
  description:
    "Of waste: the site's code; of use: staff-meal, tasting, donation, laboratory, or null for service; of what came back or arrived: said",
});

const HistoryLine = z
  .object({
    seq: z.int(),
    entryId: uuid,
    kind: z.string(),
    occurredAt: instant,
    recordedAt: instant,
    actorId: uuid,
    from: Stop,
    to: Stop,
    quantity,
    reason,
    reversesEntryId: uuid.nullable(),
  })
  .meta({ id: 'HistoryLine' });

export const getLotHistory = defineOperation({
  id: 'getLotHistory',
  method: 'get',
  path: '/v1/lots/{lotId}/history',
  tag,
  summary: 'Everything that happened to a lot, in the order in which it was recorded',
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  params: lotParams,
  query: z.strictObject(pageQuery),
  answers: { 200: { description: 'Postings', schema: pageSchema(HistoryLine), headers: ['Link'] } },
  errors: ['not-found', 'bad-cursor'],
  example: { status: 200, params: { lotId: stew } },
});

const StockLine = z
  .object({
    siteId: uuid,
    placeId: uuid,
    placeName: z.string(),
    quarantine: z.boolean(),
    lotId: uuid,
    lotCode,
    itemId: uuid,
    itemName: z.string(),
    quantity,
    unit,
    useByAt: instant.nullable(),
    useByDate: date.nullable(),
    holds: z.array(HoldBrief),
    mayUse: z.boolean(),
    whyNot: z.string().nullable(),
  })
  .meta({ id: 'StockLine', description: 'What there is of one lot in one place' });

export const listStock = defineOperation({
  id: 'listStock',
  method: 'get',
  path: '/v1/stock',
  tag: 'stock',
  summary: 'What is on hand, oldest use-by in force first',
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  description:
    'With recordedAt, quantities as they had been recorded by that moment. Everything else is of today: use-by in force, holds, whether it may be used, names.',
  query: z.strictObject({
    ...pageQuery,
    siteId: uuid.optional(),
    placeId: uuid.optional(),
    itemId: uuid.optional(),
    recordedAt: instant.optional().meta({ description: 'As it was recorded at this moment; now if left out' }),
  }),
  answers: { 200: { description: 'Stock at your sites', schema: pageSchema(StockLine), headers: ['Link'] } },
  errors: ['bad-cursor', 'rule-broken'],
  example: { status: 200, query: { siteId: exampleId('site/w3') } },
});

const EntryLine = z.object({
  lotId: uuid,
  lotCode,
  from: Stop,
  to: Stop,
  quantity,
  unit,
  basis: z.string(),
  reason,
  destination: z.string().nullable(),
  material: z.string().nullable().meta({ description: 'Of waste: inedible-parts, or null for food' }),
});

const Entry = z
  .object({
    entryId: uuid,
    seq: z.int(),
    kind: z.string(),
    factId: uuid,
    siteId: uuid,
    occurredAt: instant,
    occurredOn: date,
    recordedAt: instant,
    actorId: uuid,
    deviceId: uuid.nullable().meta({ description: 'The tablet that a person recorded it on' }),
    deputyId: uuid
      .nullable()
      .meta({ description: 'The appointment without which the actor could not have recorded it' }),
    reversesEntryId: uuid.nullable(),
    reversedByEntryId: uuid.nullable(),
    leafHash: z.string().meta({ description: 'sha256(0x00, content hash, seq, recordedAt in microseconds), hex' }),
    note: z.record(z.string(), z.unknown()),
    lines: z.array(EntryLine),
  })
  .meta({ id: 'Entry', description: 'One recorded business fact and its postings' });

export const getEntry = defineOperation({
  id: 'getEntry',
  method: 'get',
  path: '/v1/entries/{entryId}',
  tag,
  summary: 'Read an entry with its postings',
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ entryId: uuid }),
  answers: { 200: { description: 'The entry', schema: Entry } },
  errors: ['not-found'],
  example: { status: 200, params: { entryId: exampleId('use/w3-lunch') } },
});
