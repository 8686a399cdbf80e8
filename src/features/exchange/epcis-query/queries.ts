/**
 * Answers of the EPCIS query interface. Refusals: `epcis-query-invalid`, `epcis-query-too-large`, `not-acceptable`, `not-found`.
 */
import { readQuery, RESOURCE_CONDITIONS, type Condition, type EpcisQuery } from '../../../domain/epcis/query.ts';
import { refuse } from '../../../domain/epcis/query-values.ts';
import { EVENT_TYPES } from '../../../domain/epcis/query-vocabulary.ts';
import { notFound, Refused } from '../../../domain/errors.ts';
import { utc } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { deriveEpcis } from '../epcis/derive.ts';
import { requireUnderstood, standardHeaderValues } from '../epcis-headers.ts';
import type { getEpcisEvent, listEpcisEvents } from './contract.ts';
import { countEvents, findEvents, findNamed, type After, type EventRow, type Resource } from './store.ts';

const EPCIS_CONTEXT = 'https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld';
const LD_JSON = 'application/ld+json';

/** What any of these operations has; their contexts differ in the names of their parameters only. */
type Asking = Pick<Context<typeof listEpcisEvents>, 'tx' | 'scope' | 'headers' | 'accept' | 'path' | 'nowMs'>;
type Parameters = Readonly<Record<string, string | undefined>>;

/** So that a question asked right after a fact finds it; a backlog is left to the job. */
const MOST_BATCHES = 3;
async function deriveFirst({ tx, nowMs }: Pick<Asking, 'tx' | 'nowMs'>): Promise<void> {
  for (let batch = 0; batch < MOST_BATCHES; batch += 1) if (!(await deriveEpcis(tx, nowMs)).more) return;
}

const given = (parameters: Parameters): Record<string, string> =>
  Object.fromEntries(Object.entries(parameters).filter((entry): entry is [string, string] => entry[1] !== undefined));

function linkTo(path: string, parameters: Parameters, token: string): string {
  const search = new URLSearchParams({ ...given(parameters), nextPageToken: token });
  return `<${path}?${search.toString()}>; rel="next"`;
}

const sealed = (parts: readonly (string | number)[]): string =>
  Buffer.from(JSON.stringify(parts), 'utf8').toString('base64url');

function opened(token: string, fits: readonly RegExp[]): string[] {
  try {
    const parts: unknown = JSON.parse(Buffer.from(token, 'base64url').toString('utf8'));
    if (
      Array.isArray(parts) &&
      parts.length === fits.length &&
      parts.every((part, at) => fits[at]?.test(String(part)))
    ) {
      return parts.map(String);
    }
  } catch {
    // falls through: whatever is wrong with it, it is not a token of ours
  }
  throw refuse(['nextPageToken', token], 'it is no token of an earlier page');
}

const NUMBER = /^\d{1,15}$/;
const TIME = /^\d{4}-\d\d-\d\d \d\d:\d\d:\d\d(\.\d{1,6})?[+-]\d\d(:\d\d)?$/;

function keyOf(row: EventRow, { orderBy }: EpcisQuery): string {
  return orderBy === 'recorded' ? row.eventNo : row[orderBy];
}

function documentReply(asking: Asking, rows: readonly EventRow[], link: string | null): Reply {
  const eventList = rows.map((row) => ({ ...row.body, recordTime: row.recordedAt.toISOString() }));
  const document = {
    '@context': [EPCIS_CONTEXT],
    type: 'EPCISQueryDocument',
    schemaVersion: '2.0',
    creationDate: utc(asking.nowMs),
    epcisBody: { queryResults: { queryName: 'SimpleEventQuery', resultsBody: { eventList } } },
  };
  const headers = {
    ...standardHeaderValues,
    'GS1-EPC-Format': 'Always_GS1_Digital_Link',
    ...(link !== null && { Link: link }),
  };
  if (asking.accept(['application/json', LD_JSON]) !== LD_JSON) return { status: 200, body: document, headers };
  return { status: 200, raw: { contentType: LD_JSON, data: JSON.stringify(document) }, headers };
}

