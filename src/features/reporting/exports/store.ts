/** SQL on report_export and its pieces. */
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';
import type { Digest } from '../pieces.ts';

export interface ExportRow {
  readonly exportId: string;
  readonly report: 'waste-and-yield' | 'lines';
  readonly month: string;
  readonly throughMonth: string;
  /** null: the whole group */
  readonly siteIds: readonly string[] | null;
  readonly cutSeq: number;
  readonly cutMoneyNo: number;
  readonly cutRecordedAtMs: number;
  readonly format: 'json' | 'csv' | 'xlsx' | 'html' | 'pdf';
  readonly state: 'waiting' | 'making' | 'ready' | 'failed' | 'trimmed';
  readonly rowsDone: number;
  readonly rowsOf: number | null;
  readonly tries: number;
  readonly failure: string | null;
  readonly bytes: number | null;
  readonly sha256: Buffer | null;
  readonly askedBy: string;
  readonly askedAt: Date;
  readonly doneAt: Date | null;
}

const COLUMNS = `x.export_id as "exportId", x.report, to_char(x.month, 'YYYY-MM') as month, to_char(x.through_month, 'YYYY-MM') as "throughMonth",
  x.site_ids as "siteIds", x.cut_seq as "cutSeq", x.cut_money_no as "cutMoneyNo",
  (extract(epoch from x.cut_recorded_at) * 1000)::int8 as "cutRecordedAtMs", x.format, x.state, x.rows_done as "rowsDone",
  x.rows_of as "rowsOf", x.tries, x.failure, x.bytes, x.sha256, x.asked_by as "askedBy", x.asked_at as "askedAt", x.done_at as "doneAt"`;

export type NewExport = Pick<
  ExportRow,
  | 'exportId'
  | 'report'
  | 'month'
  | 'throughMonth'
  | 'siteIds'
  | 'cutSeq'
  | 'cutMoneyNo'
  | 'cutRecordedAtMs'
  | 'format'
  | 'askedBy'
>;

export async function insertExport(tx: Tx, row: NewExport, nowMs: number): Promise<void> {
  await tx.query(
    `insert into report_export (group_id, export_id, report, month, through_month, site_ids, cut_seq, cut_money_no, cut_recorded_at, format,
            state, asked_by, asked_at)
     values ($1::uuid, $2::uuid, $3::text, ($4::text || '-01')::date, ($5::text || '-01')::date, $6::uuid[], $7::int8, $8::int8,
             to_timestamp($9::float8 / 1000), $10::text, 'waiting', $11::uuid, to_timestamp($12::float8 / 1000))`,
    [
      tx.groupId,
      row.exportId,
      row.report,
      row.month,
      row.throughMonth,
      row.siteIds,
      row.cutSeq,
      row.cutMoneyNo,
      row.cutRecordedAtMs,
      row.format,
      row.askedBy,
      nowMs,
    ],
  );
}

/** Null also when it holds sites that are not in the scope. */
export async function findExport(tx: Tx, scope: SiteScope, exportId: string): Promise<ExportRow | null> {
  const rows = await tx.query<ExportRow>(
    `select ${COLUMNS} from report_export x
      where x.group_id = $1::uuid and x.export_id = $2::uuid and ($3::boolean or x.site_ids <@ $4::uuid[])`,
    [tx.groupId, exportId, scope.all, scope.siteIds],
  );
  return rows[0] ?? null;
}

/** The newest first, one more than the page holds. */
export async function listExports(tx: Tx, scope: SiteScope, page: Page): Promise<ExportRow[]> {
  return tx.query<ExportRow>(
    `select ${COLUMNS} from report_export x
      where x.group_id = $1::uuid and ($2::boolean or x.site_ids <@ $3::uuid[])
        and ($4::timestamptz is null or (x.asked_at, x.export_id) < ($4::timestamptz, $5::uuid))
      order by x.asked_at desc, x.export_id desc limit $6::int`,
    [tx.groupId, scope.all, scope.siteIds, page.after?.[0] ?? null, page.after?.[1] ?? null, page.limit + 1],
  );
}

