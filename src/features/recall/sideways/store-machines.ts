/** SQL of what shared a packing machine or a packer with packs in a scope. */
import type { Tx } from '../../../platform/db/db.ts';

export interface ScopeRunRow {
  readonly packingRunId: string;
  readonly equipmentId: string;
  readonly equipmentName: string;
  readonly siteId: string;
  readonly packerId: string;
  readonly packerName: string;
  readonly startedAtMs: number;
  readonly finishedAtMs: number;
  /** the last full clean-down before it, and the first after it; null when there is none */
  readonly cleanedBeforeMs: number | null;
  readonly cleanedAfterMs: number | null;
}

const ms = (column: string) => `(extract(epoch from ${column}) * 1000)::int8`;
const STANDS = `not exists (select from entry x where x.group_id = r.group_id and x.reverses_entry_id = r.packing_run_id)`;

/** The packing runs that stand and sealed packs of these lots, newest first. */
export async function listScopeRuns(tx: Tx, lotIds: readonly string[], limit: number): Promise<ScopeRunRow[]> {
  return tx.query<ScopeRunRow>(
    `with run as materialized (
       select distinct l.packing_run_id from lot l
        where l.group_id = $1::uuid and l.lot_id = any($2::uuid[]) and l.packing_run_id is not null
     )
     select r.packing_run_id as "packingRunId", r.equipment_id as "equipmentId", q.name as "equipmentName",
            r.site_id as "siteId", r.packer_id as "packerId", r.packer_name as "packerName",
            ${ms('r.started_at')} as "startedAtMs", ${ms('r.finished_at')} as "finishedAtMs",
            (select ${ms('max(c.occurred_at)')} from clean_down c
              where c.group_id = $1::uuid and c.equipment_id = r.equipment_id and c.kind = 'full'
                and c.occurred_at <= r.started_at) as "cleanedBeforeMs",
            (select ${ms('min(c.occurred_at)')} from clean_down c
              where c.group_id = $1::uuid and c.equipment_id = r.equipment_id and c.kind = 'full'
                and c.occurred_at >= r.finished_at) as "cleanedAfterMs"
       from run
       join packing_run r on r.group_id = $1::uuid and r.packing_run_id = run.packing_run_id
       join equipment q on q.group_id = r.group_id and q.equipment_id = r.equipment_id
      where ${STANDS}
      order by r.finished_at desc, r.packing_run_id
      limit $3::int`,
    [tx.groupId, lotIds, limit],
  );
}

export interface MachineWindow {
  readonly equipmentId: string;
  readonly fromMs: number;
  readonly toMs: number;
}

export interface WindowPassRow {
  /** the window's position */
  readonly at: number;
  readonly packingRunId: string;
  readonly lineNo: number;
  readonly lotId: string;
  readonly raw: boolean;
  readonly changedOverAtMs: number;
  readonly finishedAtMs: number;
}

/** What was on machines within windows: runs that stand, and were not over before or begun after. */
export async function listWindowPasses(
  tx: Tx,
  windows: readonly MachineWindow[],
  limit: number,
): Promise<WindowPassRow[]> {
  return tx.query<WindowPassRow>(
    `select w.at, r.packing_run_id as "packingRunId", f.line_no as "lineNo", f.pack_lot_id as "lotId",
            coalesce(s.handling, l.handling) = 'raw' as raw, ${ms('f.changed_over_at')} as "changedOverAtMs",
            ${ms('r.finished_at')} as "finishedAtMs"
       from jsonb_to_recordset($2::jsonb) as w(at int, "equipmentId" uuid, "fromMs" float8, "toMs" float8)
       join packing_run r on r.group_id = $1::uuid and r.equipment_id = w."equipmentId"
        and r.finished_at > to_timestamp(w."fromMs" / 1000) and r.started_at < to_timestamp(w."toMs" / 1000)
       join packing_fill f on f.group_id = r.group_id and f.packing_run_id = r.packing_run_id
       join lot l on l.group_id = f.group_id and l.lot_id = f.pack_lot_id
       join lot_state s on s.group_id = l.group_id and s.lot_id = l.lot_id
      where ${STANDS}
      order by w.at, r.finished_at, r.packing_run_id, f.line_no
      limit $3::int`,
    [tx.groupId, JSON.stringify(windows.map((window, at) => ({ at, ...window }))), limit],
  );
}

