/** SQL of the morning list. */
import { partUseBy } from '../../ledger/index.ts';
import type { Tx } from '../../../platform/db/db.ts';

export interface StockPartRow {
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
  readonly placeId: string;
  readonly placeName: string;
  readonly quarantine: boolean;
  readonly quantity: number;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
  readonly useByMs: number | null;
  readonly lastSeenAt: Date | null;
}

/** What stands at the site: all that ends before `untilMs`, is in quarantine or is reached by an open hold; earliest date first. */
export async function listMorningStock(
  tx: Tx,
  siteId: string,
  untilMs: number,
  limit: number,
): Promise<StockPartRow[]> {
  return tx.query<StockPartRow>(
    `select b.lot_id as "lotId", l.code as "lotCode", i.name as "itemName", b.account_id as "placeId", pl.name as "placeName",
            pl.quarantine, b.quantity, l.unit,
            case when d.use_by_at = 'infinity' then null else (extract(epoch from d.use_by_at) * 1000)::int8 end as "useByMs",
            greatest(
              (select max(p.occurred_at) from posting p
                where p.group_id = b.group_id and p.lot_id = b.lot_id and b.account_id in (p.from_account_id, p.to_account_id)),
              (select max(c.occurred_at) from count_line c
                where c.group_id = b.group_id and c.lot_id = b.lot_id and c.account_id = b.account_id)) as "lastSeenAt"
       from place pl
       join balance b on b.group_id = pl.group_id and b.account_id = pl.place_id and b.quantity > 0
       join lot l on l.group_id = b.group_id and l.lot_id = b.lot_id
       join lot_state s on s.group_id = b.group_id and s.lot_id = b.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       cross join lateral (select ${partUseBy()} as use_by_at) d
      where pl.group_id = $1::uuid and pl.site_id = $2::uuid
        and (d.use_by_at <= to_timestamp($3::float8 / 1000) or pl.quarantine
          or exists (select from hold_reach hr join hold h on h.group_id = hr.group_id and h.hold_id = hr.hold_id
                      where hr.group_id = b.group_id and hr.lot_id = b.lot_id and h.lifted_at is null
                        and h.kind <> 'use-by'))
      order by d.use_by_at, l.code, b.account_id
      limit $4::int`,
    [tx.groupId, siteId, untilMs, limit],
  );
}

export interface RoadRow {
  readonly dispatchId: string;
  readonly code: string;
  readonly closed: boolean;
  readonly fromSiteName: string;
  readonly departedAt: Date;
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
  readonly quantity: number;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
}

/** What is on its way to the site and not found there yet. */
export async function listRoad(tx: Tx, siteId: string, limit: number): Promise<RoadRow[]> {
  return tx.query<RoadRow>(
    `select d.dispatch_id as "dispatchId", d.code, d.state = 'closed' as closed, f.name as "fromSiteName",
            d.departed_at as "departedAt", b.lot_id as "lotId", l.code as "lotCode", i.name as "itemName", b.quantity, l.unit
       from dispatch d
       join site f on f.group_id = d.group_id and f.site_id = d.from_site_id
       join balance b on b.group_id = d.group_id and b.account_id = d.dispatch_id and b.quantity > 0
       join lot l on l.group_id = b.group_id and l.lot_id = b.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
      where d.group_id = $1::uuid and d.to_site_id = $2::uuid and d.state <> 'planned' and d.departed_at is not null
      order by d.departed_at, d.dispatch_id, l.code
      limit $3::int`,
    [tx.groupId, siteId, limit],
  );
}

export interface SiteFindingRow {
  readonly findingId: string;
  readonly kind: string;
  readonly lotId: string | null;
  readonly lotCode: string | null;
  readonly itemName: string | null;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece' | null;
  readonly placeName: string | null;
  readonly quantity: number | null;
  readonly occurredAt: Date;
}

/** Open findings of the site, oldest first; of kinds that the other lists show, only those wanted. */
export async function listSiteFindings(
  tx: Tx,
  siteId: string,
  filter: { readonly only?: string; readonly except?: readonly string[] },
  limit: number,
): Promise<SiteFindingRow[]> {
  return tx.query<SiteFindingRow>(
    `select f.finding_id as "findingId", f.kind, f.lot_id as "lotId", l.code as "lotCode", i.name as "itemName", l.unit,
            pl.name as "placeName", f.quantity, f.occurred_at as "occurredAt"
       from finding f
       left join lot l on l.group_id = f.group_id and l.lot_id = f.lot_id
       left join item i on i.group_id = l.group_id and i.item_id = l.item_id
       left join place pl on pl.group_id = f.group_id and pl.place_id::text = f.detail ->> 'placeId'
      where f.group_id = $1::uuid and f.site_id = $2::uuid and f.status = 'open'
        and ($3::text is null or f.kind = $3::text) and f.kind <> all ($4::text[])
      order by f.recorded_at, f.finding_id
      limit $5::int`,
    [tx.groupId, siteId, filter.only ?? null, filter.except ?? [], limit],
  );
}
