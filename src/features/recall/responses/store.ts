/** SQL on the answers of sites. */
import type { Tx } from '../../../platform/db/db.ts';

export interface ScopeLotRow {
  readonly lotId: string;
  readonly code: string;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
}

/** Those of the lots that are in the scope. */
export async function findScopeLots(
  tx: Tx,
  holdId: string,
  lotIds: readonly string[],
): Promise<Map<string, ScopeLotRow>> {
  const rows = await tx.query<ScopeLotRow>(
    `select l.lot_id as "lotId", l.code, l.unit
       from hold_reach hr
       join lot l on l.group_id = hr.group_id and l.lot_id = hr.lot_id
      where hr.group_id = $1::uuid and hr.hold_id = $2::uuid and hr.lot_id = any($3::uuid[])`,
    [tx.groupId, holdId, lotIds],
  );
  return new Map(rows.map((row) => [row.lotId, row]));
}

export interface ResponseRow {
  readonly responseId: string;
  readonly recallId: string;
  readonly siteId: string;
  readonly respondedAtMs: number;
  readonly recordedBy: string;
  readonly signedBy: string;
  readonly note: string | null;
}

export async function insertResponse(tx: Tx, row: ResponseRow, nowMs: number): Promise<void> {
  await tx.query(
    `insert into recall_response (group_id, response_id, recall_id, site_id, responded_at, recorded_at, recorded_by, signed_by, note)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, to_timestamp($5::float8 / 1000), to_timestamp($6::float8 / 1000), $7::uuid, $8::text,
             $9::text)`,
    [
      tx.groupId,
      row.responseId,
      row.recallId,
      row.siteId,
      row.respondedAtMs,
      nowMs,
      row.recordedBy,
      row.signedBy,
      row.note,
    ],
  );
}

export interface ResponseLineRow {
  readonly lineNo: number;
  readonly lotId: string;
  readonly outcome: string;
  readonly quantity: number;
  readonly placeId: string | null;
  readonly witness: string | null;
  readonly entryFactId: string | null;
  readonly note: string | null;
}

export async function insertResponseLines(
  tx: Tx,
  responseId: string,
  lines: readonly ResponseLineRow[],
): Promise<void> {
  await tx.query(
    `insert into recall_response_line (group_id, response_id, line_no, lot_id, outcome, quantity, place_id, witness, entry_fact_id, note)
     select $1::uuid, $2::uuid, r."lineNo", r."lotId", r.outcome, r.quantity, r."placeId", r.witness, r."entryFactId", r.note
       from jsonb_to_recordset($3::jsonb) as r("lineNo" int, "lotId" uuid, outcome text, quantity bigint, "placeId" uuid, witness text,
            "entryFactId" uuid, note text)`,
    [tx.groupId, responseId, JSON.stringify(lines)],
  );
}
