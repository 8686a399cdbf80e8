/** SQL of batches, what went in and came out, and decisions. */
import type { Tx } from '../../platform/db/db.ts';
import type { SiteScope } from '../../platform/http/contract.ts';
import type { Page } from '../../platform/http/paging.ts';
import { NOT_REVERSED } from './store-inputs.ts';

export interface BatchRow {
  readonly batchId: string;
  readonly code: string;
  readonly siteId: string;
  readonly siteCode: string;
  readonly timeZone: string;
  readonly recipeId: string;
  readonly recipeVersion: number;
  readonly itemId: string;
  readonly expectedYieldPpm: number;
  readonly killStep: boolean;
  /** the process as it was when the batch was opened */
  readonly steps: readonly string[];
  readonly state: 'open' | 'completed';
  readonly startedAt: Date;
  readonly completedAt: Date | null;
  readonly version: number;
}

const COLUMNS = `b.batch_id as "batchId", b.code, b.site_id as "siteId", s.code as "siteCode", s.time_zone as "timeZone",
  b.recipe_id as "recipeId", b.recipe_version as "recipeVersion", b.item_id as "itemId",
  b.expected_yield_ppm as "expectedYieldPpm", b.kill_step as "killStep",
  coalesce(b.steps, (select r.steps from recipe r where r.group_id = b.group_id and r.recipe_id = b.recipe_id)) as steps, b.state, b.started_at as "startedAt",
  b.completed_at as "completedAt", b.version`;
const FROM = 'batch b join site s on s.group_id = b.group_id and s.site_id = b.site_id';

export async function findBatch(tx: Tx, batchId: string): Promise<BatchRow | null> {
  const rows = await tx.query<BatchRow>(
    `select ${COLUMNS} from ${FROM} where b.group_id = $1::uuid and b.batch_id = $2::uuid`,
    [tx.groupId, batchId],
  );
  return rows[0] ?? null;
}

/** Inputs, outputs, packing and decisions of one batch happen one after the other. */
export async function lockBatch(tx: Tx, batchId: string): Promise<BatchRow | null> {
  const rows = await tx.query<BatchRow>(
    `select ${COLUMNS} from ${FROM} where b.group_id = $1::uuid and b.batch_id = $2::uuid for update of b`,
    [tx.groupId, batchId],
  );
  return rows[0] ?? null;
}

export async function insertBatch(
  tx: Tx,
  row: Omit<BatchRow, 'siteCode' | 'timeZone' | 'startedAt' | 'completedAt' | 'state' | 'version'> & {
    startedAtMs: number;
  },
): Promise<void> {
  await tx.query(
    `insert into batch (group_id, batch_id, code, site_id, recipe_id, recipe_version, item_id, expected_yield_ppm, kill_step,
            state, started_at, steps)
     values ($1::uuid, $2::uuid, $3::text, $4::uuid, $5::uuid, $6::int, $7::uuid, $8::int, $9::boolean, 'open',
            to_timestamp($10::float8 / 1000), $11::text[])`,
    [
      tx.groupId,
      row.batchId,
      row.code,
      row.siteId,
      row.recipeId,
      row.recipeVersion,
      row.itemId,
      row.expectedYieldPpm,
      row.killStep,
      row.startedAtMs,
      row.steps,
    ],
  );
}

export async function completeBatch(
  tx: Tx,
  batchId: string,
  completedAtMs: number,
  completedNo: number,
): Promise<void> {
  await tx.query(
    `update batch b
        set state = 'completed', completed_at = to_timestamp($3::float8 / 1000), completed_no = $4::int8, version = b.version + 1
      where b.group_id = $1::uuid and b.batch_id = $2::uuid`,
    [tx.groupId, batchId, completedAtMs, completedNo],
  );
}

interface KindOfMass {
  readonly kind: string;
  readonly massG: number;
}

interface Loss extends KindOfMass {
  readonly destination?: string | undefined;
  readonly inedibleMassG?: number | undefined;
}

export async function insertLosses(tx: Tx, batchId: string, losses: readonly Loss[]): Promise<void> {
  await tx.query(
    `insert into batch_loss (group_id, batch_id, kind, mass_mg, destination, inedible_mass_mg)
     select $1::uuid, $2::uuid, r.kind, r."massG" * 1000, r.destination, r."inedibleMassG" * 1000
       from jsonb_to_recordset($3::jsonb) as r(kind text, "massG" int8, destination text, "inedibleMassG" int8)`,
    [tx.groupId, batchId, JSON.stringify(losses)],
  );
}

export async function insertGains(tx: Tx, batchId: string, gains: readonly KindOfMass[]): Promise<void> {
  await tx.query(
    `insert into batch_gain (group_id, batch_id, kind, mass_mg)
     select $1::uuid, $2::uuid, r.kind, r."massG" * 1000 from jsonb_to_recordset($3::jsonb) as r(kind text, "massG" int8)`,
    [tx.groupId, batchId, JSON.stringify(gains)],
  );
}

