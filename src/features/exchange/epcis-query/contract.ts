/** The query interface of EPCIS 2.0 (ISO/IEC 19987), over events that are made from the ledger. Names and answers are the standard's. */
import { z } from 'zod';
import { MOST_PER_PAGE, QUERY_PARAMETERS } from '../../../domain/epcis/query.ts';
import { defineOperation } from '../../../platform/http/contract.ts';
import { instant } from '../../../platform/http/scalars.ts';
import { derivedId, groupIdOf } from '../../../platform/ids.ts';
import { asked, epcisProblems, standardHeaders } from '../epcis-headers.ts';

const LD_JSON = 'application/ld+json';

const parameter = z.string().max(4000);
const pageParameters = {
  perPage: parameter.optional().meta({ description: `Events on a page: 30 if left out, at most ${MOST_PER_PAGE}` }),
  nextPageToken: parameter.optional().meta({ description: 'From the Link of the page before' }),
};
const orderParameters = {
  orderBy: parameter.optional().meta({ description: 'eventTime or recordTime' }),
  orderDirection: parameter.optional().meta({ description: 'ASC or DESC (the default)' }),
  eventCountLimit: parameter.optional().meta({ description: 'Only the first so many; needs orderBy' }),
  maxEventCount: parameter.optional().meta({ description: 'More than so many are refused' }),
};
/** Also what has no fixed name; what is not known at all is refused by the reader of the query. */
const anyQuery = z.object({ ...pageParameters, ...orderParameters }).catchall(parameter);
const fullQuery = z
  .object({
    ...Object.fromEntries(QUERY_PARAMETERS.map((name) => [name, parameter.optional()])),
    ...orderParameters,
    ...pageParameters,
  })
  .catchall(parameter);

const EpcisQueryDocument = z
  .object({
    '@context': z.array(z.unknown()),
    type: z.literal('EPCISQueryDocument'),
    schemaVersion: z.literal('2.0'),
    creationDate: instant,
    epcisBody: z.object({
      queryResults: z.object({
        queryName: z.literal('SimpleEventQuery'),
        resultsBody: z.object({ eventList: z.array(z.looseObject({ type: z.string(), eventTime: z.string() })) }),
      }),
    }),
  })
  .meta({ id: 'EpcisQueryDocument', description: "Valid by GS1's JSON schema of EPCIS 2.0" });

const Collection = z
  .object({ '@context': z.string(), type: z.literal('Collection'), member: z.array(z.string()) })
  .meta({ id: 'EpcisCollection' });

const documents = (description: string) => {
  const shape = { description, headers: ['Link' as const], otherHeaders: standardHeaders };
  return {
    200: [
      { ...shape, schema: EpcisQueryDocument },
      { ...shape, schema: EpcisQueryDocument, contentType: LD_JSON },
    ],
  };
};

const base = {
  method: 'get',
  tag: 'exchange',
  permission: 'epcis.read',
  naming: 'none',
  // What the ledger has since is made into events first.
  mode: 'write',
  headers: asked,
  problemTypes: epcisProblems,
} as const;
const errors = ['epcis-query-invalid', 'epcis-query-too-large'] as const;

export const listEpcisEvents = defineOperation({
  ...base,
  id: 'listEpcisEvents',
  path: '/v1/epcis/events',
  summary: 'Ask for events by the EPCIS 2.0 query language',
  description:
    'All parameters have to hold; values of one, parted by `|`, are alternatives. GE_ includes the value, LT_ does not. MATCH_ takes GS1 Digital Link URIs, EPC URNs (read as Digital Link) and `*` for any characters but a slash. WD_ is the place itself or what is under its URI. ' +
    'Besides the parameters listed: EQ_bizTransaction_{type}, EQ_source_{type}, EQ_destination_{type}; EQ_, GT_, GE_, LT_, LE_ with value, minValue, maxValue, meanValue or sDev and a unit (`GT_value_CEL`: temperatures in °C, K and °F are compared as what they are); EQ_ and EXISTS_ of a field with a prefix, also in ILMD. Any other parameter is refused by name, never ignored. ' +
    'Without orderBy the events come in the order in which they were recorded. Events of your sites only. Only JSON; named queries and subscriptions are not offered.',
  query: fullQuery,
  answers: documents('A page of events'),
  errors: [...errors],
  example: { query: { EQ_bizStep: 'shipping|receiving', perPage: '10' }, status: 200 },
});

