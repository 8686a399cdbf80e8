/** SQL on cost_rate. */
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';

export interface CostRateRow {
  readonly costRateId: string;
  readonly kind: 'labour' | 'energy' | 'overhead' | 'packaging';
  readonly siteId: string | null;
  readonly recipeId: string | null;
  readonly perBatchMinor: number | null;
  readonly perKgMinor: number | null;
  readonly fromDate: string;
  readonly throughDate: string | null;
  readonly note: string | null;
  readonly moneyNo: number;
  readonly recordedBy: string;
}

export async function insertCostRate(tx: Tx, row: CostRateRow, nowMs: number): Promise<void> {
  await tx.query(
    `insert into cost_rate (group_id, cost_rate_id, kind, site_id, recipe_id, per_batch_minor, per_kg_minor, from_date, through_date, note,
            money_no, recorded_by, recorded_at)
     values ($1::uuid, $2::uuid, $3::text, $4::uuid, $5::uuid, $6::int8, $7::int8, $8::date, $9::date, $10::text, $11::int8, $12::uuid,
            to_timestamp($13::float8 / 1000))`,
    [
      tx.groupId,
      row.costRateId,
      row.kind,
      row.siteId,
      row.recipeId,
      row.perBatchMinor,
      row.perKgMinor,
      row.fromDate,
      row.throughDate,
      row.note,
      row.moneyNo,
      row.recordedBy,
      nowMs,
    ],
  );
}

export interface ListedRateRow extends CostRateRow {
  readonly recordedAt: Date;
  readonly replaced: boolean;
}

/** Newest first, one more than the page holds. */
export async function listCostRateRows(
  tx: Tx,
  scope: SiteScope,
  filter: { readonly kind: string | null; readonly siteId: string | null; readonly recipeId: string | null },
  page: Page,
): Promise<ListedRateRow[]> {
  return tx.query<ListedRateRow>(
    `select r.cost_rate_id as "costRateId", r.kind, r.site_id as "siteId", r.recipe_id as "recipeId", r.per_batch_minor as "perBatchMinor",
            r.per_kg_minor as "perKgMinor", r.from_date as "fromDate", r.through_date as "throughDate", r.note, r.money_no as "moneyNo",
            r.recorded_by as "recordedBy", r.recorded_at as "recordedAt",
            exists (select from cost_rate n
                     where n.group_id = r.group_id and n.kind = r.kind and n.site_id is not distinct from r.site_id
                       and n.recipe_id is not distinct from r.recipe_id and n.from_date = r.from_date and n.money_no > r.money_no) as replaced
       from cost_rate r
      where r.group_id = $1::uuid and ($2::boolean or r.site_id is null or r.site_id = any($3::uuid[]))
        and ($4::text is null or r.kind = $4::text) and ($5::uuid is null or r.site_id = $5::uuid)
        and ($6::uuid is null or r.recipe_id = $6::uuid)
        and ($7::int8 is null or r.money_no < $7::int8)
      order by r.money_no desc limit $8::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.kind,
      filter.siteId,
      filter.recipeId,
      page.after?.[0] ?? null,
      page.limit + 1,
    ],
  );
}
