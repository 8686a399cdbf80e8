/** SQL on month_close_file and month_close_piece. */
import type { Tx } from '../../../platform/db/db.ts';
import type { Digest } from '../pieces.ts';
import type { FileKind } from './shapes.ts';

export interface FileRow extends Digest {
  readonly closeId: string;
  readonly kind: FileKind;
  readonly contentType: string;
}

/** In the order of the kinds as they are named. */
export async function listFiles(tx: Tx, closeIds: readonly string[]): Promise<FileRow[]> {
  return tx.query<FileRow>(
    `select f.close_id as "closeId", f.kind, f.content_type as "contentType", f.bytes, f.sha256
       from month_close_file f
      where f.group_id = $1::uuid and f.close_id = any($2::uuid[])
      order by f.close_id, array_position(array['json', 'csv', 'xlsx', 'html', 'pdf'], f.kind)`,
    [tx.groupId, closeIds],
  );
}

export async function insertFile(tx: Tx, file: FileRow, nowMs: number): Promise<void> {
  await tx.query(
    `insert into month_close_file (group_id, close_id, kind, content_type, bytes, sha256, made_at)
     values ($1::uuid, $2::uuid, $3::text, $4::text, $5::int8, $6::bytea, to_timestamp($7::float8 / 1000))`,
    [tx.groupId, file.closeId, file.kind, file.contentType, file.bytes, file.sha256, nowMs],
  );
}

export async function insertPiece(
  tx: Tx,
  closeId: string,
  kind: FileKind,
  pieceNo: number,
  body: Buffer,
): Promise<void> {
  await tx.query(
    `insert into month_close_piece (group_id, close_id, kind, piece_no, body)
     values ($1::uuid, $2::uuid, $3::text, $4::int, $5::bytea)`,
    [tx.groupId, closeId, kind, pieceNo, body],
  );
}

/** What a try that broke off left behind; of a finished file the database deletes nothing. */
export async function deletePieces(tx: Tx, closeId: string, kind: FileKind): Promise<void> {
  await tx.query(
    `delete from month_close_piece p where p.group_id = $1::uuid and p.close_id = $2::uuid and p.kind = $3::text`,
    [tx.groupId, closeId, kind],
  );
}

export async function findPiece(tx: Tx, closeId: string, kind: FileKind, pieceNo: number): Promise<Buffer | null> {
  const rows = await tx.query<{ body: Buffer }>(
    `select p.body from month_close_piece p
      where p.group_id = $1::uuid and p.close_id = $2::uuid and p.kind = $3::text and p.piece_no = $4::int`,
    [tx.groupId, closeId, kind, pieceNo],
  );
  return rows[0]?.body ?? null;
}
