/** SQL of receiving: when receipts close by themselves, what is on the road to a site and what stands there. */
import type { Tx } from '../../../platform/db/db.ts';

export interface PolicyRow {
  readonly siteId: string;
  readonly version: number;
  readonly closesWhenComplete: boolean;
  readonly closesAfterH: number | null;
  readonly note: string | null;
  readonly recordedAt: Date;
  readonly recordedBy: string;
}

/** Of each site every version, newest first; none: nothing closes by itself. */
export async function listPolicies(tx: Tx, siteIds: readonly string[]): Promise<PolicyRow[]> {
  return tx.query<PolicyRow>(
    `select p.site_id as "siteId", p.version, p.closes_when_complete as "closesWhenComplete", p.closes_after_h as "closesAfterH",
            p.note, p.recorded_at as "recordedAt", p.recorded_by as "recordedBy"
       from site_receiving_policy p
      where p.group_id = $1::uuid and p.site_id = any($2::uuid[])
      order by p.site_id, p.version desc`,
    [tx.groupId, siteIds],
  );
}

export async function insertPolicy(
  tx: Tx,
  row: Omit<PolicyRow, 'recordedAt'> & { readonly recordedAtMs: number },
): Promise<void> {
  await tx.query(
    `insert into site_receiving_policy (group_id, site_id, version, closes_when_complete, closes_after_h, note, recorded_at,
            recorded_by)
     values ($1::uuid, $2::uuid, $3::int, $4::boolean, $5::int, $6::text, to_timestamp($7::float8 / 1000), $8::uuid)`,
    [
      tx.groupId,
      row.siteId,
      row.version,
      row.closesWhenComplete,
      row.closesAfterH,
      row.note,
      row.recordedAtMs,
      row.recordedBy,
    ],
  );
}

interface DueRow {
  readonly dispatchId: string;
  readonly closesAfterH: number;
  /** whose policy it is */
  readonly policyBy: string;
}

/** Dispatches on the road for longer than their site's policy waits. */
export async function listDue(tx: Tx, nowMs: number, limit: number): Promise<DueRow[]> {
  return tx.query<DueRow>(
    `select d.dispatch_id as "dispatchId", p.closes_after_h as "closesAfterH", p.recorded_by as "policyBy"
       from (select distinct on (v.site_id) v.site_id, v.closes_after_h, v.recorded_by
               from site_receiving_policy v where v.group_id = $1::uuid
              order by v.site_id, v.version desc) p
       join dispatch d on d.group_id = $1::uuid and d.to_site_id = p.site_id and d.state = 'departed'
      where p.closes_after_h is not null
        and d.departed_at <= to_timestamp($2::float8 / 1000) - make_interval(hours => p.closes_after_h)
      order by d.dispatch_id
      limit $3::int`,
    [tx.groupId, nowMs, limit],
  );
}

interface ComingRow {
  readonly dispatchId: string;
  readonly code: string;
  readonly purpose: string;
  readonly fromSiteId: string;
  readonly fromSiteName: string;
  readonly departedAt: Date | null;
  readonly vehicle: string | null;
}

export async function listComing(tx: Tx, toSiteId: string, limit: number): Promise<ComingRow[]> {
  return tx.query<ComingRow>(
    `select d.dispatch_id as "dispatchId", d.code, d.purpose, d.from_site_id as "fromSiteId", s.name as "fromSiteName",
            d.departed_at as "departedAt", d.vehicle
       from dispatch d
       join site s on s.group_id = d.group_id and s.site_id = d.from_site_id
      where d.group_id = $1::uuid and d.to_site_id = $2::uuid and d.state = 'departed'
      order by d.departed_at, d.dispatch_id
      limit $3::int`,
    [tx.groupId, toSiteId, limit],
  );
}

export interface PartRow {
  readonly lotId: string;
  readonly accountId: string;
  /** null: on the road to the site */
  readonly placeCode: string | null;
  readonly quarantine: boolean;
  readonly quantity: number;
}

/** What stands at a site or is on the road to it. */
export async function listParts(tx: Tx, siteId: string, limit: number): Promise<PartRow[]> {
  return tx.query<PartRow>(
    `select b.lot_id as "lotId", b.account_id as "accountId", pl.code as "placeCode",
            coalesce(pl.quarantine, false) as quarantine, b.quantity
       from account a
       join balance b on b.group_id = a.group_id and b.account_id = a.account_id and b.quantity > 0
       left join place pl on pl.group_id = a.group_id and pl.place_id = a.account_id
      where a.group_id = $1::uuid
        and ((a.kind = 'place' and a.site_id = $2::uuid) or (a.kind = 'transit' and a.to_site_id = $2::uuid))
      order by b.lot_id, b.account_id
      limit $3::int`,
    [tx.groupId, siteId, limit],
  );
}
