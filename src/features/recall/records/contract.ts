/** Records as food law asks for them: tracking events with their key data elements, the file of a case, its map. */
import { z } from 'zod';
import { address } from '../../../platform/http/address.ts';
import { defineOperation } from '../../../platform/http/contract.ts';
import { date, instant, lotCode, quantity, quantityOrZero, unit, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { Figures } from '../account/contract.ts';
import { recallParams } from '../shapes.ts';

export const XLSX = 'application/vnd.openxmlformats-officedocument.spreadsheetml.sheet';

const event = z.enum([
  'goods-in',
  'opening-stock',
  'batch-input',
  'batch-output',
  'packing-input',
  'packing-output',
  'conversion-input',
  'conversion-output',
  'departure',
  'receipt',
  'refused-at-door',
  'use',
  'use-by-count',
  'discard',
  'return-to-supplier',
  'return-from-service',
  'count-missing',
  'count-found',
]);

const critical = z.enum(['shipping', 'receiving', 'transformation']).nullable().meta({
  description: 'The critical tracking event of 21 CFR 1.1310; null: a kind of our own, so that the file is complete',
});

const locationId = z.string().meta({
  description: 'In `locations`: the id of a site, a supplier or the group, or `shop:` and the name of a shop',
});

const TrackingEvent = z
  .object({
    eventId: uuid.meta({ description: 'The entry; of several, the first' }),
    event,
    criticalTrackingEvent: critical,
    role: z
      .enum(['input', 'output'])
      .nullable()
      .meta({ description: 'Of a transformation: what went in, what came out' }),
    occurredAt: instant,
    lastAt: instant.nullable().meta({ description: 'The last of several beeps of one day; null: there was one time' }),
    occurredOn: date.meta({ description: "The site's date" }),
    facts: quantity.meta({ description: 'Entries that it sums: packs scanned one by one make one row a day' }),
    lotId: uuid,
    traceabilityLotCode: lotCode.meta({
      description: 'Our lot code: given once, at goods-in or when it was made, and never again',
    }),
    supplierLotCode: z.string().nullable(),
    tlcSourceId: locationId.meta({ description: 'Where the lot code was given (traceability lot code source)' }),
    itemCode: z.string(),
    productName: z.string(),
    packSize: z.string().nullable(),
    packStyle: z.string().nullable(),
    useByDate: date.nullable(),
    bestBeforeDate: date.nullable(),
    quantity: quantity.meta({ description: 'In the unit beside it' }),
    unit,
    locationId: locationId.meta({ description: 'Where it happened: received at, shipped from, transformed at' }),
    previousSourceId: locationId.nullable(),
    recipientId: locationId.nullable(),
    ownerId: locationId
      .nullable()
      .meta({ description: 'Who owns the food while it is shipped and received: the group' }),
    dispatchedOn: date
      .nullable()
      .meta({ description: "The sender's date; of a supplier's delivery nobody records it" }),
    referenceDocumentType: z
      .enum(['delivery-note', 'shop-receipt', 'dispatch', 'batch-record', 'ledger-entry'])
      .nullable(),
    referenceDocumentNumber: z.string().nullable(),
    inputs: z
      .array(
        z.object({
          traceabilityLotCode: lotCode,
          productName: z.string(),
          quantity: quantityOrZero.meta({
            description: 'What of it went into the whole batch; 0: it was in the bin, and none of it was booked',
          }),
          unit,
        }),
      )
      .nullable()
      .meta({ description: 'Of outputs only' }),
    recordedBy: z.string(),
    recordedAt: instant,
    missing: z
      .array(z.string())
      .meta({ description: 'Key data elements that the law asks for and nobody recorded, as in previousSource.phone' }),
  })
  .meta({ id: 'TrackingEvent' });

const TrackingLocation = z
  .object({
    locationId,
    kind: z.enum(['site', 'supplier', 'group', 'shop']),
    code: z.string().nullable(),
    name: z.string(),
    description: z.string().meta({ description: 'The location description in one line; unknown parts are left out' }),
    address: address.nullable(),
  })
  .meta({ id: 'TrackingLocation' });

const MissingElement = z
  .object({
    element: z.string(),
    part: z.string().nullable(),
    law: z.string(),
    rows: quantity,
  })
  .meta({ id: 'MissingElement' });

const TrackingEvents = z
  .object({
    events: z.array(TrackingEvent),
    locations: z.array(TrackingLocation).meta({ description: 'Those that the events name' }),
    lotCount: quantityOrZero.meta({ description: 'Lots with an event in it' }),
    eventCount: quantityOrZero,
    missing: z.array(MissingElement).meta({ description: 'What is not on record, and in how many rows' }),
    notes: z.array(z.string()),
  })
  .meta({ id: 'TrackingEvents' });

const files = [
  { description: 'One object for an event and lot', schema: TrackingEvents },
  {
    description: 'One row for an event and lot; texts that a spreadsheet would run are escaped',
    contentType: 'text/csv',
  },
  { description: 'A workbook: summary, events, sites and suppliers, lots, glossary', contentType: XLSX },
] as const;

export const listTrackingEvents = defineOperation({
  id: 'listTrackingEvents',
  method: 'get',
  path: '/v1/tracking-events',
  tag: 'recall',
  summary: 'What happened to food, one row for an event and lot, with the key data elements of food law',
  description:
    'For 21 CFR 1.1340 (shipping), 1.1345 (receiving) and 1.1350 (transformation), and Regulation (EU) 931/2011 Art. 3; asked for by lot, ' +
    'supplier or period, alone or combined. Shipping gives no new lot code. What was undone is left out, moves within a site are too. What ' +
    'is not on record is empty, and counted. Whoever may trace a lot sees what happened to it and its relatives at every site; without a ' +
    'lot, only what happened at the own sites. The answer is sent while it is read.',
  permission: 'trace.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    lotId: uuid.optional(),
    walk: z.enum(['forward', 'back', 'both', 'none']).optional().meta({
      description:
        'With the lots that were made from these, that these were made from, both, or these alone; both if left out',
    }),
    supplierId: uuid
      .optional()
      .meta({ description: 'Lots that came from this supplier, and their relatives as `walk` says' }),
    from: date.optional().meta({ description: "First day, by the site's date" }),
    to: date
      .optional()
      .meta({ description: 'Last day; a period without lot and supplier needs both and is at most 366 days' }),
    siteId: uuid.optional().meta({ description: 'Only what happened there' }),
    format: z.enum(['json', 'csv', 'xlsx']).optional().meta({ description: 'As Accept says if left out' }),
  }),
  answers: { 200: files },
  errors: ['not-found', 'rule-broken', 'trace-too-large'],
  example: { status: 200, query: { from: '2026-11-24', to: '2026-11-25', format: 'json' } },
});

