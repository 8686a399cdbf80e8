/** SQL of a trace: the walk, its edges, where each lot is, and what a balance alone does not tell. */
import type { Tx } from '../../platform/db/db.ts';

export type Direction = 'forward' | 'back';

/** What was recorded by a past moment: entries up to this one, edges and holds of that time. */
export interface AsOf {
  readonly seq: number;
  readonly atMs: number;
}

const ENDS = { forward: ['parent_lot_id', 'child_lot_id'], back: ['child_lot_id', 'parent_lot_id'] } as const;

/**
 * Edges as SQL that have a lot at their near end: those that stand, or those that stood at a past moment, some of which are gone.
 * @param near SQL after the column of the near end
 * @param pastMs SQL, the parameter that has the moment; null inside it: now
 */
function edgesFrom(direction: Direction, near: string, pastMs: string): string {
  const end = ENDS[direction][0];
  const moment = `to_timestamp(${pastMs}::float8 / 1000)`;
  return `select le.parent_lot_id, le.child_lot_id, le.process_id
         from lot_edge le
        where le.group_id = $1::uuid and le.${end} ${near} and (${pastMs}::float8 is null or le.recorded_at <= ${moment})
       union
       select gone.parent_lot_id, gone.child_lot_id, gone.process_id
         from lot_edge_past gone
        where gone.group_id = $1::uuid and gone.${end} ${near} and gone.recorded_at <= ${moment} and gone.removed_at > ${moment}`;
}

/** The walk of now: forward, lots that nothing was made from are not looked up (lot_edge.child_leads_on). */
const WALK_NOW = {
  forward: `select w.lot_id from (
       with recursive walk (lot_id, leads_on) as (
         select $2::uuid, true
         union
         select le.child_lot_id, le.child_leads_on
           from walk w join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = w.lot_id
          where w.leads_on
       ) select distinct x.lot_id from (select walk.lot_id from walk limit 2 * $3::int) x) w`,
  back: `select w.lot_id from (
       with recursive walk (lot_id) as (
         select $2::uuid
         union
         select le.parent_lot_id from walk w join lot_edge le on le.group_id = $1::uuid and le.child_lot_id = w.lot_id
       ) select walk.lot_id from walk) w`,
} as const;

/** SQL of the lots of a walk: $1 group, $2 start, $3 most lots; of a past moment $4, in milliseconds. */
export function walkSql(direction: Direction, past: boolean): string {
  if (!past) return `${WALK_NOW[direction]} limit $3::int`;
  return `select w.lot_id from (
       with recursive walk (lot_id) as (
         select $2::uuid
         union
         select e.${ENDS[direction][1]} from walk w cross join lateral (${edgesFrom(direction, '= w.lot_id', '$4')}) e
       ) select walk.lot_id from walk) w limit $3::int`;
}

export interface ScopeLotRow {
  readonly lotId: string;
  readonly code: string;
  readonly itemId: string;
  readonly itemName: string;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
  readonly lotTracked: boolean;
  readonly origin: 'supplied' | 'produced' | 'packed' | 'pseudo' | 'converted' | 'opening';
  readonly siteId: string;
  readonly bornAt: Date;
  readonly supplierId: string | null;
  readonly supplierName: string | null;
  readonly supplierLotCode: string | null;
  readonly batchId: string | null;
  readonly packingRunId: string | null;
}

/** Each lot of a walk once, with what there is to say of it. */
const SCOPE_LOTS = (walk: string): string =>
  `select l.lot_id as "lotId", l.code, l.item_id as "itemId", i.name as "itemName", l.unit, l.origin, i.lot_tracked as "lotTracked", l.site_id as "siteId",
          l.born_at as "bornAt", l.supplier_id as "supplierId", coalesce(su.name, l.shop_name) as "supplierName",
          l.supplier_lot_code as "supplierLotCode", l.batch_id as "batchId", l.packing_run_id as "packingRunId"
     from (${walk}) r
     join lot l on l.group_id = $1::uuid and l.lot_id = r.lot_id
     join item i on i.group_id = l.group_id and i.item_id = l.item_id
     left join supplier su on su.group_id = l.group_id and su.supplier_id = l.supplier_id
    order by l.born_at, l.lot_id`;

export interface Walk {
  readonly lotId: string;
  readonly direction: Direction;
  /** the limit stands inside, where it stops the walk itself: rows of a recursive query are made only as far as they are asked for */
  readonly limit: number;
  readonly asOf: AsOf | null;
}

