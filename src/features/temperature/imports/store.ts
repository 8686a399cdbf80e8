/** SQL on reading_import and its pieces. */
import type { Tx } from '../../../platform/db/db.ts';
import type { LineProblem } from '../readings/collect.ts';

export interface ImportRow {
  readonly readingImportId: string;
  readonly uploadId: string;
  readonly contentHash: Buffer;
  readonly state: 'waiting' | 'running' | 'done';
  readonly mediaType: string;
  /** null: every site of the group */
  readonly siteIds: readonly string[] | null;
  readonly actorId: string;
  readonly actorIsDevice: boolean;
  readonly receivedAtMs: number;
  readonly clockOffsetMs: number | null;
  readonly columns: readonly string[];
  readonly chunks: number;
  readonly chunksDone: number;
  readonly lines: number;
  readonly linesDone: number;
  readonly stored: number;
  readonly duplicates: number;
  readonly conflicts: number;
  readonly refused: number;
  readonly placeDays: number;
  readonly problems: readonly LineProblem[];
  readonly doneAtMs: number | null;
}

const COLUMNS = `i.reading_import_id as "readingImportId", i.upload_id as "uploadId", i.content_hash as "contentHash", i.state,
  i.media_type as "mediaType", i.site_ids as "siteIds", i.actor_id as "actorId", i.actor_is_device as "actorIsDevice",
  (extract(epoch from i.received_at) * 1000)::int8 as "receivedAtMs", i.clock_offset_ms as "clockOffsetMs", i.columns, i.chunks,
  i.chunks_done as "chunksDone", i.lines, i.lines_done as "linesDone", i.stored, i.duplicates, i.conflicts, i.refused,
  i.place_days as "placeDays", i.problems, (extract(epoch from i.done_at) * 1000)::int8 as "doneAtMs"`;

export async function findImport(tx: Tx, readingImportId: string): Promise<ImportRow | null> {
  const rows = await tx.query<ImportRow>(
    `select ${COLUMNS} from reading_import i where i.group_id = $1::uuid and i.reading_import_id = $2::uuid`,
    [tx.groupId, readingImportId],
  );
  return rows[0] ?? null;
}

/** The oldest one with work left that nobody else works on. */
export async function lockNextImport(tx: Tx): Promise<ImportRow | null> {
  const rows = await tx.query<ImportRow>(
    `select ${COLUMNS} from reading_import i where i.group_id = $1::uuid and i.state <> 'done'
      order by i.received_at, i.reading_import_id limit 1 for update skip locked`,
    [tx.groupId],
  );
  return rows[0] ?? null;
}

export async function insertImport(tx: Tx, row: ImportRow): Promise<void> {
  await tx.query(
    `insert into reading_import (group_id, reading_import_id, upload_id, content_hash, state, media_type, site_ids, actor_id,
            actor_is_device, received_at, clock_offset_ms, columns, chunks, lines)
     values ($1::uuid, $2::uuid, $3::uuid, $4::bytea, $5::text, $6::text, $7::uuid[], $8::uuid, $9::boolean,
             to_timestamp($10::float8 / 1000), $11::int8, $12::text[], $13::int, $14::int)`,
    [
      tx.groupId,
      row.readingImportId,
      row.uploadId,
      row.contentHash,
      row.state,
      row.mediaType,
      row.siteIds,
      row.actorId,
      row.actorIsDevice,
      row.receivedAtMs,
      row.clockOffsetMs,
      row.columns,
      row.chunks,
      row.lines,
    ],
  );
}

export async function updateImport(tx: Tx, row: ImportRow): Promise<void> {
  await tx.query(
    `update reading_import set state = $3::text, chunks_done = $4::int, lines_done = $5::int, stored = $6::int, duplicates = $7::int,
            conflicts = $8::int, refused = $9::int, place_days = $10::int, problems = $11::jsonb,
            done_at = to_timestamp($12::float8 / 1000)
      where group_id = $1::uuid and reading_import_id = $2::uuid`,
    [
      tx.groupId,
      row.readingImportId,
      row.state,
      row.chunksDone,
      row.linesDone,
      row.stored,
      row.duplicates,
      row.conflicts,
      row.refused,
      row.placeDays,
      JSON.stringify(row.problems),
      row.doneAtMs,
    ],
  );
}

export interface Chunk {
  readonly uploadId: string;
  readonly chunkNo: number;
  /** lines before it */
  readonly firstLine: number;
  readonly lines: number;
  readonly body: Buffer;
}

export async function insertChunk(tx: Tx, chunk: Chunk, nowMs: number): Promise<void> {
  await tx.query(
    `insert into reading_import_chunk (group_id, upload_id, chunk_no, first_line, lines, body, received_at)
     values ($1::uuid, $2::uuid, $3::int, $4::int, $5::int, $6::bytea, to_timestamp($7::float8 / 1000))`,
    [tx.groupId, chunk.uploadId, chunk.chunkNo, chunk.firstLine, chunk.lines, chunk.body, nowMs],
  );
}

export async function findChunk(tx: Tx, uploadId: string, chunkNo: number): Promise<Chunk | null> {
  const rows = await tx.query<Chunk>(
    `select c.upload_id as "uploadId", c.chunk_no as "chunkNo", c.first_line as "firstLine", c.lines, c.body
       from reading_import_chunk c where c.group_id = $1::uuid and c.upload_id = $2::uuid and c.chunk_no = $3::int`,
    [tx.groupId, uploadId, chunkNo],
  );
  return rows[0] ?? null;
}

/** Up to and including a number; null: all of the upload. */
export async function deleteChunks(tx: Tx, uploadId: string, upTo: number | null): Promise<void> {
  await tx.query(
    `delete from reading_import_chunk c
      where c.group_id = $1::uuid and c.upload_id = $2::uuid and ($3::int is null or c.chunk_no <= $3::int)`,
    [tx.groupId, uploadId, upTo],
  );
}

/** Pieces of uploads that broke off. */
export async function deleteStrayChunks(tx: Tx, beforeMs: number): Promise<void> {
  await tx.query(
    `delete from reading_import_chunk c
      where c.group_id = $1::uuid and c.received_at < to_timestamp($2::float8 / 1000)
        and not exists (select from reading_import i where i.group_id = c.group_id and i.upload_id = c.upload_id)`,
    [tx.groupId, beforeMs],
  );
}
