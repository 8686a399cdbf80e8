/** SQL on process_plan and batch_process_plan. */
import type { ProcessPlan } from '../../../domain/process-checks/shapes.ts';
import type { StoredPlan } from '../../../domain/process-checks/plans.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Page } from '../../../platform/http/paging.ts';

export interface PlanRow {
  readonly planId: string;
  readonly recipeId: string;
  readonly version: number;
  readonly content: StoredPlan;
  readonly note: string | null;
  readonly recordedAt: Date;
  readonly recordedBy: string;
}

const COLUMNS = `p.plan_id as "planId", p.recipe_id as "recipeId", p.version, p.content, p.note, p.recorded_at as "recordedAt",
  p.recorded_by as "recordedBy"`;

export async function findPlan(tx: Tx, planId: string): Promise<PlanRow | null> {
  const rows = await tx.query<PlanRow>(
    `select ${COLUMNS} from process_plan p where p.group_id = $1::uuid and p.plan_id = $2::uuid`,
    [tx.groupId, planId],
  );
  return rows[0] ?? null;
}

/** The newest version for a recipe. */
export async function findNewestPlan(tx: Tx, recipeId: string): Promise<PlanRow | null> {
  const rows = await tx.query<PlanRow>(
    `select ${COLUMNS} from process_plan p
      where p.group_id = $1::uuid and p.recipe_id = $2::uuid
      order by p.version desc limit 1`,
    [tx.groupId, recipeId],
  );
  return rows[0] ?? null;
}

/** Versions of one recipe's plan, newest first, one more than the page holds. */
export async function listPlans(tx: Tx, recipeId: string, page: Page): Promise<PlanRow[]> {
  return tx.query<PlanRow>(
    `select ${COLUMNS} from process_plan p
      where p.group_id = $1::uuid and p.recipe_id = $2::uuid
        and ($3::int is null or p.version < $3::int)
      order by p.version desc limit $4::int`,
    [tx.groupId, recipeId, page.after?.[0] ?? null, page.limit + 1],
  );
}

export async function insertPlan(tx: Tx, row: PlanRow): Promise<void> {
  await tx.query(
    `insert into process_plan (group_id, plan_id, recipe_id, version, content, note, recorded_at, recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::int, $5::jsonb, $6::text, $7::timestamptz, $8::uuid)`,
    [
      tx.groupId,
      row.planId,
      row.recipeId,
      row.version,
      JSON.stringify(row.content),
      row.note,
      row.recordedAt,
      row.recordedBy,
    ],
  );
}

export interface BatchPlanRow {
  readonly batchId: string;
  readonly planId: string;
  readonly planVersion: number;
  readonly plan: ProcessPlan;
}

export async function findBatchPlans(tx: Tx, batchIds: readonly string[]): Promise<BatchPlanRow[]> {
  return tx.query<BatchPlanRow>(
    `select b.batch_id as "batchId", b.plan_id as "planId", b.plan_version as "planVersion", b.content as plan
       from batch_process_plan b
      where b.group_id = $1::uuid and b.batch_id = any($2::uuid[])`,
    [tx.groupId, batchIds],
  );
}

export async function insertBatchPlan(tx: Tx, row: BatchPlanRow): Promise<void> {
  await tx.query(
    `insert into batch_process_plan (group_id, batch_id, plan_id, plan_version, content)
     values ($1::uuid, $2::uuid, $3::uuid, $4::int, $5::jsonb)`,
    [tx.groupId, row.batchId, row.planId, row.planVersion, JSON.stringify(row.plan)],
  );
}

/** Where a batch is; null: there is no such batch. */
export async function findBatchSite(tx: Tx, batchId: string): Promise<string | null> {
  const rows = await tx.query<{ siteId: string }>(
    `select b.site_id as "siteId" from batch b where b.group_id = $1::uuid and b.batch_id = $2::uuid`,
    [tx.groupId, batchId],
  );
  return rows[0]?.siteId ?? null;
}
