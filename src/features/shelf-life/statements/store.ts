/** SQL on control_factor_statement and item_model_validation. */
import type { ControlFactor } from '../../../domain/limits/controls.ts';
import type { ItemModel } from '../../../domain/limits/shapes.ts';
import type { RateModel } from '../../../domain/life/relative-rates.ts';
import type { Tx } from '../../../platform/db/db.ts';

export interface StatementRow extends ControlFactor {
  readonly statementId: string;
  readonly batchId: string;
  readonly document: string | null;
  /** the lethality check that it rests on; null: on what the person says */
  readonly checkId: string | null;
  readonly recordedAt: Date;
  readonly recordedBy: string;
}

/**
 * Those that count. One that rests on checks counts no more once a lethality check of the batch was corrected after it was signed: somebody
 * has to look again.
 */
export async function listControlFactors(tx: Tx, batchIds: readonly string[]): Promise<StatementRow[]> {
  return tx.query<StatementRow>(
    `select s.statement_id as "statementId", s.batch_id as "batchId", s.factor, s.value::float8 as value, s.minutes::float8 as minutes,
            s.signed_by as "signedBy", s.document, s.check_id as "checkId", s.recorded_at as "recordedAt", s.recorded_by as "recordedBy"
       from control_factor_statement s
      where s.group_id = $1::uuid and s.batch_id = any($2::uuid[])
        and (s.check_id is null or not exists (
              select from process_check k
                join process_check n on n.group_id = k.group_id and n.supersedes_check_id = k.check_id
               where k.group_id = s.group_id and k.batch_id = s.batch_id and k.kind = 'lethality' and n.recorded_at >= s.recorded_at))
      order by s.recorded_at, s.statement_id`,
    [tx.groupId, batchIds],
  );
}

/** The batch of a lethality check, when somebody signed for heat that checks of it show. */
export async function listBatchesSigned(tx: Tx, checkId: string): Promise<string[]> {
  const rows = await tx.query<{ batchId: string }>(
    `select distinct s.batch_id as "batchId"
       from process_check k
       join control_factor_statement s on s.group_id = k.group_id and s.batch_id = k.batch_id and s.check_id is not null
      where k.group_id = $1::uuid and k.check_id = $2::uuid and k.kind = 'lethality'`,
    [tx.groupId, checkId],
  );
  return rows.map((row) => row.batchId);
}

export async function insertControlFactor(tx: Tx, row: StatementRow): Promise<void> {
  await tx.query(
    `insert into control_factor_statement (group_id, statement_id, batch_id, factor, value, minutes, signed_by, document, check_id,
            recorded_at, recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::text, $5::numeric, $6::numeric, $7::text, $8::text, $9::uuid, $10::timestamptz, $11::uuid)`,
    [
      tx.groupId,
      row.statementId,
      row.batchId,
      row.factor,
      row.value,
      row.minutes,
      row.signedBy,
      row.document,
      row.checkId,
      row.recordedAt,
      row.recordedBy,
    ],
  );
}

export interface BatchRow {
  readonly batchId: string;
  readonly siteId: string;
  readonly jurisdiction: string;
}

export async function findBatch(tx: Tx, batchId: string): Promise<BatchRow | null> {
  const rows = await tx.query<BatchRow>(
    `select b.batch_id as "batchId", b.site_id as "siteId", s.jurisdiction
       from batch b join site s on s.group_id = b.group_id and s.site_id = b.site_id
      where b.group_id = $1::uuid and b.batch_id = $2::uuid`,
    [tx.groupId, batchId],
  );
  return rows[0] ?? null;
}

export interface ValidationRow {
  readonly validationId: string;
  readonly itemId: string;
  readonly version: number;
  /** null: withdrawn */
  readonly model: RateModel | null;
  readonly referenceC: number | null;
  readonly referenceLifeH: number | null;
  readonly validatedBy: string;
  readonly basis: ItemModel['basis'];
  readonly document: string | null;
  readonly recordedAt: Date;
  readonly recordedBy: string;
}

/** What holds now, by item. */
export async function findValidations(tx: Tx, itemIds: readonly string[]): Promise<Map<string, ValidationRow>> {
  const rows = await tx.query<ValidationRow>(
    `select distinct on (v.item_id) v.validation_id as "validationId", v.item_id as "itemId", v.version, v.model,
            v.reference_centi_c / 100.0::float8 as "referenceC", v.reference_life_h::float8 as "referenceLifeH",
            v.validated_by as "validatedBy", v.basis, v.document, v.recorded_at as "recordedAt", v.recorded_by as "recordedBy"
       from item_model_validation v
      where v.group_id = $1::uuid and v.item_id = any($2::uuid[])
      order by v.item_id, v.version desc`,
    [tx.groupId, itemIds],
  );
  return new Map(rows.map((row) => [row.itemId, row]));
}

export async function insertValidation(tx: Tx, row: ValidationRow): Promise<void> {
  await tx.query(
    `insert into item_model_validation (group_id, validation_id, item_id, version, model, reference_centi_c, reference_life_h,
            validated_by, basis, document, recorded_at, recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::int, $5::jsonb, $6::int2, $7::numeric, $8::text, $9::text, $10::text,
             $11::timestamptz, $12::uuid)`,
    [
      tx.groupId,
      row.validationId,
      row.itemId,
      row.version,
      row.model === null ? null : JSON.stringify(row.model),
      row.referenceC === null ? null : Math.round(row.referenceC * 100),
      row.referenceLifeH,
      row.validatedBy,
      row.basis,
      row.document,
      row.recordedAt,
      row.recordedBy,
    ],
  );
}