export async function listBatchRows(
  tx: Tx,
  scope: SiteScope,
  filter: { siteId: string | null; state: string | null },
  page: Page,
): Promise<BatchRow[]> {
  return tx.query<BatchRow>(
    `select ${COLUMNS} from ${FROM}
      where b.group_id = $1::uuid and ($2::boolean or b.site_id = any($3::uuid[]))
        and ($4::uuid is null or b.site_id = $4::uuid)
        and ($5::text is null or b.state = $5::text)
        and ($6::timestamptz is null or (b.started_at, b.batch_id) > ($6::timestamptz, $7::uuid))
      order by b.started_at, b.batch_id
      limit $8::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.state,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      page.limit + 1,
    ],
  );
}

export interface BornRow {
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
  readonly origin: 'produced' | 'packed';
  readonly loadNo: number | null;
  readonly packingRunId: string | null;
  readonly quantity: number;
  readonly unit: string;
  readonly massMg: number;
  readonly useByAt: Date | null;
  readonly useByDate: string | null;
  readonly awaiting: boolean;
  readonly rejected: boolean;
  readonly forRework: boolean;
}

/** An open hold of that kind reaches the lot `l`. */
const held = (
  kind: string,
) => `exists (select from hold_reach hr join hold h on h.group_id = hr.group_id and h.hold_id = hr.hold_id
                     where hr.group_id = l.group_id and hr.lot_id = l.lot_id and h.kind = '${kind}' and h.lifted_at is null)`;

/** Loads and packs of the batch whose birth was not reversed. */
export async function listBorn(tx: Tx, batchId: string): Promise<BornRow[]> {
  return tx.query<BornRow>(
    `select l.lot_id as "lotId", l.code as "lotCode", i.name as "itemName", l.origin, l.load_no as "loadNo",
            l.packing_run_id as "packingRunId", l.quantity, l.unit, l.mass_mg as "massMg",
            nullif(s.use_by_at, 'infinity') as "useByAt", s.use_by_date as "useByDate",
            ${held('awaiting-release')} as awaiting, ${held('rejected')} as rejected,
            ${held('for-rework')} as "forRework"
       from entry e
       join posting p on p.group_id = e.group_id and p.seq = e.seq
       join lot l on l.group_id = p.group_id and l.lot_id = p.lot_id
       join lot_state s on s.group_id = l.group_id and s.lot_id = l.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
      where e.group_id = $1::uuid and e.batch_id = $2::uuid and e.kind in ('batch-output', 'packing') and ${NOT_REVERSED}
        and ((e.kind = 'batch-output' and l.batch_id = e.batch_id) or (e.kind = 'packing' and l.packing_run_id = e.packing_run_id))
      group by l.group_id, l.lot_id, l.code, i.name, l.origin, l.load_no, l.packing_run_id, l.quantity, l.unit, l.mass_mg, s.use_by_at, s.use_by_date
      order by l.origin desc, l.load_no, l.code`,
    [tx.groupId, batchId],
  );
}

interface LossRow {
  readonly kind: string;
  readonly massMg: number;
  readonly destination: string | null;
  readonly inedibleMassMg: number | null;
}

export async function listLosses(tx: Tx, batchId: string): Promise<LossRow[]> {
  return tx.query<LossRow>(
    `select b.kind, b.mass_mg as "massMg", b.destination, b.inedible_mass_mg as "inedibleMassMg"
       from batch_loss b where b.group_id = $1::uuid and b.batch_id = $2::uuid order by b.kind`,
    [tx.groupId, batchId],
  );
}

export async function listGains(tx: Tx, batchId: string): Promise<{ kind: string; massMg: number }[]> {
  return tx.query(
    `select b.kind, b.mass_mg as "massMg" from batch_gain b where b.group_id = $1::uuid and b.batch_id = $2::uuid order by b.kind`,
    [tx.groupId, batchId],
  );
}

export interface DecisionRow {
  readonly outcome: 'released' | 'rejected';
  readonly lotIds: string[];
  readonly reason: string | null;
  readonly decidedBy: string;
  readonly deputyId: string | null;
  readonly decidedAt: Date;
  /** because the checks said so */
  readonly automatic: boolean;
  /** points that were missing or had failed */
  readonly accepted: readonly { readonly controlPoint: string; readonly reason: string }[];
  readonly disposition: 'discard' | 'rework' | null;
}

export async function listDecisions(tx: Tx, batchId: string): Promise<DecisionRow[]> {
  return tx.query<DecisionRow>(
    `select d.outcome, d.lot_ids as "lotIds", d.reason, d.decided_by as "decidedBy", d.deputy_id as "deputyId",
            d.decided_at as "decidedAt", d.automatic, d.accepted,
            case when d.outcome = 'rejected' then coalesce(d.disposition, 'discard') end as disposition
       from batch_decision d where d.group_id = $1::uuid and d.batch_id = $2::uuid order by d.decided_at, d.decision_no`,
    [tx.groupId, batchId],
  );
}

export async function insertDecision(
  tx: Tx,
  row: Omit<DecisionRow, 'decidedAt' | 'lotIds'> & {
    readonly decisionId: string;
    readonly batchId: string;
    readonly lotIds: readonly string[];
  },
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into batch_decision (group_id, decision_id, batch_id, outcome, lot_ids, reason, decided_by, deputy_id, decided_at,
            automatic, accepted, disposition)
     values ($1::uuid, $2::uuid, $3::uuid, $4::text, $5::uuid[], $6::text, $7::uuid, $8::uuid, to_timestamp($9::float8 / 1000),
            $10::boolean, $11::jsonb, $12::text)`,
    [
      tx.groupId,
      row.decisionId,
      row.batchId,
      row.outcome,
      row.lotIds,
      row.reason,
      row.decidedBy,
      row.deputyId,
      nowMs,
      row.automatic,
      JSON.stringify(row.accepted),
      row.disposition,
    ],
  );
}
