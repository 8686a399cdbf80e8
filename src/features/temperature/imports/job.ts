/**
 * Works through imports, one piece a transaction: the piece's readings, its counts and its end are committed together, so a restart loses
 * nothing and counts nothing twice. Lines are judged by when the import was received, whenever they are worked through.
 */
import type { Clock } from '../../../platform/clock.ts';
import type { Db, Tx } from '../../../platform/db/db.ts';
import type { Job } from '../../../platform/jobs.ts';
import { createCollector, MOST_PROBLEMS, type Collected } from '../readings/collect.ts';
import { JSON_TYPE, jsonPointer, NDJSON, textReader } from '../readings/formats.ts';
import { takeReadings } from '../readings/take.ts';
import {
  deleteChunks,
  deleteStrayChunks,
  findChunk,
  lockNextImport,
  updateImport,
  type Chunk,
  type ImportRow,
} from './store.ts';

export const IMPORT_JOB = 'import-readings';
const DAY_MS = 86_400_000;

/** Answers whether there was anything to do. */
async function workOn(tx: Tx, nowMs: number): Promise<boolean> {
  const row = await lockNextImport(tx);
  if (!row) return false;
  const chunk = await findChunk(tx, row.uploadId, row.chunksDone);
  if (!chunk) {
    await updateImport(tx, { ...row, state: 'done', doneAtMs: nowMs });
    return true;
  }
  const { siteIds } = row;
  const sender = {
    actorId: row.actorId,
    isDevice: row.actorIsDevice,
    scope: { includes: (siteId: string) => siteIds === null || siteIds.includes(siteId) },
    receivedAtMs: row.receivedAtMs,
    clockOffsetMs: row.clockOffsetMs,
  };
  const isJson = row.mediaType === JSON_TYPE;
  const sensorPointer = (line: number) => (isJson ? `${jsonPointer(line)}/sensor` : '/sensor');
  const taken = await takeReadings(tx, collectedOf(row, chunk), sender, sensorPointer);
  await deleteChunks(tx, row.uploadId, chunk.chunkNo);
  const chunksDone = row.chunksDone + 1;
  const isDone = chunksDone >= row.chunks;
  await updateImport(tx, {
    ...row,
    state: isDone ? 'done' : 'running',
    doneAtMs: isDone ? nowMs : null,
    chunksDone,
    linesDone: row.linesDone + chunk.lines,
    stored: row.stored + taken.stored,
    duplicates: row.duplicates + taken.duplicates,
    conflicts: row.conflicts + taken.conflicts,
    refused: row.refused + taken.refused,
    placeDays: row.placeDays + taken.placeDays,
    problems: [...row.problems, ...taken.problems].slice(0, MOST_PROBLEMS),
  });
  return true;
}

function collectedOf(row: ImportRow, chunk: Chunk): Collected {
  const collector = createCollector(row.receivedAtMs);
  const isJson = row.mediaType === JSON_TYPE;
  const start = { line: chunk.firstLine, columns: chunk.firstLine === 0 ? [] : row.columns };
  const pointerOf = isJson ? jsonPointer : () => '';
  const reader = textReader(isJson ? NDJSON : row.mediaType, collector, Infinity, start, pointerOf);
  reader.read(chunk.body.toString('utf8'));
  return collector.collected();
}

/** Woken by an import; the sweep finds those whose wake-up was lost. */
export function importReadings({ db, clock }: { db: Db; clock: Clock }): Job {
  return {
    name: IMPORT_JOB,
    sweep: '* * * * *',
    async run({ groupId }) {
      while (await db.inGroup(groupId, 'write', (tx) => workOn(tx, clock.nowMs())));
      await db.inGroup(groupId, 'write', (tx) => deleteStrayChunks(tx, clock.nowMs() - DAY_MS));
    },
  };
}
