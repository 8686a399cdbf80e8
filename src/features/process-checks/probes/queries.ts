/** Which checks a failed calibration puts in doubt, and where the food is that they speak of. */
import type { CheckKind, Stage } from '../../../domain/process-checks/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';
import { stands } from './stands.ts';

/** Lots told of one check; a goods-in check of onions may speak of hundreds. */
const MOST_LOTS = 200;

export interface Doubt {
  readonly since: Date | null;
  readonly until: Date | null;
  readonly checks: number;
}

/** Between the last good calibration by the same method, or by a laboratory, and the next: nothing shows that it measured well. */
const DOUBTED = `
  select f.equipment_id,
         (select max(g.occurred_at) from probe_calibration g
           where g.group_id = f.group_id and g.equipment_id = f.equipment_id and g.result = 'passed' and ${stands('g')}
             and g.method in (f.method, 'laboratory') and g.occurred_at < f.occurred_at) as since,
         (select min(g.occurred_at) from probe_calibration g
           where g.group_id = f.group_id and g.equipment_id = f.equipment_id and g.result = 'passed' and ${stands('g')}
             and g.method in (f.method, 'laboratory') and g.occurred_at > f.occurred_at) as until
    from probe_calibration f
   where f.group_id = $1::uuid and f.calibration_id = $2::uuid and f.result = 'failed'
     and ${stands('f')}`;

const IN_DOUBT = `k.group_id = $1::uuid and k.instrument_id = d.equipment_id
  and (d.since is null or k.occurred_at > d.since) and (d.until is null or k.occurred_at < d.until)
  and not exists (select from process_check x where x.group_id = k.group_id and x.supersedes_check_id = k.check_id)`;

/** Null for one that passed, or in whose place another one stands. */
export async function findDoubt(tx: Tx, calibrationId: string): Promise<Doubt | null> {
  const rows = await tx.query<Doubt>(
    `with d as (${DOUBTED})
     select d.since, d.until, (select count(*)::int from process_check k where ${IN_DOUBT}) as checks from d`,
    [tx.groupId, calibrationId],
  );
  return rows[0] ?? null;
}

export interface SuspectRow {
  readonly checkId: string;
  readonly siteId: string;
  readonly stage: Stage;
  readonly kind: CheckKind;
  readonly controlPoint: string | null;
  readonly occurredAt: Date;
  readonly value: number | null;
  readonly result: 'passed' | 'failed';
  readonly batchId: string | null;
  readonly packingRunId: string | null;
  readonly placeId: string | null;
  readonly signedFor: boolean;
}

export async function listSuspectRows(tx: Tx, calibrationId: string, page: Page): Promise<SuspectRow[]> {
  return tx.query<SuspectRow>(
    `with d as (${DOUBTED})
     select k.check_id as "checkId", k.site_id as "siteId", k.stage, k.kind, k.control_point as "controlPoint",
            k.occurred_at as "occurredAt", case when k.measured ->> 'form' = 'value' then (k.measured ->> 'value')::float8 end as value,
            k.result, k.batch_id as "batchId", k.packing_run_id as "packingRunId", k.place_id as "placeId",
            exists (select from control_factor_statement s where s.group_id = k.group_id and s.check_id = k.check_id) as "signedFor"
       from d join process_check k on ${IN_DOUBT}
        and ($3::timestamptz is null or (k.occurred_at, k.check_id) > ($3::timestamptz, $4::uuid))
      order by k.occurred_at, k.check_id limit $5::int`,
    [tx.groupId, calibrationId, page.after?.[0] ?? null, page.after?.[1] ?? null, page.limit + 1],
  );
}

export interface SuspectLotRow {
  readonly checkId: string;
  /** of all lots of the check */
  readonly lots: number;
  readonly lotId: string;
  readonly code: string;
  readonly itemName: string;
  readonly unit: string;
  readonly heldBy: readonly string[];
  readonly where: readonly {
    readonly siteId: string;
    readonly placeId: string | null;
    readonly placeName: string | null;
    readonly dispatchId: string | null;
    readonly quantity: number;
  }[];
}

/**
 * What each check is about (a lot, the packs of a run, the loads of a batch, what came with a delivery or left with a dispatch) and everything
 * made from that, with where it is. By check and lot code, at most MOST_LOTS a check.
 */
export async function listSuspectLots(tx: Tx, checkIds: readonly string[]): Promise<SuspectLotRow[]> {
  return tx.query<SuspectLotRow>(
    `with recursive root (check_id, lot_id) as (
       select k.check_id, r.lot_id
         from process_check k
         cross join lateral (
           select k.lot_id where k.lot_id is not null
           union all
           select p.pack_lot_id from packing_fill p
            where k.lot_id is null and p.group_id = k.group_id and p.packing_run_id = k.packing_run_id
           union all
           select l.lot_id from lot l
            where k.lot_id is null and k.packing_run_id is null and l.group_id = k.group_id and l.batch_id = k.batch_id
           union all
           select g.lot_id from goods_receipt_line g
            where k.lot_id is null and g.group_id = k.group_id and g.goods_receipt_id = k.goods_receipt_id and g.lot_id is not null
           union all
           select s.lot_id from dispatch_line s where k.lot_id is null and s.group_id = k.group_id and s.dispatch_id = k.dispatch_id
         ) r
        where k.group_id = $1::uuid and k.check_id = any($2::uuid[])
     ), down (check_id, lot_id) as (
       select check_id, lot_id from root
       union
       select d.check_id, e.child_lot_id from down d join lot_edge e on e.group_id = $1::uuid and e.parent_lot_id = d.lot_id
     ), told as (
       select d.check_id, l.lot_id, l.code, l.item_id, l.unit, count(*) over (partition by d.check_id) as lots,
              row_number() over (partition by d.check_id order by l.code) as line_no
         from down d join lot l on l.group_id = $1::uuid and l.lot_id = d.lot_id
     )
     select t.check_id as "checkId", t.lots::int as lots, t.lot_id as "lotId", t.code, i.name as "itemName", t.unit,
            array(select distinct h.kind from hold_reach hr join hold h on h.group_id = hr.group_id and h.hold_id = hr.hold_id
                   where hr.group_id = $1::uuid and hr.lot_id = t.lot_id and h.lifted_at is null and h.kind not in ('drill', 'use-by')
                   order by h.kind) as "heldBy",
            coalesce((select jsonb_agg(jsonb_build_object('siteId', a.site_id, 'placeId', p.place_id, 'placeName', p.name,
                        'dispatchId', case when a.kind = 'transit' then a.account_id end, 'quantity', b.quantity)
                        order by a.site_id, a.account_id)
                from balance b
                join account a on a.group_id = b.group_id and a.account_id = b.account_id and a.sign = 1
                left join place p on p.group_id = a.group_id and p.place_id = a.account_id
               where b.group_id = $1::uuid and b.lot_id = t.lot_id and b.quantity > 0), '[]') as "where"
       from told t
       join item i on i.group_id = $1::uuid and i.item_id = t.item_id
      where t.line_no <= $3::int
      order by t.check_id, t.line_no`,
    [tx.groupId, checkIds, MOST_LOTS],
  );
}

/** Quantities outside the reader's sites are told as one sum. */
export function whereOf(row: SuspectLotRow, scope: SiteScope) {
  const here = row.where.filter((one) => scope.includes(one.siteId));
  const sum = (ones: SuspectLotRow['where']) => ones.reduce((total, one) => total + one.quantity, 0);
  return { where: here, elsewhereQuantity: sum(row.where) - sum(here) };
}
