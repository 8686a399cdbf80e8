/** SQL of the map: a case's lots put together by item and kitchen, where they came from, what they became, where they are or went. */
import type { Tx } from '../../../platform/db/db.ts';

export interface LotsRow {
  readonly siteId: string;
  readonly siteName: string;
  readonly itemId: string;
  readonly itemName: string;
  readonly origin: string;
  readonly unit: string;
  readonly lotCount: number;
  /** at birth */
  readonly quantity: number;
  readonly supplierId: string | null;
  readonly supplierName: string | null;
}

/** By kitchen, item, origin and supplier. */
export async function listMapLots(tx: Tx, holdId: string): Promise<LotsRow[]> {
  return tx.query<LotsRow>(
    `with g as (
       select l.site_id, l.item_id, l.origin, l.unit, l.supplier_id, l.shop_name, count(*)::int as lots, sum(l.quantity)::int8 as quantity
         from hold_reach hr join lot l on l.group_id = hr.group_id and l.lot_id = hr.lot_id
        where hr.group_id = $1::uuid and hr.hold_id = $2::uuid
        group by l.site_id, l.item_id, l.origin, l.unit, l.supplier_id, l.shop_name
     )
     select g.site_id as "siteId", s.name as "siteName", g.item_id as "itemId", i.name as "itemName", g.origin, g.unit,
            g.lots as "lotCount", g.quantity, coalesce(g.supplier_id::text, g.shop_name) as "supplierId",
            coalesce(su.name, g.shop_name) as "supplierName"
       from g
       join site s on s.group_id = $1::uuid and s.site_id = g.site_id
       join item i on i.group_id = $1::uuid and i.item_id = g.item_id
       left join supplier su on su.group_id = $1::uuid and su.supplier_id = g.supplier_id
      order by g.lots desc, i.name, s.name`,
    [tx.groupId, holdId],
  );
}

export interface MadeRow {
  readonly fromSiteId: string;
  readonly fromItemId: string;
  readonly fromOrigin: string;
  readonly toSiteId: string;
  readonly toItemId: string;
  readonly toOrigin: string;
  readonly lotCount: number;
}

/** How many lots of one kind were made from lots of another. */
export async function listMapMade(tx: Tx, holdId: string): Promise<MadeRow[]> {
  return tx.query<MadeRow>(
    `with l as materialized (
       select lo.lot_id, lo.site_id, lo.item_id, lo.origin
         from hold_reach hr join lot lo on lo.group_id = hr.group_id and lo.lot_id = hr.lot_id
        where hr.group_id = $1::uuid and hr.hold_id = $2::uuid
     )
     select p.site_id as "fromSiteId", p.item_id as "fromItemId", p.origin as "fromOrigin", c.site_id as "toSiteId",
            c.item_id as "toItemId", c.origin as "toOrigin", count(distinct c.lot_id)::int as "lotCount"
       from l p
       join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = p.lot_id
       join l c on c.lot_id = le.child_lot_id
      group by 1, 2, 3, 4, 5, 6`,
    [tx.groupId, holdId],
  );
}

export interface WentRow {
  readonly siteId: string;
  readonly siteName: string;
  readonly itemId: string;
  readonly origin: string;
  readonly bornAtSiteId: string;
  readonly unit: string;
  readonly lotCount: number;
  readonly onHand: number;
  readonly inTransit: number;
  readonly served: number;
  readonly wasted: number;
  readonly unexplained: number;
}

/** What of each kind stands at each site or was served, wasted or missing there; what is on the road stands where it is going. */
export async function listMapWent(tx: Tx, holdId: string): Promise<WentRow[]> {
  return tx.query<WentRow>(
    `with b as (
       select coalesce(a.to_site_id, a.site_id) as site_id, l.item_id, l.origin, l.site_id as born, l.unit, l.lot_id,
              replace(a.kind, '-shortfall', '') as kind, b.quantity
         from hold_reach hr
         join balance b on b.group_id = hr.group_id and b.lot_id = hr.lot_id and b.quantity <> 0
         join account a on a.group_id = b.group_id and a.account_id = b.account_id
         join lot l on l.group_id = hr.group_id and l.lot_id = hr.lot_id
        where hr.group_id = $1::uuid and hr.hold_id = $2::uuid and a.kind not in ('supplier', 'produced', 'consumed')
     )
     select b.site_id as "siteId", s.name as "siteName", b.item_id as "itemId", b.origin, b.born as "bornAtSiteId", b.unit,
            count(distinct b.lot_id)::int as "lotCount",
            coalesce(sum(b.quantity) filter (where b.kind = 'place'), 0)::int8 as "onHand",
            coalesce(sum(b.quantity) filter (where b.kind = 'transit'), 0)::int8 as "inTransit",
            coalesce(sum(b.quantity) filter (where b.kind = 'served'), 0)::int8 as served,
            coalesce(sum(b.quantity) filter (where b.kind = 'waste'), 0)::int8 as wasted,
            coalesce(sum(b.quantity) filter (where b.kind = 'variance'), 0)::int8 as unexplained
       from b join site s on s.group_id = $1::uuid and s.site_id = b.site_id
      group by 1, 2, 3, 4, 5, 6
      order by 2, 3`,
    [tx.groupId, holdId],
  );
}