const walkValues = (tx: Tx, { lotId, limit, asOf }: Walk): unknown[] =>
  asOf === null ? [tx.groupId, lotId, limit] : [tx.groupId, lotId, limit, asOf.atMs];

/** The lot and everything before or after it, each lot once, oldest first. */
export async function walkLots(tx: Tx, walk: Walk): Promise<ScopeLotRow[]> {
  return tx.query<ScopeLotRow>(SCOPE_LOTS(walkSql(walk.direction, walk.asOf !== null)), walkValues(tx, walk));
}

/** The same, some at a time. */
export function walkLotPages(tx: Tx, walk: Walk, size: number): AsyncIterable<ScopeLotRow[]> {
  return tx.rows<ScopeLotRow>(SCOPE_LOTS(walkSql(walk.direction, walk.asOf !== null)), walkValues(tx, walk), size);
}

export async function countWalk(tx: Tx, walk: Walk): Promise<number> {
  const rows = await tx.query<{ lots: number }>(
    `select count(*)::int as lots from (${walkSql(walk.direction, walk.asOf !== null)}) r`,
    walkValues(tx, walk),
  );
  return rows[0]?.lots ?? 0;
}

export interface EdgeRow {
  readonly parentLotId: string;
  readonly childLotId: string;
  readonly processId: string;
  readonly batchCode: string | null;
  readonly isPackingRun: boolean;
  /** packing run: what of the parent went into the child's packs */
  readonly filledQuantity: number | null;
  /** conversion at a site: what was done, and how much of the parent it took */
  readonly conversion: string | null;
  readonly convertedQuantity: number | null;
  /** batch: everything that stands as having come out of it, by lot id */
  readonly outputs: readonly { readonly lotId: string; readonly massMg: number }[] | null;
}

/**
 * Edges within a walked scope. Only the near end is asked for: the walk's far ends are in the scope by themselves. An output
 * whose entry was undone has nothing left in the produced account and does not share.
 */
export async function listEdges(
  tx: Tx,
  lotIds: readonly string[],
  direction: Direction,
  asOf: AsOf | null,
): Promise<EdgeRow[]> {
  return tx.query<EdgeRow>(
    `with e as materialized (
       ${edgesFrom(direction, '= any($2::uuid[])', '$3')}
     ), outputs as (
       select l.batch_id, json_agg(json_build_object('lotId', l.lot_id, 'massMg', l.mass_mg) order by l.lot_id) as list
         from lot l
        where l.group_id = $1::uuid and l.batch_id in (select e.process_id from e) and l.origin = 'produced'
          and case when $4::int8 is null
                then exists (select from balance b join account a on a.group_id = b.group_id and a.account_id = b.account_id
                       where b.group_id = l.group_id and b.lot_id = l.lot_id and a.kind = 'produced' and b.quantity <> 0)
                else (select sum(case when a.account_id = p.from_account_id then p.quantity else -p.quantity end) > 0
                        from posting p
                        join account a on a.group_id = p.group_id and a.account_id in (p.from_account_id, p.to_account_id)
                       where p.group_id = l.group_id and p.lot_id = l.lot_id and p.seq <= $4::int8 and a.kind = 'produced') end
        group by l.batch_id
     ), fills as (
       select f.packing_run_id, f.from_lot_id, f.pack_lot_id, sum(f.used_quantity)::int8 as quantity
         from packing_fill f
        where f.group_id = $1::uuid and f.packing_run_id in (select e.process_id from e)
        group by f.packing_run_id, f.from_lot_id, f.pack_lot_id
     )
     select e.parent_lot_id as "parentLotId", e.child_lot_id as "childLotId", e.process_id as "processId",
            coalesce(b.code, pb.code) as "batchCode", pr.packing_run_id is not null as "isPackingRun",
            f.quantity as "filledQuantity", cv.kind as conversion, cv.from_quantity as "convertedQuantity", o.list as outputs
       from e
       left join batch b on b.group_id = $1::uuid and b.batch_id = e.process_id
       left join packing_run pr on pr.group_id = $1::uuid and pr.packing_run_id = e.process_id
       left join batch pb on pb.group_id = $1::uuid and pb.batch_id = pr.batch_id
       left join conversion cv on cv.group_id = $1::uuid and cv.conversion_id = e.process_id
       left join outputs o on o.batch_id = e.process_id
       left join fills f on f.packing_run_id = e.process_id and f.from_lot_id = e.parent_lot_id
                        and f.pack_lot_id = e.child_lot_id
      order by e.parent_lot_id, e.child_lot_id, e.process_id`,
    [tx.groupId, lotIds, asOf?.atMs ?? null, asOf?.seq ?? null],
  );
}