async function eventsReply(asking: Asking, parameters: Parameters, more: readonly Condition[] = []): Promise<Reply> {
  const { tx, scope, headers, path } = asking;
  requireUnderstood(headers);
  const asked = readQuery(given(parameters));
  const query = { ...asked, conditions: [...more, ...asked.conditions] };
  const token =
    query.nextPageToken === null
      ? null
      : opened(query.nextPageToken, [query.orderBy === 'recorded' ? NUMBER : TIME, NUMBER, NUMBER]);
  const after: After | null = token && { key: token[0] ?? '', eventNo: token[1] ?? '' };
  const served = Number(token?.[2] ?? 0);
  await deriveFirst(asking);
  const most = query.maxEventCount;
  if (most !== null && (await countEvents(tx, scope, query.conditions, most + 1)) > most) {
    throw new Refused('epcis-query-too-large', `There are more than ${most} such events.`);
  }
  const left = (query.eventCountLimit ?? Number.POSITIVE_INFINITY) - served;
  const take = Math.max(0, Math.min(query.perPage, left));
  const rows = await findEvents(tx, scope, query, after, take + 1);
  const page = rows.slice(0, take);
  const last = page[page.length - 1];
  const goesOn = last !== undefined && rows.length > take && take < left;
  const link = goesOn ? linkTo(path, parameters, sealed([keyOf(last, query), last.eventNo, served + take])) : null;
  return documentReply(asking, page, link);
}

export function readEvents(context: Context<typeof listEpcisEvents>): Promise<Reply> {
  return eventsReply(context, context.query);
}

export async function readEvent(context: Context<typeof getEpcisEvent>): Promise<Reply> {
  const { tx, scope, params, headers } = context;
  requireUnderstood(headers);
  await deriveFirst(context);
  const conditions: Condition[] = [{ kind: 'text', field: 'eventID', values: [params.eventID] }];
  // As it was, and once more for each time that it was declared wrong.
  const rows = await findEvents(tx, scope, { conditions, orderBy: 'recorded', direction: 'ASC' }, null, 10);
  if (rows.length === 0) throw notFound('event');
  return documentReply(context, rows, null);
}

type Named = Asking & { readonly query: Parameters };
type OfResource = Named & { readonly params: Readonly<Record<string, string>> };

/** Events of one thing, step, place …, which the path names. */
export function eventsOfResource(resource: keyof typeof RESOURCE_CONDITIONS) {
  return async (context: OfResource): Promise<Reply> => {
    const [[name, value] = ['', '']] = Object.entries(context.params);
    const condition = RESOURCE_CONDITIONS[resource]?.([name, value]);
    return eventsReply(context, context.query, condition ? [condition] : []);
  };
}

function collectionReply(member: readonly string[], link: string | null): Reply {
  return {
    status: 200,
    body: { '@context': EPCIS_CONTEXT, type: 'Collection', member },
    headers: { ...standardHeaderValues, ...(link !== null && { Link: link }) },
  };
}

/** What the events name of a kind. */
export function namesOf(resource: Resource) {
  return async (context: Named): Promise<Reply> => {
    const { tx, scope, query, headers, path } = context;
    requireUnderstood(headers);
    const { perPage, nextPageToken } = readQuery(given(query));
    const after = nextPageToken === null ? null : (opened(nextPageToken, [/^[^\u0000]{1,1000}$/])[0] ?? null);
    await deriveFirst(context);
    const names = await findNamed(tx, scope, resource, after, perPage + 1);
    const member = names.slice(0, perPage);
    const last = member[member.length - 1];
    return collectionReply(
      member,
      last !== undefined && names.length > perPage ? linkTo(path, query, sealed([last])) : null,
    );
  };
}

/** The types of EPCIS 2.0; which of them there are events of is no matter. */
export function eventTypeNames(context: Named): Promise<Reply> {
  requireUnderstood(context.headers);
  return Promise.resolve(collectionReply(EVENT_TYPES, null));
}
