/** SQL on captured documents and what they put down. */
import type { Announcement, Unused } from '../../../domain/epcis/announced.ts';
import type { Tx } from '../../../platform/db/db.ts';

/** Why an error declaration was not used; should its event come later, it is found again by these words. */
export const NOTHING_ANNOUNCED = 'it takes back an event that announced nothing here';

interface CaptureError {
  readonly type: string;
  readonly title: string;
  readonly status: number;
  readonly detail: string;
  readonly pointer: string;
}

export interface CaptureRow {
  readonly captureId: string;
  readonly recordedAtMs: number;
  readonly capturedBy: string;
  /** null: all */
  readonly siteIds: readonly string[] | null;
  readonly errorBehaviour: 'rollback' | 'proceed';
  readonly contentHash: Buffer;
  readonly eventCount: number;
  readonly errors: readonly CaptureError[];
  readonly unused: readonly Unused[];
  readonly announcedDeliveryIds: readonly string[];
}

export async function findCapture(tx: Tx, captureId: string): Promise<CaptureRow | null> {
  const rows = await tx.query<CaptureRow>(
    `select c.capture_id as "captureId", (extract(epoch from c.recorded_at) * 1000)::float8 as "recordedAtMs",
            c.captured_by as "capturedBy", c.site_ids as "siteIds", c.error_behaviour as "errorBehaviour",
            c.content_hash as "contentHash", c.event_count as "eventCount", c.errors, c.unused,
            array(select d.announced_delivery_id from announced_delivery d
                   where d.group_id = c.group_id and d.capture_id = c.capture_id
                   order by d.shipped_at, d.announced_delivery_id) as "announcedDeliveryIds"
       from epcis_capture c where c.group_id = $1::uuid and c.capture_id = $2::uuid`,
    [tx.groupId, captureId],
  );
  return rows[0] ?? null;
}

export async function insertCapture(tx: Tx, row: CaptureRow, document: Buffer): Promise<void> {
  await tx.query(
    `insert into epcis_capture (group_id, capture_id, recorded_at, captured_by, site_ids, error_behaviour, content_hash, document,
            event_count, errors, unused)
     values ($1::uuid, $2::uuid, to_timestamp($3::float8 / 1000), $4::uuid, $5::uuid[], $6::text, $7::bytea, $8::bytea, $9::int,
            $10::jsonb, $11::jsonb)`,
    [
      tx.groupId,
      row.captureId,
      row.recordedAtMs,
      row.capturedBy,
      row.siteIds,
      row.errorBehaviour,
      row.contentHash,
      document,
      row.eventCount,
      JSON.stringify(row.errors),
      JSON.stringify(row.unused),
    ],
  );
}

/** Sites by GLN; a number that two sites have is none of them. */
export async function findSitesByGln(tx: Tx, glns: readonly string[]): Promise<Map<string, string>> {
  const rows = await tx.query<{ gln: string; siteId: string }>(
    `select s.gln, min(s.site_id::text) as "siteId" from site s
      where s.group_id = $1::uuid and s.gln = any($2::text[]) group by s.gln having count(*) = 1`,
    [tx.groupId, glns],
  );
  return new Map(rows.map((row) => [row.gln, row.siteId]));
}

export interface KnownEvent {
  readonly eventId: string;
  readonly announcedDeliveryId: string;
  readonly captureId: string;
  readonly toGln: string | null;
  readonly withdrawn: boolean;
}

export async function findByEventIds(tx: Tx, eventIds: readonly string[]): Promise<Map<string, KnownEvent>> {
  const rows = await tx.query<KnownEvent>(
    `select d.event_id as "eventId", d.announced_delivery_id as "announcedDeliveryId", d.capture_id as "captureId",
            d.to_gln as "toGln", w.announced_delivery_id is not null as withdrawn
       from announced_delivery d
       left join announced_delivery_withdrawal w on w.group_id = d.group_id and w.announced_delivery_id = d.announced_delivery_id
      where d.group_id = $1::uuid and d.event_id = any($2::text[])`,
    [tx.groupId, eventIds],
  );
  return new Map(rows.map((row) => [row.eventId, row]));
}

/** One capture of a group at a time, so that two documents with one event do not both announce it. */
export async function lockCaptures(tx: Tx): Promise<void> {
  await tx.query(`select pg_advisory_xact_lock(hashtextextended('epcis-capture:' || $1::text, 0))`, [tx.groupId]);
}

export interface NewDelivery extends Announcement {
  readonly announcedDeliveryId: string;
  readonly eventId: string;
}

