/** SQL of yields: batches that were complete at a cut, what went through them by then. */
import type { Tx } from '../../../platform/db/db.ts';
import type { Cut } from '../../ledger/index.ts';

export interface YieldBatchRow {
  readonly batchId: string;
  readonly code: string;
  readonly siteId: string;
  readonly siteCode: string;
  readonly siteName: string;
  readonly recipeId: string;
  readonly recipeCode: string;
  readonly recipeVersion: number;
  readonly itemName: string;
  readonly completedAt: Date;
  /** the site's date */
  readonly completedOn: string;
  /** number of the completion among money facts; 0: before they had any */
  readonly completedNo: number;
  /** in the period; false: only history of one that is */
  readonly within: boolean;
  readonly expectedYieldPpm: number;
  readonly gainsMg: Readonly<Record<string, number>>;
  readonly lossesMg: Readonly<Record<string, number>>;
}

const FACTS = `b.batch_id as "batchId", b.code, b.site_id as "siteId", s.code as "siteCode", s.name as "siteName", b.recipe_id as "recipeId",
  r.code as "recipeCode", b.recipe_version as "recipeVersion", i.name as "itemName", b.completed_at as "completedAt",
  b.completed_no as "completedNo",
  (b.completed_at at time zone s.time_zone)::date as "completedOn", b.expected_yield_ppm as "expectedYieldPpm",
  coalesce((select json_object_agg(g.kind, g.mass_mg) from batch_gain g
             where g.group_id = b.group_id and g.batch_id = b.batch_id), '{}') as "gainsMg",
  coalesce((select json_object_agg(l.kind, l.mass_mg) from batch_loss l
             where l.group_id = b.group_id and l.batch_id = b.batch_id), '{}') as "lossesMg"`;
const JOINED = `join site s on s.group_id = b.group_id and s.site_id = b.site_id
       join recipe r on r.group_id = b.group_id and r.recipe_id = b.recipe_id
       join item i on i.group_id = b.group_id and i.item_id = b.item_id`;

export interface YieldsAsked {
  /** 'YYYY-MM-DD', both inside */
  readonly fromDate: string;
  readonly toDate: string;
  /** null: all of the group */
  readonly siteIds: readonly string[] | null;
  readonly recipeId: string | null;
}

/** Batches completed in the period and, of the same recipes at the same sites, up to `lookBack` before it; in order within recipe and site, at most `limit`. */
export async function listYieldBatches(
  tx: Tx,
  { fromDate, toDate, siteIds, recipeId }: YieldsAsked,
  cut: Cut,
  { lookBack, limit }: { readonly lookBack: number; readonly limit: number },
): Promise<YieldBatchRow[]> {
  return tx.query<YieldBatchRow>(
    `with done as (
       select b.batch_id, b.recipe_id, b.site_id, b.completed_at,
              (b.completed_at at time zone s.time_zone)::date >= $2::date as within
         from batch b
         join site s on s.group_id = b.group_id and s.site_id = b.site_id
        where b.group_id = $1::uuid and b.completed_no <= $6::int8
          and (b.completed_at at time zone s.time_zone)::date <= $3::date
          and ($4::uuid[] is null or b.site_id = any($4::uuid[])) and ($5::uuid is null or b.recipe_id = $5::uuid)
     ), ranked as (
       select d.batch_id, d.within,
              bool_or(d.within) over (partition by d.recipe_id, d.site_id) as wanted,
              row_number() over (partition by d.recipe_id, d.site_id, d.within order by d.completed_at desc, d.batch_id desc) as back
         from done d
     )
     select ${FACTS}, k.within
       from ranked k
       join batch b on b.group_id = $1::uuid and b.batch_id = k.batch_id
       ${JOINED}
      where k.wanted and (k.within or k.back <= $7::int)
      order by r.code, s.code, b.completed_at, b.batch_id
      limit $8::int`,
    [tx.groupId, fromDate, toDate, siteIds, recipeId, cut.moneyNo, lookBack, limit],
  );
}

/** One recipe at one site. */
export interface Stream {
  readonly recipeId: string;
  readonly siteId: string;
}

/** Complete batches of a recipe at a site from the given one on, and up to `lookBack` before it, in order. */
export async function listStreamBatches(
  tx: Tx,
  { recipeId, siteId }: Stream,
  fromBatchId: string,
  lookBack: number,
): Promise<YieldBatchRow[]> {
  return tx.query<YieldBatchRow>(
    `with first as (
       select f.completed_at, f.batch_id from batch f where f.group_id = $1::uuid and f.batch_id = $4::uuid
     ), before as (
       select b.batch_id, false as within
         from batch b, first f
        where b.group_id = $1::uuid and b.recipe_id = $2::uuid and b.site_id = $3::uuid and b.state = 'completed'
          and (b.completed_at, b.batch_id) < (f.completed_at, f.batch_id)
        order by b.completed_at desc, b.batch_id desc limit $5::int
     ), wanted as (
       select x.batch_id, x.within from before x
       union all
       select b.batch_id, true
         from batch b, first f
        where b.group_id = $1::uuid and b.recipe_id = $2::uuid and b.site_id = $3::uuid and b.state = 'completed'
          and (b.completed_at, b.batch_id) >= (f.completed_at, f.batch_id)
     )
     select ${FACTS}, w.within
       from wanted w
       join batch b on b.group_id = $1::uuid and b.batch_id = w.batch_id
       ${JOINED}
      order by b.completed_at, b.batch_id`,
    [tx.groupId, recipeId, siteId, fromBatchId, lookBack],
  );
}