/** The one that has waited longest. */
export async function findUnfinishedExport(tx: Tx): Promise<ExportRow | null> {
  const rows = await tx.query<ExportRow>(
    `select ${COLUMNS} from report_export x
      where x.group_id = $1::uuid and x.state in ('waiting', 'making') order by x.asked_at, x.export_id limit 1`,
    [tx.groupId],
  );
  return rows[0] ?? null;
}

/** Begins a try, or gives up after so many. Answers how the export stands then. */
export async function beginTry(tx: Tx, exportId: string, most: number, anew: boolean): Promise<ExportRow | null> {
  const rows = await tx.query<ExportRow>(
    `update report_export x
        set state = case when x.tries >= $3::int then 'failed' else 'making' end,
            failure = case when x.tries >= $3::int then 'Three tries broke off. Ask for it anew, or for less.' end,
            tries = least(x.tries + 1, $3::int), rows_done = case when $4::boolean then 0 else x.rows_done end
      where x.group_id = $1::uuid and x.export_id = $2::uuid and x.state in ('waiting', 'making')
     returning ${COLUMNS}`,
    [tx.groupId, exportId, most, anew],
  );
  return rows[0] ?? null;
}

/** A file of lines that got on has its tries back: it goes on where it is. */
export async function setRows(tx: Tx, exportId: string, rowsDone: number): Promise<void> {
  await tx.query(
    `update report_export x
        set rows_done = $3::int8, tries = case when x.report = 'lines' then 1 else x.tries end
      where x.group_id = $1::uuid and x.export_id = $2::uuid`,
    [tx.groupId, exportId, rowsDone],
  );
}

/** How many lines there will be. */
export async function setTotal(tx: Tx, exportId: string, rowsOf: number): Promise<void> {
  await tx.query(
    `update report_export x set rows_of = $3::int8 where x.group_id = $1::uuid and x.export_id = $2::uuid`,
    [tx.groupId, exportId, rowsOf],
  );
}

export async function setReady(
  tx: Tx,
  exportId: string,
  made: Digest & { readonly rows: number },
  nowMs: number,
): Promise<void> {
  await tx.query(
    `update report_export x
        set state = 'ready', rows_done = $3::int8, rows_of = $3::int8, bytes = $4::int8, sha256 = $5::bytea,
            done_at = to_timestamp($6::float8 / 1000)
      where x.group_id = $1::uuid and x.export_id = $2::uuid`,
    [tx.groupId, exportId, made.rows, made.bytes, made.sha256, nowMs],
  );
}

/** Takes the files away that were done before then; what they were stays on record. */
export async function trimExports(tx: Tx, beforeMs: number): Promise<void> {
  await tx.query(
    `with old as (
       update report_export x set state = 'trimmed'
        where x.group_id = $1::uuid and x.state = 'ready' and x.done_at < to_timestamp($2::float8 / 1000)
       returning x.export_id)
     delete from report_export_piece p using old where p.group_id = $1::uuid and p.export_id = old.export_id`,
    [tx.groupId, beforeMs],
  );
}

export async function insertPiece(tx: Tx, exportId: string, pieceNo: number, body: Buffer): Promise<void> {
  await tx.query(
    `insert into report_export_piece (group_id, export_id, piece_no, body) values ($1::uuid, $2::uuid, $3::int, $4::bytea)`,
    [tx.groupId, exportId, pieceNo, body],
  );
}

export async function countPieces(tx: Tx, exportId: string): Promise<number> {
  const rows = await tx.query<{ count: number }>(
    `select count(*)::int as count from report_export_piece p where p.group_id = $1::uuid and p.export_id = $2::uuid`,
    [tx.groupId, exportId],
  );
  return rows[0]?.count ?? 0;
}

export async function deletePieces(tx: Tx, exportId: string): Promise<void> {
  await tx.query(`delete from report_export_piece p where p.group_id = $1::uuid and p.export_id = $2::uuid`, [
    tx.groupId,
    exportId,
  ]);
}

export async function findPiece(tx: Tx, exportId: string, pieceNo: number): Promise<Buffer | null> {
  const rows = await tx.query<{ body: Buffer }>(
    `select p.body from report_export_piece p
      where p.group_id = $1::uuid and p.export_id = $2::uuid and p.piece_no = $3::int`,
    [tx.groupId, exportId, pieceNo],
  );
  return rows[0]?.body ?? null;
}