export const getEpcisEvent = defineOperation({
  ...base,
  id: 'getEpcisEvent',
  path: '/v1/epcis/events/{eventID}',
  summary: 'One event by its eventID',
  description: 'Two of them when it was declared wrong later: as it was, and with its error declaration.',
  params: z.strictObject({ eventID: z.string().max(500) }),
  answers: documents('The event'),
  errors: ['not-found'],
  example: { params: { eventID: `urn:uuid:${derivedId('epcis-entry|1|0', groupIdOf('ostermere'))}` }, status: 200 },
});

const collection = {
  200: { description: 'A page', schema: Collection, headers: ['Link' as const], otherHeaders: standardHeaders },
};
const named = z.strictObject(pageParameters);

/** The two operations of one resource: what there is, and the events of one of them. */
function resource<
  const R extends string,
  const P extends string,
  const I extends string,
  const J extends string,
>(about: {
  readonly path: R;
  readonly param: P;
  readonly list: I;
  readonly events: J;
  readonly words: string;
  readonly example: string;
}) {
  const list = defineOperation({
    ...base,
    id: about.list,
    path: `/v1/epcis/${about.path}`,
    summary: `Every ${about.words} that the events name`,
    query: named,
    answers: collection,
    errors: [...errors],
    example: { query: { perPage: '10' }, status: 200 },
  });
  const events = defineOperation({
    ...base,
    id: about.events,
    path: `/v1/epcis/${about.path}/{${about.param}}/events`,
    summary: `Events of one ${about.words}`,
    description: 'Takes every parameter of listEpcisEvents besides. The value in the path is percent-encoded.',
    params: z.strictObject({ [about.param]: z.string().max(500) }),
    query: anyQuery,
    answers: documents('A page of events'),
    errors: [...errors],
    example: { params: { [about.param]: about.example }, query: { perPage: '10' }, status: 200 },
  });
  return { list, events };
}

export const eventTypes = resource({
  path: 'eventTypes',
  param: 'eventType',
  list: 'listEpcisEventTypes',
  events: 'listEpcisEventsOfType',
  words: 'event type',
  example: 'ObjectEvent',
});
export const epcs = resource({
  path: 'epcs',
  param: 'epc',
  list: 'listEpcisEpcs',
  events: 'listEpcisEventsOfEpc',
  words: 'crate, pack or lot',
  example: 'https://id.gs1.org/00/195212345678900013',
});
export const bizSteps = resource({
  path: 'bizSteps',
  param: 'bizStep',
  list: 'listEpcisBizSteps',
  events: 'listEpcisEventsOfBizStep',
  words: 'business step',
  example: 'shipping',
});
export const bizLocations = resource({
  path: 'bizLocations',
  param: 'bizLocation',
  list: 'listEpcisBizLocations',
  events: 'listEpcisEventsOfBizLocation',
  words: 'business location',
  example: 'https://id.gs1.org/414/9521321000018',
});
export const readPoints = resource({
  path: 'readPoints',
  param: 'readPoint',
  list: 'listEpcisReadPoints',
  events: 'listEpcisEventsOfReadPoint',
  words: 'read point',
  example: 'https://id.gs1.org/414/9521321000018',
});
export const dispositions = resource({
  path: 'dispositions',
  param: 'disposition',
  list: 'listEpcisDispositions',
  events: 'listEpcisEventsOfDisposition',
  words: 'disposition',
  example: 'in_transit',
});
