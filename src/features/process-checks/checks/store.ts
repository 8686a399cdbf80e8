/** SQL that writes process_check, process_check_series and corrective_action. */
import type { AboutKind, HeldAgainst } from '../../../domain/process-checks/consequences.ts';
import type { KeptMeasure } from '../../../domain/process-checks/measured.ts';
import type { CheckKind, Judgement, SeriesPoint, Stage } from '../../../domain/process-checks/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';

export interface NewCheck {
  readonly checkId: string;
  readonly siteId: string;
  readonly stage: Stage;
  readonly kind: CheckKind;
  readonly controlPoint: string | null;
  readonly about: { readonly kind: AboutKind; readonly id: string };
  readonly batchId: string | null;
  readonly lotId: string | null;
  readonly packingRunId: string | null;
  readonly goodsReceiptId: string | null;
  readonly dispatchId: string | null;
  readonly placeId: string | null;
  readonly machineId: string | null;
  readonly instrumentId: string | null;
  readonly occurredAtMs: number;
  /** the site's date */
  readonly occurredOn: string;
  readonly recordedBy: string;
  readonly doneBy: string;
  readonly measured: KeptMeasure;
  readonly limits: HeldAgainst;
  readonly judgement: Judgement;
  readonly documentHref: string | null;
  readonly note: string | null;
  readonly supersedesCheckId: string | null;
  readonly correctionReason: string | null;
}

export async function insertCheck(tx: Tx, row: NewCheck, nowMs: number): Promise<void> {
  const { result, reasons, numbers } = row.judgement;
  await tx.query(
    `insert into process_check (group_id, check_id, site_id, stage, kind, control_point, about_kind, about_id, batch_id, lot_id,
            packing_run_id, goods_receipt_id, dispatch_id, place_id, machine_id, instrument_id, occurred_at, occurred_on, recorded_at,
            recorded_by, done_by, measured, limits, result, judgement, document_href, note, supersedes_check_id, correction_reason)
     values ($1::uuid, $2::uuid, $3::uuid, $4::text, $5::text, $6::text, $7::text, $8::uuid, $9::uuid, $10::uuid, $11::uuid,
            $12::uuid, $13::uuid, $14::uuid, $15::uuid, $16::uuid, to_timestamp($17::float8 / 1000), $18::date,
            to_timestamp($19::float8 / 1000), $20::uuid, $21::uuid, $22::jsonb, $23::jsonb, $24::text, $25::jsonb, $26::text,
            $27::text, $28::uuid, $29::text)`,
    [
      tx.groupId,
      row.checkId,
      row.siteId,
      row.stage,
      row.kind,
      row.controlPoint,
      row.about.kind,
      row.about.id,
      row.batchId,
      row.lotId,
      row.packingRunId,
      row.goodsReceiptId,
      row.dispatchId,
      row.placeId,
      row.machineId,
      row.instrumentId,
      row.occurredAtMs,
      row.occurredOn,
      nowMs,
      row.recordedBy,
      row.doneBy,
      JSON.stringify(row.measured),
      JSON.stringify(row.limits),
      result,
      JSON.stringify({ reasons, numbers }),
      row.documentHref,
      row.note,
      row.supersedesCheckId,
      row.correctionReason,
    ],
  );
}

export async function insertSeries(tx: Tx, checkId: string, points: readonly SeriesPoint[]): Promise<void> {
  await tx.query(
    `insert into process_check_series (group_id, check_id, minutes, temperatures_c)
     values ($1::uuid, $2::uuid, $3::float8[], $4::float8[])`,
    [tx.groupId, checkId, points.map(({ minute }) => minute), points.map(({ temperatureC }) => temperatureC)],
  );
}

export interface NewAction {
  readonly actionId: string;
  readonly checkId: string;
  readonly action: string;
  readonly closes: boolean;
  readonly occurredAtMs: number;
  readonly recordedBy: string;
}

export async function insertAction(tx: Tx, row: NewAction, nowMs: number): Promise<void> {
  await tx.query(
    `insert into corrective_action (group_id, action_id, check_id, action, closes, occurred_at, recorded_at, recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::text, $5::boolean, to_timestamp($6::float8 / 1000), to_timestamp($7::float8 / 1000),
            $8::uuid)`,
    [tx.groupId, row.actionId, row.checkId, row.action, row.closes, row.occurredAtMs, nowMs, row.recordedBy],
  );
}
