/**
 * Reading the feed. Refusals: `events-gone` (410: what comes next is no longer kept), `bad-cursor` (a number that was never given),
 * `rule-broken` (a type that there is not).
 */
import { setTimeout as pause } from 'node:timers/promises';
import { Refused } from '../../../domain/errors.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { EVENT_STREAM, type listEvents } from './contract.ts';
import { numberEvents } from './number.ts';
import { listEventsAfter, readStanding, type EventRow, type Standing } from './store.ts';
import { eventTypes } from './types.ts';

type Asked = Context<typeof listEvents>;

const DEFAULT_LIMIT = 100;
const POLL_MS = 500;
const STREAM_BATCH = 200;
/** Five minutes; whoever listens connects again, which browsers do by themselves. A token that has ended is then refused. */
const STREAM_POLLS = 600;
/** A comment about every 15 seconds keeps proxies from closing a quiet connection: common practice. */
const QUIET_POLLS = 30;

/** Types by name, none twice; null when all are wanted. */
export function typesOf(said: readonly string[] | undefined, pointer: string): string[] | null {
  if (said === undefined) return null;
  const unknown = said.find((type) => !Object.hasOwn(eventTypes, type));
  if (unknown !== undefined) {
    const detail = `There is no type of event "${unknown.slice(0, 60)}".`;
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });
  }
  return [...new Set(said)];
}

/** Throws `events-gone`, `bad-cursor`. */
export function requireKept(afterNo: number, { lastNo, firstNo }: Pick<Standing, 'lastNo' | 'firstNo'>): void {
  if (afterNo > lastNo) throw new Refused('bad-cursor', `The newest event is number ${lastNo}.`);
  if (afterNo < firstNo - 1) {
    const members = { oldest: String(firstNo - 1), newest: String(lastNo) };
    throw new Refused('events-gone', `The oldest event that is kept is number ${firstNo}.`, { members });
  }
}

interface Reading {
  readonly items: readonly EventRow[];
  /** all up to here were looked at */
  readonly nextNo: number;
  readonly more: boolean;
  readonly standing: Standing;
}

/** Numbers what waits, then reads. A snapshot of one transaction: what the head says is there, the rows say as well. */
async function readOn(
  { readAgain, writeAgain, clock }: Pick<Asked, 'readAgain' | 'writeAgain' | 'clock'>,
  afterNo: number,
  filter: { types: readonly string[] | null; scope: Asked['scope'] },
  limit: number,
): Promise<Reading> {
  const { pending } = await readAgain(readStanding);
  if (pending) await writeAgain((tx) => numberEvents(tx, clock.nowMs()));
  return readAgain(async (tx) => {
    const standing = await readStanding(tx);
    requireKept(afterNo, standing);
    const rows = await listEventsAfter(tx, afterNo, standing.lastNo, filter, limit + 1);
    const items = rows.slice(0, limit);
    const more = rows.length > limit;
    return { items, nextNo: more ? (items.at(-1)?.eventNo ?? afterNo) : standing.lastNo, more, standing };
  });
}

function eventAnswer({ recordedAt, ...row }: EventRow) {
  return { ...row, recordedAt: recordedAt.toISOString() };
}

export async function readEvents(context: Asked): Promise<Reply> {
  const { tx, query, scope, accept, lastEventId } = context;
  const isStream = accept(['application/json', EVENT_STREAM]) === EVENT_STREAM;
  const filter = { types: typesOf(query.types?.split(','), '#/query/types'), scope };
  const standing = await readStanding(tx);
  const again = isStream ? lastEventId : null;
  if (again !== null && !/^(0|[1-9]\d{0,14})$/.test(again)) {
    throw new Refused('bad-cursor', 'Last-Event-ID is not the id of an event of this feed.');
  }
  const after = again ?? query.after ?? String(standing.firstNo - 1);
  const from = after === 'newest' ? null : Number(after);
  // Read from here on outside this transaction: it would hold a connection while it waits for another.
  if (from !== null) requireKept(from, standing);
  if (isStream) return { status: 200, live: { contentType: EVENT_STREAM, chunks: stream(context, from, filter) } };
  const limit = query.limit === undefined ? DEFAULT_LIMIT : Number(query.limit);
  const polls = (Number(query.waitS ?? '0') * 1000) / POLL_MS;
  return {
    status: 200,
    live: { contentType: 'application/json; charset=utf-8', chunks: page(context, from, filter, limit, polls) },
  };
}

/** Where to begin. What has happened and has no number yet was before now, so from now on (null) is after it. */
async function beginAt({ readAgain, writeAgain, clock }: Asked, from: number | null): Promise<number> {
  if (from !== null) return from;
  for (let more = true; more;) more = (await writeAgain((tx) => numberEvents(tx, clock.nowMs()))).more;
  return (await readAgain(readStanding)).lastNo;
}

/** One piece of JSON, when there is something or the time is up. It waits outside any transaction. */
async function* page(
  context: Asked,
  from: number | null,
  filter: { types: readonly string[] | null; scope: Asked['scope'] },
  limit: number,
  polls: number,
): AsyncGenerator<string> {
  let read = await readOn(context, await beginAt(context, from), filter, limit);
  for (let poll = 0; poll < polls && read.items.length === 0; poll += 1) {
    await pause(POLL_MS);
    read = await readOn(context, read.nextNo, filter, limit);
  }
  yield JSON.stringify({
    items: read.items.map(eventAnswer),
    next: String(read.nextNo),
    more: read.more,
    newest: String(read.standing.lastNo),
    oldest: String(read.standing.firstNo - 1),
  });
}

/** Buffers are sent at once; text would be gathered. */
async function* stream(
  context: Asked,
  from: number | null,
  filter: { types: readonly string[] | null; scope: Asked['scope'] },
): AsyncGenerator<Buffer> {
  let at = await beginAt(context, from);
  yield Buffer.from(`: after ${at}\n\n`);
  for (let poll = 1; poll <= STREAM_POLLS; poll += 1) {
    const read = await readOn(context, at, filter, STREAM_BATCH);
    at = read.nextNo;
    if (read.items.length > 0) {
      yield Buffer.from(
        read.items
          .map((row) => `id: ${row.eventNo}\nevent: ${row.type}\ndata: ${JSON.stringify(eventAnswer(row))}\n\n`)
          .join(''),
      );
    }
    // An id without data moves on where the reader would connect again, past what the filter left out.
    else if (poll % QUIET_POLLS === 0) yield Buffer.from(`: still here\nid: ${at}\n\n`);
    if (!read.more) await pause(POLL_MS);
  }
}

const ENTRY_FIELDS = ['entryId', 'occurredAt', 'siteId', 'lotCount', 'lotIds'];
const ENTRY_ABOUT = ['batchId', 'packingRunId', 'dispatchId', 'dispatchCode', 'countId', 'scanId', 'reversesEntryId'];

export function readEventTypes(): Promise<Reply> {
  const items = Object.entries(eventTypes).map(([type, { about, fields }]) => ({
    type,
    about,
    fields: [...(fields ?? [...ENTRY_FIELDS, ...ENTRY_ABOUT])],
  }));
  return Promise.resolve({ status: 200, body: { items } });
}
