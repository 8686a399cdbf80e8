/** SQL of receipts. */
import type { Tx } from '../../platform/db/db.ts';

export async function insertReceipt(
  tx: Tx,
  row: {
    receiptId: string;
    dispatchId: string;
    occurredAtMs: number;
    receivedBy: string;
    closes: boolean;
    note: string | null;
    /** nobody closed it */
    closedByPolicy?: 'complete' | 'hours';
  },
  lines: readonly {
    lotId: string;
    placeId: string;
    quantity: number;
    condition: string;
    temperatureC: number | null;
  }[],
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into receipt (group_id, receipt_id, dispatch_id, occurred_at, recorded_at, received_by, closes, note,
            closed_by_policy)
     values ($1::uuid, $2::uuid, $3::uuid, to_timestamp($4::float8 / 1000), to_timestamp($5::float8 / 1000), $6::uuid,
            $7::boolean, $8::text, $9::text)`,
    [
      tx.groupId,
      row.receiptId,
      row.dispatchId,
      row.occurredAtMs,
      nowMs,
      row.receivedBy,
      row.closes,
      row.note,
      row.closedByPolicy ?? null,
    ],
  );
  if (lines.length === 0) return;
  await tx.query(
    `insert into receipt_line (group_id, receipt_id, line_no, lot_id, place_id, quantity, condition, temperature_c)
     select $1::uuid, $2::uuid, r."lineNo", r."lotId", r."placeId", r.quantity, r.condition, r."temperatureC"
       from jsonb_to_recordset($3::jsonb) as r("lineNo" int, "lotId" uuid, "placeId" uuid, quantity int8, condition text,
            "temperatureC" numeric)`,
    [tx.groupId, row.receiptId, JSON.stringify(lines.map((line, at) => ({ ...line, lineNo: at + 1 })))],
  );
}

export interface ClosingRow {
  readonly receiptId: string;
  readonly occurredAt: Date;
  readonly recordedAt: Date;
}

/** The receipt that closed a dispatch first, if one did. */
export async function findClosing(tx: Tx, dispatchId: string): Promise<ClosingRow | null> {
  const rows = await tx.query<ClosingRow>(
    `select r.receipt_id as "receiptId", r.occurred_at as "occurredAt", r.recorded_at as "recordedAt"
       from receipt r
      where r.group_id = $1::uuid and r.dispatch_id = $2::uuid and r.closes
      order by r.recorded_at, r.receipt_id
      limit 1`,
    [tx.groupId, dispatchId],
  );
  return rows[0] ?? null;
}