export interface StandingRow {
  readonly lotId: string;
  readonly kind: 'place' | 'transit' | 'supplier' | 'consumed' | 'produced' | 'served' | 'waste' | 'variance';
  readonly siteId: string;
  readonly siteName: string;
  readonly toSiteId: string | null;
  readonly toSiteName: string | null;
  readonly accountId: string;
  readonly placeName: string | null;
  readonly quantity: number;
}

/** Balances as they were after an entry, summed from the postings up to it. */
export const BALANCES_THEN = (lots: string, seq: string): string => `(
         select p.group_id, p.lot_id, side.account_id, sum(side.quantity)::int8 as quantity
           from posting p
           cross join lateral (values (p.to_account_id, p.quantity), (p.from_account_id, -p.quantity)) as side(account_id, quantity)
          where p.group_id = $1::uuid and p.lot_id = any(${lots}) and p.seq <= ${seq}::int8
          group by p.group_id, p.lot_id, side.account_id)`;

/** Balances of lots, a shortfall twin counted with its place or dispatch; zero where something once was. */
export async function listStanding(tx: Tx, lotIds: readonly string[], asOf: AsOf | null): Promise<StandingRow[]> {
  const balance = asOf === null ? 'balance' : BALANCES_THEN('$2::uuid[]', '$3');
  return tx.query<StandingRow>(
    `with s as (
       select b.lot_id, replace(a.kind, '-shortfall', '') as kind, a.site_id, a.to_site_id,
              coalesce(a.twin_of, a.account_id) as account_id, sum(b.quantity)::int8 as quantity
         from ${balance} b
         join account a on a.group_id = b.group_id and a.account_id = b.account_id
        where b.group_id = $1::uuid and b.lot_id = any($2::uuid[])
        group by 1, 2, 3, 4, 5
     )
     select s.lot_id as "lotId", s.kind, s.site_id as "siteId", si.name as "siteName", s.to_site_id as "toSiteId",
            ts.name as "toSiteName", s.account_id as "accountId", pl.name as "placeName", s.quantity
       from s
       join site si on si.group_id = $1::uuid and si.site_id = s.site_id
       left join site ts on ts.group_id = $1::uuid and ts.site_id = s.to_site_id
       left join place pl on pl.group_id = $1::uuid and pl.place_id = s.account_id
      order by si.name, s.kind, pl.name, s.account_id`,
    asOf === null ? [tx.groupId, lotIds] : [tx.groupId, lotIds, asOf.seq],
  );
}

export interface FlowRow {
  readonly lotId: string;
  readonly kind: 'consumed' | 'supplier';
  readonly siteId: string;
  readonly siteName: string;
  readonly batchId: string | null;
  readonly quantity: number;
}

/** Net of reversals: what went into each batch, and what went back to the supplier. */
export async function listFlows(tx: Tx, lotIds: readonly string[], asOf: AsOf | null): Promise<FlowRow[]> {
  return tx.query<FlowRow>(
    `with x as materialized (
       select a.account_id, a.kind, a.site_id, si.name as site_name
         from account a join site si on si.group_id = a.group_id and si.site_id = a.site_id
        where a.group_id = $1::uuid and a.sign = 0 and a.kind in ('consumed', 'supplier')
     )
     select p.lot_id as "lotId", x.kind, x.site_id as "siteId", x.site_name as "siteName", e.batch_id as "batchId",
            sum(side.quantity)::int8 as quantity
       from posting p
       cross join lateral (values (p.to_account_id, p.quantity), (p.from_account_id, -p.quantity)) as side(account_id, quantity)
       join x on x.account_id = side.account_id
       join entry e on e.group_id = p.group_id and e.seq = p.seq
       left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
      where p.group_id = $1::uuid and p.lot_id = any($2::uuid[]) and ($3::int8 is null or p.seq <= $3::int8)
        and ((x.kind = 'consumed' and coalesce(o.kind, e.kind) = 'batch-input')
          or (x.kind = 'supplier' and coalesce(o.kind, e.kind) = 'return'))
      group by 1, 2, 3, 4, 5`,
    [tx.groupId, lotIds, asOf?.seq ?? null],
  );
}
