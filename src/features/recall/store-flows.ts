/** SQL of how food flowed: what is before a set of lots, what went into which process, what was paid, where it stands. */
import type { Tx } from '../../platform/db/db.ts';
import { processKey } from '../ledger/index.ts';

/** What moved on or after a day or is in stock, and everything before it, each once, at most `limit`. */
export async function listMovedWithAncestors(tx: Tx, sinceDay: string, limit: number): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `with recursive up (lot_id) as (
       (select p.lot_id from posting p where p.group_id = $1::uuid and p.occurred_on >= $2::date
        union
        select b.lot_id
          from account a
          join balance b on b.group_id = a.group_id and b.account_id = a.account_id and b.quantity <> 0
         where a.group_id = $1::uuid and a.sign = 1)
       union
       select le.parent_lot_id from up join lot_edge le on le.group_id = $1::uuid and le.child_lot_id = up.lot_id
     )
     select up.lot_id as "lotId" from up limit $3::int`,
    [tx.groupId, sinceDay, limit],
  );
  return rows.map((row) => row.lotId);
}

export interface FlowLotRow {
  readonly lotId: string;
  readonly code: string;
  readonly itemId: string;
  readonly itemName: string;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
  readonly itemKind: 'ingredient' | 'prepared' | 'packed' | 'packaging';
  readonly portionsPerUnit: number | null;
  readonly lotTracked: boolean;
  readonly quantity: number;
  readonly massMg: number;
  readonly origin: 'supplied' | 'produced' | 'packed' | 'pseudo' | 'converted' | 'opening';
  readonly siteId: string;
  readonly bornAt: Date;
  readonly supplierName: string | null;
  readonly supplierLotCode: string | null;
  readonly batchId: string | null;
  /** null: not bought, or a line of its delivery has no price */
  readonly priceMinor: number | null;
}

export async function listFlowLots(tx: Tx, lotIds: readonly string[]): Promise<FlowLotRow[]> {
  return tx.query<FlowLotRow>(
    `select l.lot_id as "lotId", l.code, l.item_id as "itemId", i.name as "itemName", l.unit,
            i.kind as "itemKind", i.portions_per_unit as "portionsPerUnit",
            i.lot_tracked as "lotTracked", l.quantity, l.mass_mg as "massMg", l.origin, l.site_id as "siteId",
            l.born_at as "bornAt", coalesce(su.name, l.shop_name) as "supplierName",
            l.supplier_lot_code as "supplierLotCode", l.batch_id as "batchId", paid.price_minor as "priceMinor"
       from lot l
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       left join supplier su on su.group_id = l.group_id and su.supplier_id = l.supplier_id
       left join lateral (
         select case when bool_and(n.price_minor is not null) then sum(n.price_minor)::int8 end as price_minor
           from goods_receipt_line n
          where n.group_id = l.group_id and n.goods_receipt_id = l.goods_receipt_id and n.lot_id = l.lot_id
       ) paid on l.goods_receipt_id is not null
      where l.group_id = $1::uuid and l.lot_id = any($2::uuid[])
      order by l.lot_id`,
    [tx.groupId, lotIds],
  );
}

export interface FlowEdgeRow {
  readonly parentLotId: string;
  readonly childLotId: string;
  readonly processId: string;
}

/** Edges into these lots. */
export async function listEdgesInto(tx: Tx, lotIds: readonly string[]): Promise<FlowEdgeRow[]> {
  return tx.query<FlowEdgeRow>(
    `select le.parent_lot_id as "parentLotId", le.child_lot_id as "childLotId", le.process_id as "processId"
       from lot_edge le where le.group_id = $1::uuid and le.child_lot_id = any($2::uuid[])`,
    [tx.groupId, lotIds],
  );
}

export interface TakingRow {
  readonly lotId: string;
  readonly processId: string;
  /** where */
  readonly siteId: string;
  readonly quantity: number;
}

/** What of these lots went into each batch, packing run and conversion, net of reversals. */
export async function listTakings(tx: Tx, lotIds: readonly string[]): Promise<TakingRow[]> {
  return tx.query<TakingRow>(
    `with consumed as materialized (
       select a.account_id, a.site_id from account a where a.group_id = $1::uuid and a.sign = 0 and a.kind = 'consumed'
     ), crossed as (
       select p.lot_id, p.seq, c.site_id,
              sum(case when c.account_id = p.to_account_id then p.quantity else -p.quantity end) as quantity
         from posting p
         join consumed c on c.account_id in (p.to_account_id, p.from_account_id)
        where p.group_id = $1::uuid and p.lot_id = any($2::uuid[])
        group by p.lot_id, p.seq, c.site_id
     )
     select x.lot_id as "lotId",
            ${processKey('e', 'o', 'cv')} as "processId", x.site_id as "siteId",
            sum(x.quantity)::int8 as quantity
       from crossed x
       join entry e on e.group_id = $1::uuid and e.seq = x.seq
       left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
       left join conversion cv on cv.group_id = e.group_id and cv.scan_id = e.scan_id
      group by 1, 2, 3
     having sum(x.quantity) <> 0`,
    [tx.groupId, lotIds],
  );
}

const STANDS = (lotId: string) => `exists (
  select from balance b
    join account a on a.group_id = b.group_id and a.account_id = b.account_id and a.kind = 'produced'
   where b.group_id = $1::uuid and b.lot_id = ${lotId} and b.quantity <> 0)`;

/** Of these batches, packing runs and conversions, those that nothing stands as having come out of. */
export async function listBarren(tx: Tx, processIds: readonly string[]): Promise<string[]> {
  const rows = await tx.query<{ processId: string }>(
    `select x.process_id as "processId"
       from unnest($2::uuid[]) as x(process_id)
      where not exists (
              select from lot l
               where l.group_id = $1::uuid and l.batch_id = x.process_id and l.origin = 'produced' and ${STANDS('l.lot_id')})
        and not exists (
              select from lot l where l.group_id = $1::uuid and l.packing_run_id = x.process_id and ${STANDS('l.lot_id')})
        and not exists (
              select from conversion c
               where c.group_id = $1::uuid and c.conversion_id = x.process_id and ${STANDS('c.to_lot_id')})`,
    [tx.groupId, processIds],
  );
  return rows.map((row) => row.processId);
}

export interface StandRow {
  readonly lotId: string;
  readonly kind: 'place' | 'transit' | 'served' | 'waste' | 'variance' | 'produced';
  readonly siteId: string;
  readonly quantity: number;
}

/** Where these lots stand, a shortfall with its place, what is on the road at the site that it is going to; produced is below zero. */
export async function listStands(tx: Tx, lotIds: readonly string[]): Promise<StandRow[]> {
  return tx.query<StandRow>(
    `select b.lot_id as "lotId", replace(a.kind, '-shortfall', '') as kind, coalesce(a.to_site_id, a.site_id) as "siteId",
            sum(b.quantity)::int8 as quantity
       from balance b
       join account a on a.group_id = b.group_id and a.account_id = b.account_id
      where b.group_id = $1::uuid and b.lot_id = any($2::uuid[]) and b.quantity <> 0
        and a.kind not in ('supplier', 'consumed')
      group by 1, 2, 3`,
    [tx.groupId, lotIds],
  );
}
