/** SQL on site. */
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Address } from '../../../platform/http/address.ts';
import type { Page } from '../../../platform/http/paging.ts';
import { byId } from '../store.ts';

export interface SiteRow {
  readonly siteId: string;
  readonly code: string;
  readonly name: string;
  readonly kind: 'central-kitchen' | 'satellite';
  /** IANA name */
  readonly timeZone: string;
  /** ISO 3166-1 or 3166-2, as in GB-ENG */
  readonly jurisdiction: string;
  readonly gln: string | null;
  readonly address: Address | null;
  readonly receivingPlaceId: string;
  readonly quarantinePlaceId: string;
  /** where food is presumed to be put, by how it is kept */
  readonly putAway: Readonly<Record<'chilled' | 'frozen' | 'ambient', string | null>>;
  /** what its waste is reported under, of the five of Delegated Decision (EU) 2019/1597; null: by reason */
  readonly foodWasteStage: string | null;
  readonly version: number;
}

const COLUMNS = `s.site_id as "siteId", s.code, s.name, s.kind, s.time_zone as "timeZone", s.jurisdiction, s.gln, s.address,
  s.receiving_place_id as "receivingPlaceId", s.quarantine_place_id as "quarantinePlaceId",
  json_build_object('chilled', s.put_away_chilled_place_id, 'frozen', s.put_away_frozen_place_id,
    'ambient', s.put_away_ambient_place_id) as "putAway", s.food_waste_stage as "foodWasteStage", s.version`;

const addressJson = ({ address }: SiteRow): string | null => (address === null ? null : JSON.stringify(address));

export async function findSites(tx: Tx, siteIds: readonly string[]): Promise<Map<string, SiteRow>> {
  const rows = await tx.query<SiteRow>(
    `select ${COLUMNS} from site s where s.group_id = $1::uuid and s.site_id = any($2::uuid[])`,
    [tx.groupId, siteIds],
  );
  return byId(rows, (row) => row.siteId);
}

export async function lockSite(tx: Tx, siteId: string): Promise<SiteRow | null> {
  const rows = await tx.query<SiteRow>(
    `select ${COLUMNS} from site s where s.group_id = $1::uuid and s.site_id = $2::uuid for update`,
    [tx.groupId, siteId],
  );
  return rows[0] ?? null;
}

/** Sites in scope by code, one more than the page holds. */
export async function listSites(tx: Tx, scope: SiteScope, page: Page): Promise<SiteRow[]> {
  return tx.query<SiteRow>(
    `select ${COLUMNS} from site s
      where s.group_id = $1::uuid and ($2::boolean or s.site_id = any($3::uuid[]))
        and ($4::text is null or (s.code, s.site_id) > ($4::text, $5::uuid))
      order by s.code, s.site_id limit $6::int`,
    [tx.groupId, scope.all, scope.siteIds, page.after?.[0] ?? null, page.after?.[1] ?? null, page.limit + 1],
  );
}

export async function insertSite(tx: Tx, site: SiteRow): Promise<void> {
  await tx.query(
    `insert into site (group_id, site_id, code, name, kind, time_zone, jurisdiction, gln, receiving_place_id,
       quarantine_place_id, version, address, food_waste_stage)
     values ($1::uuid, $2::uuid, $3::text, $4::text, $5::text, $6::text, $7::text, $8::text, $9::uuid, $10::uuid,
       $11::int, $12::jsonb, $13::text)`,
    [
      tx.groupId,
      site.siteId,
      site.code,
      site.name,
      site.kind,
      site.timeZone,
      site.jurisdiction,
      site.gln,
      site.receivingPlaceId,
      site.quarantinePlaceId,
      site.version,
      addressJson(site),
      site.foodWasteStage,
    ],
  );
}

export async function updateSite(tx: Tx, site: SiteRow): Promise<void> {
  await tx.query(
    `update site set name = $3::text, gln = $4::text, jurisdiction = $5::text, receiving_place_id = $6::uuid,
       version = $7::int, put_away_chilled_place_id = $8::uuid, put_away_frozen_place_id = $9::uuid,
       put_away_ambient_place_id = $10::uuid, address = $11::jsonb, food_waste_stage = $12::text
      where group_id = $1::uuid and site_id = $2::uuid`,
    [
      tx.groupId,
      site.siteId,
      site.name,
      site.gln,
      site.jurisdiction,
      site.receivingPlaceId,
      site.version,
      site.putAway.chilled,
      site.putAway.frozen,
      site.putAway.ambient,
      addressJson(site),
      site.foodWasteStage,
    ],
  );
}

/** Where food that is kept so is presumed to be when nobody says. */
export function presumedPlaceId(site: SiteRow, storage: 'chilled' | 'frozen' | 'ambient'): string {
  return site.putAway[storage] ?? site.receivingPlaceId;
}
