/** SQL of what a machine did: its passes, its clean-downs, what they were found to have left behind. */
import { LOOK_BACK_RUNS } from '../../domain/carry-over.ts';
import type { Tx } from '../../platform/db/db.ts';
import type { Page } from '../../platform/http/paging.ts';

export interface PassRow {
  readonly packingRunId: string;
  readonly lineNo: number;
  readonly finishedAt: Date;
  readonly changedOverAt: Date;
  readonly lots: readonly { readonly lotId: string; readonly code: string }[];
  readonly allergens: readonly string[];
  readonly raw: boolean;
}

/** The runs of a machine that stand, as many before a time as matter to what comes after it, and as many after it as it matters to. */
export async function listPasses(tx: Tx, equipmentId: string, fromMs: number): Promise<PassRow[]> {
  return tx.query<PassRow>(
    `with standing as (
       select r.packing_run_id, r.finished_at from packing_run r
        where r.group_id = $1::uuid and r.equipment_id = $2::uuid
          and not exists (select from entry x where x.group_id = r.group_id and x.reverses_entry_id = r.packing_run_id)
     ), run as (
       (select b.* from standing b where b.finished_at < to_timestamp($3::float8 / 1000)
         order by b.finished_at desc, b.packing_run_id desc limit $4::int)
       union all
       (select a.* from standing a where a.finished_at >= to_timestamp($3::float8 / 1000)
         order by a.finished_at, a.packing_run_id limit $4::int + 1)
     )
     select f.packing_run_id as "packingRunId", min(f.line_no) as "lineNo", run.finished_at as "finishedAt",
            f.changed_over_at as "changedOverAt",
            jsonb_agg(distinct jsonb_build_object('lotId', l.lot_id, 'code', l.code)) as lots,
            coalesce(array_agg(distinct a.code) filter (where a.code is not null), '{}') as allergens,
            bool_or(coalesce(s.handling, l.handling) = 'raw') as raw
       from run
       join packing_fill f on f.group_id = $1::uuid and f.packing_run_id = run.packing_run_id
       join lot l on l.group_id = f.group_id and l.lot_id = f.pack_lot_id
       join lot_state s on s.group_id = l.group_id and s.lot_id = l.lot_id
       left join lateral unnest(s.allergens) as a(code) on true
      group by f.packing_run_id, run.finished_at, f.changed_over_at, f.from_lot_id, l.item_id`,
    [tx.groupId, equipmentId, fromMs, LOOK_BACK_RUNS],
  );
}

export async function listFullCleanDowns(tx: Tx, equipmentId: string, fromMs: number, toMs: number): Promise<Date[]> {
  const rows = await tx.query<{ occurredAt: Date }>(
    `select c.occurred_at as "occurredAt" from clean_down c
      where c.group_id = $1::uuid and c.equipment_id = $2::uuid and c.kind = 'full'
        and c.occurred_at between to_timestamp($3::float8 / 1000) and to_timestamp($4::float8 / 1000)`,
    [tx.groupId, equipmentId, fromMs, toMs],
  );
  return rows.map((row) => row.occurredAt);
}

export interface ToldCarryOver {
  readonly status: 'open' | 'settled';
  readonly kind: string;
  readonly subject: string;
  readonly allergens: readonly string[];
}

/** Those that stand, and those that a person settled. */
export async function listToldCarryOvers(tx: Tx, siteId: string, lotIds: readonly string[]): Promise<ToldCarryOver[]> {
  return tx.query<ToldCarryOver>(
    `select f.status, f.kind, f.subject, f.detail -> 'allergens' as allergens
       from finding f
      where f.group_id = $1::uuid and f.site_id = $2::uuid and f.status <> 'cleared' and f.lot_id = any($3::uuid[])
        and f.kind in ('allergen-carry-over', 'raw-before-ready-to-eat')`,
    [tx.groupId, siteId, lotIds],
  );
}

export interface RunOnMachine {
  readonly equipmentId: string;
  readonly siteId: string;
  readonly startedAtMs: number;
}

export async function findRun(
  tx: Tx,
  packingRunId: string,
): Promise<(RunOnMachine & { readonly lotIds: readonly string[] }) | null> {
  const rows = await tx.query<RunOnMachine & { lotIds: string[] }>(
    `select r.equipment_id as "equipmentId", r.site_id as "siteId",
            (extract(epoch from r.started_at) * 1000)::int8 as "startedAtMs",
            array(select f.pack_lot_id from packing_fill f
                   where f.group_id = r.group_id and f.packing_run_id = r.packing_run_id order by f.line_no) as "lotIds"
       from packing_run r where r.group_id = $1::uuid and r.packing_run_id = $2::uuid`,
    [tx.groupId, packingRunId],
  );
  return rows[0] ?? null;
}

/** Where and when what came of these lots was packed. */
export async function listRunsBelow(tx: Tx, lotIds: readonly string[]): Promise<RunOnMachine[]> {
  return tx.query<RunOnMachine>(
    `with recursive down (lot_id) as (
       select unnest($2::uuid[])
       union
       select le.child_lot_id from down d join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = d.lot_id
     )
     select distinct r.equipment_id as "equipmentId", r.site_id as "siteId",
            (extract(epoch from r.started_at) * 1000)::int8 as "startedAtMs"
       from down d
       join lot l on l.group_id = $1::uuid and l.lot_id = d.lot_id
       join packing_run r on r.group_id = l.group_id and r.packing_run_id = l.packing_run_id
      order by 1, 3`,
    [tx.groupId, lotIds],
  );
}

export interface CleanDownRow {
  readonly cleanDownId: string;
  readonly equipmentId: string;
  readonly siteId: string;
  readonly kind: 'full' | 'rinse';
  readonly note: string | null;
  readonly occurredAt: Date;
  readonly recordedAt: Date;
  readonly recordedBy: string;
}

export async function insertCleanDown(tx: Tx, row: CleanDownRow): Promise<void> {
  await tx.query(
    `insert into clean_down (group_id, clean_down_id, equipment_id, site_id, kind, note, occurred_at, recorded_at, recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::text, $6::text, $7::timestamptz, $8::timestamptz, $9::uuid)`,
    [
      tx.groupId,
      row.cleanDownId,
      row.equipmentId,
      row.siteId,
      row.kind,
      row.note,
      row.occurredAt.toISOString(),
      row.recordedAt.toISOString(),
      row.recordedBy,
    ],
  );
}

export async function listCleanDowns(tx: Tx, equipmentId: string, page: Page): Promise<CleanDownRow[]> {
  return tx.query<CleanDownRow>(
    `select c.clean_down_id as "cleanDownId", c.equipment_id as "equipmentId", c.site_id as "siteId", c.kind, c.note,
            c.occurred_at as "occurredAt", c.recorded_at as "recordedAt", c.recorded_by as "recordedBy"
       from clean_down c
      where c.group_id = $1::uuid and c.equipment_id = $2::uuid
        and ($3::timestamptz is null or (c.occurred_at, c.clean_down_id) > ($3::timestamptz, $4::uuid))
      order by c.occurred_at, c.clean_down_id
      limit $5::int`,
    [tx.groupId, equipmentId, page.after?.[0] ?? null, page.after?.[1] ?? null, page.limit + 1],
  );
}
