/** EPCIS documents: the ledger's facts for a partner or an authority. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { instant, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

export const CONTEXT = 'https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld';

const EpcisDocument = z
  .object({
    '@context': z.array(z.string()),
    type: z.literal('EPCISDocument'),
    schemaVersion: z.literal('2.0'),
    creationDate: instant,
    epcisBody: z.object({
      eventList: z.array(z.looseObject({ type: z.string(), eventID: z.string(), eventTime: z.string() })),
    }),
  })
  .meta({ id: 'EpcisDocument', description: 'EPCIS 2.0 in JSON-LD, as GS1 publishes its schema' });

export const readEpcisDocument = defineOperation({
  id: 'readEpcisDocument',
  method: 'get',
  path: '/v1/epcis/documents',
  tag: 'exchange',
  summary: 'What happened, as an EPCIS 2.0 document',
  description:
    'All that is asked for in one document, in the order in which it was recorded: of a period, of a lot, of a dispatch (what a receiver needs), ' +
    'or everything. Lots and places have GS1 Digital Link names where they have GS1 numbers, `urn:uuid:` and our id where they have none. What ' +
    'was undone is there twice: as it was told, and with an error declaration. Holds carry no quantity: they are about however much there is. ' +
    'Whoever acts at some sites gets what touches them. The answer is sent while it is read.',
  permission: 'epcis.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    from: instant.optional().meta({ description: 'Events that happened then or later' }),
    to: instant.optional().meta({ description: 'Events that happened before' }),
    lotId: uuid.optional(),
    dispatchId: uuid.optional(),
  }),
  answers: { 200: { description: 'An EPCISDocument', schema: EpcisDocument } },
  errors: ['not-found', 'rule-broken'],
  example: { status: 200, query: { lotId: exampleId('lot/beef-stew-packs-1') } },
});