const RecallFile = TrackingEvents.extend({
  recall: z.object({
    recallId: uuid,
    code: z.string(),
    drill: z.boolean(),
    title: z.string(),
    state: z.enum(['open', 'closed']),
    openedAt: instant,
    lotCount: quantityOrZero.meta({ description: 'In scope; lotCount beside it counts those with an event' }),
    figures: Figures,
  }),
}).meta({ id: 'RecallFile' });

export const getRecallFile = defineOperation({
  id: 'getRecallFile',
  method: 'get',
  path: '/v1/recalls/{recallId}/file',
  tag: 'recall',
  summary: 'The records of a case to hand over: tracking events of every lot in scope, or the printed file',
  description:
    'As a workbook, CSV or JSON: one row for an event and lot, as listTrackingEvents answers them, for all lots in scope; the workbook has ' +
    'the account and the timeline of the case as well. As a PDF: summary with both shares, the map of the flow, sites with their answers, ' +
    'quantities, open lines, timeline, and the first 300 lots. A drill says so on every page and in every file name.',
  permission: 'recalls.read',
  naming: 'none',
  mode: 'read',
  params: recallParams,
  query: z.strictObject({
    format: z.enum(['xlsx', 'csv', 'json', 'pdf']).optional().meta({ description: 'As Accept says if left out' }),
  }),
  answers: {
    200: [
      { description: 'One object for an event and lot', schema: RecallFile },
      { description: 'A workbook', contentType: XLSX },
      { description: 'One row for an event and lot', contentType: 'text/csv' },
      { description: 'To print and hand over, A4', contentType: 'application/pdf' },
    ],
  },
  errors: ['not-found'],
  example: { status: 200, params: { recallId: exampleId('recall/parsley') }, query: { format: 'json' } },
});

export const getRecallMap = defineOperation({
  id: 'getRecallMap',
  method: 'get',
  path: '/v1/recalls/{recallId}/map',
  tag: 'recall',
  summary: "The map of a case's food as a picture: suppliers, lots by item, sites",
  description:
    'Lots are put together by item and kitchen, and a column that grows too long ends in one box for the rest, so that it stays readable ' +
    'for any number of lots.',
  permission: 'recalls.read',
  naming: 'none',
  mode: 'read',
  params: recallParams,
  answers: { 200: { description: 'The map', contentType: 'image/svg+xml' } },
  errors: ['not-found'],
  example: { status: 200, params: { recallId: exampleId('recall/parsley') } },
});

export type TrackingEventAnswer = z.output<typeof TrackingEvent>;
export type LocationAnswer = z.output<typeof TrackingLocation>;
export type MissingAnswer = z.output<typeof MissingElement>;
