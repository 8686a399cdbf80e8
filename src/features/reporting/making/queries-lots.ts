/** Read SQL for which lots to use: what is required and not covered, what lies at the site. */
import type { Tx } from '../../../platform/db/db.ts';
import { partUseBy } from '../../ledger/index.ts';

export interface OpenRequirementRow {
  readonly siteId: string;
  readonly siteCode: string;
  readonly siteName: string;
  readonly timeZone: string;
  readonly meal: string;
  readonly textureLevel: number | null;
  readonly dietCodes: readonly string[];
  /** required and on no dispatch yet, above zero */
  readonly portions: number;
}

/** By requirement; what other items were sent in its place covers it too. */
export async function listOpenRequirements(tx: Tx, itemId: string, date: string): Promise<OpenRequirementRow[]> {
  return tx.query<OpenRequirementRow>(
    `select x.* from (
       select r.site_id as "siteId", si.code as "siteCode", si.name as "siteName", si.time_zone as "timeZone", r.meal,
              r.texture_level as "textureLevel", r.diet_codes as "dietCodes",
              (n.portions - coalesce((
                select sum(d.quantity * coalesce(i.portions_per_unit, 1)) from dispatch_line d
                  join dispatch di on di.group_id = d.group_id and di.dispatch_id = d.dispatch_id and di.purpose = 'delivery'
                  join lot l on l.group_id = d.group_id and l.lot_id = d.lot_id
                  join item i on i.group_id = l.group_id and i.item_id = l.item_id
                 where d.group_id = r.group_id and d.requirement_id = r.requirement_id), 0))::int8 as portions
         from requirement r
         join site si on si.group_id = r.group_id and si.site_id = r.site_id
         join lateral (
           select m.portions from requirement_number m
            where m.group_id = r.group_id and m.requirement_id = r.requirement_id
            order by m.revision desc limit 1) n on true
        where r.group_id = $1::uuid and r.item_id = $2::uuid and r.service_date = $3::date
        order by si.code, r.meal, r.requirement_id) x
      where x.portions > 0
      limit 2000`,
    [tx.groupId, itemId, date],
  );
}

export interface LotPartRow {
  readonly lotId: string;
  readonly lotCode: string;
  readonly placeId: string;
  readonly placeName: string;
  readonly quarantine: boolean;
  readonly regenerated: boolean;
  readonly quantity: number;
  /** in force for the part */
  readonly useByMs: number | null;
  /** what dispatches that have not left are to take of it from there */
  readonly promised: number;
}

/** The oldest first; at most so many. */
export async function listLotParts(tx: Tx, siteId: string, itemId: string, limit: number): Promise<LotPartRow[]> {
  return tx.query<LotPartRow>(
    `select b.lot_id as "lotId", l.code as "lotCode", pl.place_id as "placeId", pl.name as "placeName", pl.quarantine,
            l.anchors ->> 'regenerated' is not null as regenerated, b.quantity,
            case when d.use_by_at = 'infinity' then null else (extract(epoch from d.use_by_at) * 1000)::int8 end as "useByMs",
            coalesce((select sum(n.quantity) from dispatch_line n
                        join dispatch di on di.group_id = n.group_id and di.dispatch_id = n.dispatch_id and di.state = 'planned'
                       where n.group_id = b.group_id and n.lot_id = b.lot_id and n.place_id = b.account_id), 0)::int8 as promised
       from place pl
       join balance b on b.group_id = pl.group_id and b.account_id = pl.place_id and b.quantity > 0
       join lot l on l.group_id = b.group_id and l.lot_id = b.lot_id and l.item_id = $3::uuid
       join lot_state s on s.group_id = b.group_id and s.lot_id = b.lot_id
       cross join lateral (select ${partUseBy()} as use_by_at) d
      where pl.group_id = $1::uuid and pl.site_id = $2::uuid
      order by d.use_by_at, l.code, pl.place_id
      limit $4::int`,
    [tx.groupId, siteId, itemId, limit],
  );
}

export interface NamedSite {
  readonly siteId: string;
  readonly code: string;
  readonly name: string;
  readonly timeZone: string;
}

/** Sites by id or by code. */
export async function findSitesNamed(tx: Tx, names: readonly string[]): Promise<NamedSite[]> {
  return tx.query<NamedSite>(
    `select s.site_id as "siteId", s.code, s.name, s.time_zone as "timeZone" from site s
      where s.group_id = $1::uuid and (s.code = any($2::text[]) or s.site_id::text = any($2::text[]))`,
    [tx.groupId, names],
  );
}
