/** EPCIS capture: what a partner's document says of goods that are on their way to us. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { instant, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { epcisProblems, standardHeaders } from '../epcis-headers.ts';

export const MOST_EVENTS = 2000;
export const CAPTURE_LIMIT_KB = 4096;

const captureHeaders = {
  ...standardHeaders,
  'GS1-EPCIS-Capture-Limit': z.string().meta({ description: 'Most events in one document' }),
  'GS1-EPCIS-Capture-File-Size-Limit': z.string().meta({ description: 'Most bytes of one document' }),
  'GS1-Capture-Error-Behaviour': z.string(),
};

const CaptureJob = z
  .object({
    captureID: uuid,
    createdAt: instant,
    finishedAt: instant,
    running: z.boolean().meta({ description: 'Always false: a document is worked through before it is answered' }),
    success: z.boolean().meta({ description: 'false when an event was not valid' }),
    captureErrorBehaviour: z.enum(['rollback', 'proceed']),
    errors: z.array(
      z.object({ type: z.string(), title: z.string(), status: z.int(), detail: z.string(), pointer: z.string() }),
    ),
    eventCount: z.int(),
    announcedDeliveryIds: z.array(uuid).meta({ description: 'What was announced by it' }),
    unused: z
      .array(
        z.object({
          at: z.int().meta({ description: 'Position of the event in the document, from 0' }),
          eventId: z.string().nullable(),
          type: z.string(),
          bizStep: z.string().nullable(),
          why: z.string(),
        }),
      )
      .meta({ description: 'Events that announced nothing, each with the reason' }),
  })
  .meta({ id: 'EpcisCaptureJob' });

const brook = {
  type: 'EPCISDocument',
  '@context': ['https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld'],
  schemaVersion: '2.0',
  creationDate: '2026-11-25T11:00:00+00:00',
  epcisBody: {
    eventList: [
      {
        type: 'ObjectEvent',
        eventID: 'urn:uuid:3f0f6f2e-6f7b-4a35-9d0c-7a5b2a0f7c11',
        eventTime: '2026-11-25T10:30:00+00:00',
        eventTimeZoneOffset: '+00:00',
        action: 'OBSERVE',
        bizStep: 'shipping',
        disposition: 'in_transit',
        quantityList: [{ epcClass: 'https://id.gs1.org/01/09524000059109/10/BRK-7802', quantity: 24, uom: 'KGM' }],
        readPoint: { id: 'https://id.gs1.org/414/9521141000014' },
        bizTransactionList: [{ type: 'desadv', bizTransaction: 'https://example.org/despatch-advices/DN-20931' }],
        sourceList: [{ type: 'possessing_party', source: 'https://id.gs1.org/417/9521141000014' }],
        destinationList: [{ type: 'location', destination: 'https://id.gs1.org/414/9521321000018' }],
      },
    ],
  },
};

/** In outline; what an event needs is the standard's to say, and the capture answers with the place that does not fit. */
const CapturedDocument = z
  .looseObject({ type: z.string(), epcisBody: z.looseObject({}) })
  .meta({ id: 'EpcisCapturedDocument', description: 'An EPCISDocument or EPCISQueryDocument of EPCIS 2.0' });

const base = { tag: 'exchange', permission: 'epcis.capture', problemTypes: epcisProblems } as const;

export const captureEpcis = defineOperation({
  ...base,
  id: 'captureEpcis',
  method: 'post',
  path: '/v1/epcis/capture',
  summary: "Take in a supplier's EPCIS document as announced deliveries",
  description:
    `EPCIS 2.0 capture interface, for EPCISDocument and EPCISQueryDocument in JSON, up to ${MOST_EVENTS} events and ${CAPTURE_LIMIT_KB} KiB. Shipping events become announced deliveries; packing and making events of the same document say what is in the crates and until when it keeps; an error declaration takes its shipping event back, whichever of the two comes first. ` +
    "The document is another party's word: its events do not become ours and are not answered by the query interface. Other events are named in `unused` with the reason. With `GS1-Capture-Error-Behaviour: rollback` (the default) one event that is not valid leaves all unused; with `proceed` the others are used. " +
    'An Idempotency-Key (a UUID) becomes the captureID: the same document sent again under it is the same capture.',
  naming: 'offered',
  mode: 'write',
  headers: z.object({
    'gs1-capture-error-behaviour': z.enum(['rollback', 'proceed']).optional(),
  }),
  rawBody: {
    types: { 'application/json': { schema: CapturedDocument }, 'application/ld+json': { schema: CapturedDocument } },
    limitKb: CAPTURE_LIMIT_KB,
  },
  answers: {
    202: { description: 'Taken in', schema: CaptureJob, headers: ['Location'], otherHeaders: captureHeaders },
  },
  errors: ['epcis-document-invalid'],
  example: { body: brook, role: 'operations', status: 202 },
});

export const getEpcisCapture = defineOperation({
  ...base,
  id: 'getEpcisCapture',
  method: 'get',
  path: '/v1/epcis/capture/{captureID}',
  summary: 'What came of a captured document',
  description: 'For whoever may capture at all the sites that its sender could.',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ captureID: uuid }),
  answers: { 200: { description: 'The capture', schema: CaptureJob, otherHeaders: standardHeaders } },
  errors: ['not-found'],
  example: { params: { captureID: exampleId('epcis-capture/brook') }, status: 200 },
});
