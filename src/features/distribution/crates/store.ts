/** SQL of crates and of what was put into what. */
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';

export interface CrateRow {
  readonly crateId: string;
  /** what is on its label and what a dispatch line calls it */
  readonly code: string;
  /** null: it has a code of the group's own */
  readonly sscc: string | null;
  readonly kind: 'crate' | 'roll-cage' | 'pallet';
  readonly boxTypeId: string | null;
  readonly boxTypeCode: string | null;
  /** where it was made */
  readonly siteId: string;
  readonly madeAt: Date;
}

const COLUMNS = `c.crate_id as "crateId", c.code, c.sscc, c.kind, c.box_type_id as "boxTypeId", b.code as "boxTypeCode",
  c.site_id as "siteId", c.made_at as "madeAt"`;
const FROM = 'crate c left join box_type b on b.group_id = c.group_id and b.box_type_id = c.box_type_id';

/** Crates on lines of these dispatches, and every crate that one of those was ever in. Worked out once, not for each crate. */
const carriedBy = (dispatches: string) => `c.crate_id in (
    with recursive around as (
      select k.crate_id
        from dispatch d
        join dispatch_line n on n.group_id = d.group_id and n.dispatch_id = d.dispatch_id
        join crate k on k.group_id = n.group_id and k.code = n.crate_code
       where d.group_id = $1::uuid and ${dispatches}
      union
      select p.into_crate_id
        from around a join crate_placement p on p.group_id = $1::uuid and p.crate_id = a.crate_id
       where p.into_crate_id is not null)
    select a.crate_id from around a)`;

/** Made at one of these sites, or on a dispatch from or to one of them. */
const touches = (sites: string) =>
  `(c.site_id = any(${sites}) or ${carriedBy(`(d.from_site_id = any(${sites}) or d.to_site_id = any(${sites}))`)})`;

export async function findCrates(tx: Tx, crateIds: readonly string[]): Promise<Map<string, CrateRow>> {
  const rows = await tx.query<CrateRow>(
    `select ${COLUMNS} from ${FROM} where c.group_id = $1::uuid and c.crate_id = any($2::uuid[])`,
    [tx.groupId, crateIds],
  );
  return new Map(rows.map((row) => [row.crateId, row]));
}

/** By what is on their labels. */
export async function findCratesByCode(tx: Tx, codes: readonly string[]): Promise<Map<string, CrateRow>> {
  const rows = await tx.query<CrateRow>(
    `select ${COLUMNS} from ${FROM} where c.group_id = $1::uuid and c.code = any($2::text[])`,
    [tx.groupId, codes],
  );
  return new Map(rows.map((row) => [row.code, row]));
}

/** Those that were made at your sites or went from or to one of them. */
export async function findVisibleCrates(
  tx: Tx,
  scope: SiteScope,
  crateIds: readonly string[],
): Promise<Map<string, CrateRow>> {
  const rows = await tx.query<CrateRow>(
    `select ${COLUMNS} from ${FROM}
      where c.group_id = $1::uuid and c.crate_id = any($2::uuid[]) and ($3::boolean or ${touches('$4::uuid[]')})`,
    [tx.groupId, crateIds, scope.all, scope.siteIds],
  );
  return new Map(rows.map((row) => [row.crateId, row]));
}

export async function listCrateRows(
  tx: Tx,
  scope: SiteScope,
  filter: { siteId: string | null; dispatchId: string | null; code: string | null },
  page: Page,
): Promise<CrateRow[]> {
  return tx.query<CrateRow>(
    `select ${COLUMNS} from ${FROM}
      where c.group_id = $1::uuid and ($2::boolean or ${touches('$3::uuid[]')})
        and ($4::uuid is null or ${touches('array[$4::uuid]')})
        and ($5::uuid is null or ${carriedBy('d.dispatch_id = $5::uuid')})
        and ($6::text is null or c.code = $6::text)
        and ($7::uuid is null or c.crate_id > $7::uuid)
      order by c.crate_id
      limit $8::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.dispatchId,
      filter.code,
      page.after?.[0] ?? null,
      page.limit + 1,
    ],
  );
}

export interface NewCrate {
  readonly crateId: string;
  readonly code: string;
  readonly sscc: string | null;
}

export async function insertCrates(
  tx: Tx,
  order: { orderId: string; kind: CrateRow['kind']; boxTypeId: string | null; siteId: string; madeBy: string },
  crates: readonly NewCrate[],
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into crate (group_id, crate_id, code, sscc, kind, box_type_id, site_id, order_id, position, made_at, made_by)
     select $1::uuid, r.crate_id, r.code, r.sscc, $2::text, $3::uuid, $4::uuid, $5::uuid, r.position,
            to_timestamp($6::float8 / 1000), $7::uuid
       from unnest($8::uuid[], $9::text[], $10::text[]) with ordinality as r(crate_id, code, sscc, position)`,
    [
      tx.groupId,
      order.kind,
      order.boxTypeId,
      order.siteId,
      order.orderId,
      nowMs,
      order.madeBy,
      crates.map((crate) => crate.crateId),
      crates.map((crate) => crate.code),
      crates.map((crate) => crate.sscc),
    ],
  );
}

export interface PlacementRow {
  readonly placementId: string;
  readonly crateId: string;
  readonly crateCode: string;
  readonly intoCrateId: string | null;
  readonly intoCrateCode: string | null;
  readonly siteId: string;
  readonly occurredAt: Date;
  readonly recordedAt: Date;
}

const PLACEMENT = `p.crate_placement_id as "placementId", p.crate_id as "crateId", c.code as "crateCode",
  p.into_crate_id as "intoCrateId", o.code as "intoCrateCode", p.site_id as "siteId", p.occurred_at as "occurredAt",
  p.recorded_at as "recordedAt"`;
const PLACEMENTS = `crate_placement p
  join crate c on c.group_id = p.group_id and c.crate_id = p.crate_id
  left join crate o on o.group_id = p.group_id and o.crate_id = p.into_crate_id`;

/** Placements of a crate, and of others into it; the latest first. */
export async function listPlacementsOf(tx: Tx, crateId: string, limit: number): Promise<PlacementRow[]> {
  return tx.query<PlacementRow>(
    `select ${PLACEMENT} from ${PLACEMENTS}
      where p.group_id = $1::uuid and (p.crate_id = $2::uuid or p.into_crate_id = $2::uuid)
      order by p.occurred_at desc, p.crate_placement_id desc
      limit $3::int`,
    [tx.groupId, crateId, limit],
  );
}

export async function insertPlacement(
  tx: Tx,
  row: Pick<PlacementRow, 'placementId' | 'crateId' | 'intoCrateId' | 'siteId'> & {
    readonly occurredAtMs: number;
    readonly recordedBy: string;
  },
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into crate_placement (group_id, crate_placement_id, crate_id, into_crate_id, site_id, occurred_at, recorded_at,
            recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::uuid, to_timestamp($6::float8 / 1000),
            to_timestamp($7::float8 / 1000), $8::uuid)`,
    [tx.groupId, row.placementId, row.crateId, row.intoCrateId, row.siteId, row.occurredAtMs, nowMs, row.recordedBy],
  );
}
