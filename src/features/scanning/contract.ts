/** Scans in bulk, and undoing. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { Problem } from '../../platform/http/problem.ts';
import {
  factId,
  instant,
  line,
  lotCode,
  quantityOrZero,
  scannedSymbol,
  serial,
  text,
  uuid,
} from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { EntryAnswer, FindingBrief, material, useFields } from '../ledger/index.ts';

const tag = 'scanning';

const NewScan = z
  .strictObject({
    id: uuid.meta({ description: 'Your own UUID for this scan: send it again as often as you like' }),
    kind: z.enum(['arrival', 'put-away', 'use', 'discard', 'count']),
    code: scannedSymbol.meta({
      description:
        'As read: LOT, LOT/SERIAL or the code of a crate from plain labels; a GS1 element string with GS (U+001D) between elements, with or without the symbology identifier; a GS1 Digital Link; or the bracketed text. All of them name the same pack. CR, LF or tab at the end is left out',
      example: 'CK-261124-4T7QK/7',
    }),
    occurredAt: instant,
    dispatchId: uuid.optional().meta({ description: 'arrival: found by lot or crate if left out' }),
    placeId: uuid.optional().meta({
      description:
        "put-away and count: required; else where the pack was seen last, or the site's default put-away, or its receiving place",
    }),
    quantity: quantityOrZero.optional().meta({
      description: 'Pieces or units; 1 if left out. Without a serial: how many in all, see total. count: what is there',
    }),
    condition: z
      .enum(['accepted', 'damaged', 'too-warm'])
      .optional()
      .meta({ description: 'arrival: accepted if left out' }),
    temperatureC: z.number().min(-60).max(120).multipleOf(0.01).optional(),
    reason: line(40).optional().meta({ description: 'discard: required, of listWasteReasons' }),
    destination: line(40).optional().meta({ description: 'discard: required' }),
    material: material.optional().meta({ description: 'discard: food if left out' }),
    note: text(500).optional(),
    servicePoint: line(100).optional(),
    meal: z.enum(['breakfast', 'lunch', 'dinner', 'other']).optional(),
    ...useFields,
  })
  .meta({ id: 'NewScan' });

const ScanResult = z
  .object({
    index: z.int(),
    id: uuid,
    status: z.enum(['recorded', 'already-recorded', 'awaiting-identity', 'refused']),
    replayed: z.boolean().meta({ description: 'true: this is the first answer, given again' }),
    lotId: uuid.nullable(),
    lotCode: lotCode.nullable(),
    serial: serial.nullable(),
    total: z.int().nullable().meta({
      description:
        'Scans without a serial: what is recorded now in all for this lot and dispatch and condition (arrival), place and date (put-away), place, date, meal, service point and purpose (use), place, date, reason, destination and material (discard)',
    }),
    expected: z
      .int()
      .nullable()
      .meta({ description: 'arrival without a serial: what the dispatch carries of the lot; ask: 1 of 12, how many?' }),
    mayUse: z.boolean().nullable(),
    whyNot: z.string().nullable().meta({
      description:
        'In words that a cook can act on; of a crate: the first lot in it that may not be used; of a code that no lot and no symbol can have: why it cannot be read',
    }),
    arrivedAs: z.enum(['expected', 'over', 'other-dispatch', 'wrong-site', 'not-sent']).nullable().meta({
      description:
        'arrival: expected; over: more than the dispatch says; other-dispatch: of another one to this site than named; wrong-site: sent to another site, set aside here; not-sent: no dispatch is known that carries it, it waits for one',
    }),
    arrivalNote: z.string().nullable().meta({ description: 'arrival: where it should be and what to do, in words' }),
    held: z.boolean().nullable().meta({ description: 'arrival: an open hold reaches it, or a lot in the crate' }),
    findings: z.array(FindingBrief),
    problem: Problem.nullable(),
    stateHref: z.string().nullable().meta({ description: 'Where to read what the scan comes to now; null: refused' }),
  })
  .meta({ id: 'ScanResult' });

export const createScans = defineOperation({
  id: 'createScans',
  method: 'post',
  path: '/v1/scans',
  tag,
  summary: 'Record scans: arrival, put-away, use, discard, count',
  description:
    'Observations: each states what happened and is refused only for its shape, identity or permission. Up to 5,000 a call, in any order, hours late, twice. Each has its own id and answer; atomic=true records all or none. A code that is not known yet waits for its lot. A pack or crate that was sent to another site is booked where it is, set aside, with the finding wrong-site; one that no dispatch carries waits for its dispatch, with the same finding. A scan with a serial is that pack. A scan without one sets a total, it does not add: two beeps of one identical label may be one pack, so the latest scan by occurredAt says how many it is in all, in whatever order they arrive. A crate sets the total of what it carries.',
  permission: 'scans.write',
  naming: 'none',
  mode: 'write',
  bodyLimitKb: 4096,
  body: z
    .strictObject({
      siteId: uuid,
      deviceTime: instant
        .optional()
        .meta({ description: "The device's clock at sending; the difference is kept beside the times" }),
      atomic: z.boolean().optional(),
      scans: z.array(NewScan).min(1).max(5000),
    })
    .meta({ id: 'NewScans' }),
  answers: {
    207: {
      description: 'One result per scan',
      schema: z
        .object({ recorded: z.int(), refused: z.int(), results: z.array(ScanResult) })
        .meta({ id: 'ScanResults' }),
    },
  },
  errors: ['not-found', 'atomic-refused', 'rule-broken'],
  example: {
    status: 207,
    body: {
      siteId: exampleId('site/w3'),
      deviceTime: '2026-11-25T11:59:58+00:00',
      scans: [
        {
          id: exampleId('new/scan'),
          kind: 'arrival',
          code: 'STEW-1/31',
          occurredAt: '2026-11-25T11:02:10+00:00',
          condition: 'accepted',
        },
      ],
    },
  },
});

const Scan = z
  .object({
    scanId: uuid,
    siteId: uuid,
    kind: z.string(),
    code: z.string(),
    lotId: uuid.nullable(),
    serial: serial.nullable(),
    dispatchId: uuid.nullable(),
    placeId: uuid.nullable(),
    quantity: z.int().nullable(),
    condition: z.string().nullable(),
    occurredAt: instant,
    recordedAt: instant,
    clockOffsetMs: z.int().nullable().meta({ description: 'Our clock minus the device clock' }),
    actorId: uuid,
    outcome: z
      .enum(['recorded', 'superseded', 'already-recorded', 'awaiting-identity', 'reversed'])
      .meta({ description: 'superseded: a later scan says what the total is' }),
    entryIds: z.array(uuid).meta({ description: 'Entries that stand for it now' }),
  })
  .meta({ id: 'Scan' });

export const getScan = defineOperation({
  id: 'getScan',
  method: 'get',
  path: '/v1/scans/{scanId}',
  tag,
  summary: 'Read a scan and what it came to',
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ scanId: uuid }),
  answers: { 200: { description: 'The scan', schema: Scan } },
  errors: ['not-found'],
  example: { status: 200, params: { scanId: exampleId('scan/w3-arrival-1') } },
});

export const createReversal = defineOperation({
  id: 'createReversal',
  method: 'post',
  path: '/v1/reversals',
  tag: 'lots',
  summary: 'Undo an entry',
  description:
    'Nothing is edited: a reversal posts the opposite at the time of the original, once. It stands alone; record what is right as a new fact. What is then missing becomes a shortfall. A hold is not lifted by it.',
  permission: 'entries.reverse',
  naming: 'fact',
  mode: 'exclusive',
  body: z.strictObject({ id: factId, entryId: uuid, reason: text(500) }).meta({ id: 'NewReversal' }),
  answers: { 201: { description: 'Reversed', schema: EntryAnswer, headers: ['Location'] } },
  errors: ['not-found', 'already-reversed', 'not-reversible'],
  example: {
    status: 201,
    body: {
      id: exampleId('new/reversal'),
      entryId: exampleId('use/w3-lunch'),
      reason: 'Wrong pack taken from the list',
    },
  },
});