export async function insertDeliveries(
  tx: Tx,
  captureId: string,
  deliveries: readonly NewDelivery[],
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into announced_delivery (group_id, announced_delivery_id, capture_id, event_id, shipped_at, recorded_at, from_gln, to_gln,
            despatch_advice, purchase_order, ssccs, closed_ssccs)
     select $1::uuid, r.id, $2::uuid, r.event_id, to_timestamp(r.shipped_at_ms / 1000), to_timestamp($4::float8 / 1000), r.from_gln,
            r.to_gln, r.despatch_advice, r.purchase_order, array(select jsonb_array_elements_text(r.ssccs)),
            array(select jsonb_array_elements_text(r.closed_ssccs))
       from jsonb_to_recordset($3::jsonb) as r(id uuid, event_id text, shipped_at_ms float8, from_gln text, to_gln text,
            despatch_advice text, purchase_order text, ssccs jsonb, closed_ssccs jsonb)`,
    [
      tx.groupId,
      captureId,
      JSON.stringify(
        deliveries.map((one) => ({
          id: one.announcedDeliveryId,
          event_id: one.eventId,
          shipped_at_ms: one.shippedAtMs,
          from_gln: one.fromGln,
          to_gln: one.toGln,
          despatch_advice: one.despatchAdvice,
          purchase_order: one.purchaseOrder,
          ssccs: one.ssccs,
          closed_ssccs: one.closedSsccs,
        })),
      ),
      nowMs,
    ],
  );
}

export async function insertDeliveryLines(tx: Tx, deliveries: readonly NewDelivery[]): Promise<void> {
  const lines = deliveries.flatMap((delivery) =>
    delivery.lines.map((line, at) => ({
      id: delivery.announcedDeliveryId,
      line_no: at + 1,
      epc: line.epc,
      gtin: line.gtin,
      lot_code: line.lotCode,
      sscc: line.sscc,
      quantity: line.quantity,
      uom: line.uom,
      use_by_date: line.useByDate,
      best_before_date: line.bestBeforeDate,
    })),
  );
  await tx.query(
    `insert into announced_delivery_line (group_id, announced_delivery_id, line_no, epc, gtin, lot_code, sscc, quantity, uom, use_by_date,
            best_before_date)
     select $1::uuid, r.id, r.line_no, r.epc, r.gtin, r.lot_code, r.sscc, r.quantity, r.uom, r.use_by_date, r.best_before_date
       from jsonb_to_recordset($2::jsonb) as r(id uuid, line_no int, epc text, gtin text, lot_code text, sscc text, quantity numeric,
            uom text, use_by_date date, best_before_date date)`,
    [tx.groupId, JSON.stringify(lines)],
  );
}

export interface NewWithdrawal {
  readonly announcedDeliveryId: string;
  readonly declaredAtMs: number;
  readonly reason: string | null;
}

export async function insertWithdrawals(
  tx: Tx,
  captureId: string,
  withdrawals: readonly NewWithdrawal[],
): Promise<void> {
  await tx.query(
    `insert into announced_delivery_withdrawal (group_id, announced_delivery_id, capture_id, declared_at, reason)
     select $1::uuid, r.id, $2::uuid, to_timestamp(r.declared_at_ms / 1000), r.reason
       from jsonb_to_recordset($3::jsonb) as r(id uuid, declared_at_ms float8, reason text)
     on conflict do nothing`,
    [
      tx.groupId,
      captureId,
      JSON.stringify(
        withdrawals.map((one) => ({
          id: one.announcedDeliveryId,
          declared_at_ms: one.declaredAtMs,
          reason: one.reason,
        })),
      ),
    ],
  );
}

export interface EarlyDeclaration {
  readonly eventId: string;
  readonly at: number;
  readonly document: Buffer;
  /** for which its sender could act; null: all */
  readonly siteIds: readonly string[] | null;
}

/** Error declarations of events that were not known yet, with the documents that said so; first come first. */
export async function findEarlyDeclarations(tx: Tx, eventIds: readonly string[]): Promise<EarlyDeclaration[]> {
  return tx.query<EarlyDeclaration>(
    `select u.value->>'eventId' as "eventId", (u.value->>'at')::int as at, c.document, c.site_ids as "siteIds"
       from epcis_capture c cross join lateral jsonb_array_elements(c.unused) as u(value)
      where c.group_id = $1::uuid and u.value->>'why' = $3::text and u.value->>'eventId' = any($2::text[])
      order by c.recorded_at, c.capture_id, at limit 1000`,
    [tx.groupId, eventIds, NOTHING_ANNOUNCED],
  );
}