export interface PackerRunRow {
  readonly packingRunId: string;
  readonly packerId: string;
  readonly siteId: string;
  readonly startedAtMs: number;
  readonly finishedAtMs: number;
}

/** Runs of these packers, of which the first begins and the last ends within a time. */
export async function listPackerRuns(
  tx: Tx,
  packerIds: readonly string[],
  fromMs: number,
  toMs: number,
  limit: number,
): Promise<PackerRunRow[]> {
  return tx.query<PackerRunRow>(
    `select r.packing_run_id as "packingRunId", r.packer_id as "packerId", r.site_id as "siteId",
            ${ms('r.started_at')} as "startedAtMs", ${ms('r.finished_at')} as "finishedAtMs"
       from equipment q
       join packing_run r on r.group_id = q.group_id and r.equipment_id = q.equipment_id
        and r.finished_at between to_timestamp($3::float8 / 1000) and to_timestamp($4::float8 / 1000)
      where q.group_id = $1::uuid and r.packer_id = any($2::uuid[]) and ${STANDS}
      order by r.finished_at desc, r.packing_run_id
      limit $5::int`,
    [tx.groupId, packerIds, fromMs, toMs, limit],
  );
}

export interface PersonWindow {
  readonly personId: string;
  readonly fromMs: number;
  readonly toMs: number;
}

/** What a person packed, took out of batches or took in within each time; as the starting point person-period does. */
export async function listPersonLots(
  tx: Tx,
  windows: readonly PersonWindow[],
): Promise<{ at: number; lotId: string }[]> {
  return tx.query<{ at: number; lotId: string }>(
    `with w as materialized (
       select r.at, r."personId" as person_id, to_timestamp(r."fromMs" / 1000) as from_at, to_timestamp(r."toMs" / 1000) as to_at
         from jsonb_to_recordset($2::jsonb) as r(at int, "personId" uuid, "fromMs" float8, "toMs" float8)
     ), made as materialized (
       select a.account_id from account a where a.group_id = $1::uuid and a.sign = 0 and a.kind = 'produced'
     )
     select w.at, f.pack_lot_id as "lotId"
       from w
       join equipment q on q.group_id = $1::uuid
       join packing_run r on r.group_id = $1::uuid and r.equipment_id = q.equipment_id and r.packer_id = w.person_id
        and r.finished_at >= w.from_at and r.started_at < w.to_at
       join packing_fill f on f.group_id = r.group_id and f.packing_run_id = r.packing_run_id
      where ${STANDS}
     union
     select w.at, n.lot_id
       from w
       join goods_receipt g on g.group_id = $1::uuid and g.received_by = w.person_id
        and g.occurred_at >= w.from_at and g.occurred_at < w.to_at
       join goods_receipt_line n on n.group_id = g.group_id and n.goods_receipt_id = g.goods_receipt_id
      where n.lot_id is not null
     union
     select w.at, p.lot_id
       from w
       join posting p on p.group_id = $1::uuid and p.occurred_on between (w.from_at - interval '1 day')::date and (w.to_at + interval '1 day')::date
       join made on made.account_id = p.from_account_id
       join entry e on e.group_id = p.group_id and e.seq = p.seq and e.kind = 'batch-output' and e.actor_id = w.person_id
        and e.occurred_at >= w.from_at and e.occurred_at < w.to_at
      where not exists (select from entry x where x.group_id = e.group_id and x.reverses_entry_id = e.entry_id)`,
    [tx.groupId, JSON.stringify(windows.map((window, at) => ({ at, ...window })))],
  );
}
