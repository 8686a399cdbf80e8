/** Refusals: those of createReadings; `id-used-with-other-content`; `not-found`. */
import { setTimeout as pause } from 'node:timers/promises';
import { notFound, Refused } from '../../../domain/errors.ts';
import { utc } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply, SiteScope } from '../../../platform/http/contract.ts';
import { wakeJob } from '../../../platform/jobs.ts';
import type { createReadingImport, getReadingImport, getReadingImportEvents } from './contract.ts';
import { IMPORT_JOB } from './job.ts';
import type { ReceivedImport } from './receive.ts';
import { deleteChunks, findImport, insertChunk, insertImport, type ImportRow } from './store.ts';

export async function createReadingImportCommand(
  { tx, actor, scope, factId, nowMs }: Context<typeof createReadingImport>,
  received: ReceivedImport,
): Promise<Reply> {
  const { last, ...about } = received;
  const known = await findImport(tx, factId);
  if (known) {
    if (!maySee(scope, known) || !known.contentHash.equals(received.contentHash)) {
      throw new Refused('id-used-with-other-content', 'Another file was sent under that Idempotency-Key.');
    }
    await deleteChunks(tx, received.uploadId, null);
    return accepted(known);
  }
  const row: ImportRow = {
    ...about,
    readingImportId: factId,
    state: 'waiting',
    siteIds: scope.all ? null : scope.siteIds,
    actorId: actor.actorId,
    actorIsDevice: actor.kind === 'device',
    receivedAtMs: nowMs,
    chunksDone: 0,
    linesDone: 0,
    stored: 0,
    duplicates: 0,
    conflicts: 0,
    refused: 0,
    placeDays: 0,
    problems: [],
    doneAtMs: null,
  };
  // From here on only success.
  if (last) await insertChunk(tx, last, nowMs);
  await insertImport(tx, row);
  await wakeJob(tx, IMPORT_JOB);
  return accepted(row);
}

const accepted = (row: ImportRow): Reply => ({
  status: 202,
  body: answerOf(row),
  headers: { Location: `/v1/reading-imports/${row.readingImportId}` },
});

/** Whoever may act at all the sites that its sender could. */
function maySee(scope: SiteScope, { siteIds }: ImportRow): boolean {
  return siteIds === null ? scope.all : siteIds.every((siteId) => scope.includes(siteId));
}

async function getVisible(tx: Tx, importId: string, scope: SiteScope): Promise<ImportRow> {
  const row = await findImport(tx, importId);
  if (!row || !maySee(scope, row)) throw notFound('import');
  return row;
}

export async function getReadingImportQuery({ tx, params, scope }: Context<typeof getReadingImport>): Promise<Reply> {
  return { status: 200, body: answerOf(await getVisible(tx, params.importId, scope)) };
}

export async function getReadingImportEventsQuery(context: Context<typeof getReadingImportEvents>): Promise<Reply> {
  const { tx, params, scope, readAgain } = context;
  const first = await getVisible(tx, params.importId, scope);
  const read = () => readAgain((later) => getVisible(later, params.importId, scope));
  return { status: 200, live: { contentType: 'text/event-stream', chunks: events(first, read) } };
}

const POLL_MS = 300;
/** Five minutes; whoever listens connects again, which browsers do by themselves. */
const MOST_POLLS = 1000;
/** A comment about every 15 seconds keeps proxies from closing a quiet connection: common practice. */
const QUIET_POLLS = 50;

async function* events(first: ImportRow, read: () => Promise<ImportRow>): AsyncGenerator<Buffer> {
  let row = first;
  yield eventOf(row);
  for (let polls = 1; row.state !== 'done' && polls < MOST_POLLS; polls += 1) {
    await pause(POLL_MS);
    const now = await read();
    if (now.state !== row.state || now.chunksDone !== row.chunksDone) yield eventOf(now);
    else if (polls % QUIET_POLLS === 0) yield Buffer.from(': still here\n\n');
    row = now;
  }
}

/** Buffers are sent at once; text would be gathered. */
function eventOf(row: ImportRow): Buffer {
  const name = row.state === 'done' ? 'done' : 'progress';
  return Buffer.from(`event: ${name}\ndata: ${JSON.stringify(answerOf(row))}\n\n`);
}

function answerOf(row: ImportRow) {
  const { readingImportId, state, stored, duplicates, conflicts, refused, problems, placeDays } = row;
  const share = row.lines === 0 ? 0 : Math.floor((100 * row.linesDone) / row.lines);
  return {
    readingImportId,
    state,
    percent: state === 'done' ? 100 : Math.min(share, 99),
    received: stored + duplicates + refused,
    stored,
    duplicates,
    conflicts,
    refused,
    problems,
    placeDays,
    receivedAt: utc(row.receivedAtMs),
    doneAt: row.doneAtMs === null ? null : utc(row.doneAtMs),
  };
}
