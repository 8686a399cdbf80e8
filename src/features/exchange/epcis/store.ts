/** SQL of stored EPCIS events. */
import type { columnsOf } from '../../../domain/epcis/columns.ts';
import type { EpcisEvent } from '../../../domain/epcis/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';

export interface Head {
  readonly lastNo: number;
  readonly lastSeq: number;
}

/** Made with the first deriving. The lock is held to the commit: no two derive at once. */
export async function lockHead(tx: Tx): Promise<Head> {
  await tx.query(`insert into epcis_head (group_id) values ($1::uuid) on conflict (group_id) do nothing`, [tx.groupId]);
  const rows = await tx.query<Head>(
    `select h.last_no as "lastNo", h.last_seq as "lastSeq" from epcis_head h where h.group_id = $1::uuid for update`,
    [tx.groupId],
  );
  const head = rows[0];
  if (!head) throw new Error('EPCIS events have no head row');
  return head;
}

export async function moveHead(tx: Tx, lastNo: number, lastSeq: number): Promise<void> {
  await tx.query(`update epcis_head h set last_no = $2::int8, last_seq = $3::int8 where h.group_id = $1::uuid`, [
    tx.groupId,
    lastNo,
    lastSeq,
  ]);
}

export type NumberedRow = ReturnType<typeof columnsOf> & { readonly event_no: number };

export async function insertEpcisEvents(tx: Tx, rows: readonly NumberedRow[]): Promise<void> {
  await tx.query(
    `insert into epcis_event (group_id, event_no, event_id, source, site_ids, lot_ids, dispatch_id, type, action, event_time,
            record_time, biz_step, disposition, dispositions_set, dispositions_unset, read_point, biz_location,
            transformation_id, parent, epcs, input_epcs, output_epcs, classes, input_classes, output_classes,
            error_declared_at, error_reason, corrective_event_ids, body)
     select $1::uuid, r.event_no, r.event_id, r.source, r.site_ids, r.lot_ids, r.dispatch_id, r.type, r.action, r.event_time,
            r.record_time, r.biz_step, r.disposition, r.dispositions_set, r.dispositions_unset, r.read_point, r.biz_location,
            r.transformation_id, r.parent, r.epcs, r.input_epcs, r.output_epcs, r.classes, r.input_classes, r.output_classes,
            r.error_declared_at, r.error_reason, r.corrective_event_ids, r.body
       from jsonb_to_recordset($2::jsonb) as r(event_no int8, event_id text, source text, site_ids uuid[], lot_ids uuid[],
            dispatch_id uuid, type text, action text, event_time timestamptz, record_time timestamptz, biz_step text,
            disposition text, dispositions_set text[], dispositions_unset text[], read_point text, biz_location text,
            transformation_id text, parent text, epcs text[], input_epcs text[], output_epcs text[], classes text[],
            input_classes text[], output_classes text[], error_declared_at timestamptz, error_reason text,
            corrective_event_ids text[], body jsonb)`,
    [tx.groupId, JSON.stringify(rows)],
  );
}

export interface ToldRow {
  readonly source: string;
  readonly siteIds: readonly string[];
  readonly lotIds: readonly string[];
  readonly dispatchId: string | null;
  readonly event: EpcisEvent;
}

/** Events of these entries as they were told, in their order; those that were declared wrong are left out. */
export async function listToldOf(tx: Tx, seqs: readonly number[]): Promise<(ToldRow & { readonly seq: number })[]> {
  return tx.query<ToldRow & { readonly seq: number }>(
    `select split_part(x.source, '|', 2)::int8 as seq, x.source, x.site_ids as "siteIds", x.lot_ids as "lotIds",
            x.dispatch_id as "dispatchId", x.body as event
       from unnest($2::int8[]) as u(seq)
       join epcis_event x on x.group_id = $1::uuid and x.source like 'entry|' || u.seq || '|%'
      where not exists (select from epcis_event w
                         where w.group_id = x.group_id and w.event_id = x.event_id and w.error_declared_at is not null)
      order by x.event_no`,
    [tx.groupId, seqs],
  );
}

export async function findToldBySource(tx: Tx, sources: readonly string[]): Promise<Map<string, ToldRow>> {
  if (sources.length === 0) return new Map();
  const rows = await tx.query<ToldRow>(
    `select x.source, x.site_ids as "siteIds", x.lot_ids as "lotIds", x.dispatch_id as "dispatchId", x.body as event
       from epcis_event x where x.group_id = $1::uuid and x.source = any($2::text[])`,
    [tx.groupId, sources],
  );
  return new Map(rows.map((row) => [row.source, row]));
}
