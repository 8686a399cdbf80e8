/** SQL on place. */
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';
import { byId } from '../store.ts';

export interface NewPlace {
  readonly placeId: string;
  readonly siteId: string;
  readonly code: string;
  readonly name: string;
  readonly kind: 'chiller' | 'freezer' | 'ambient-store' | 'prep-area' | 'vehicle';
  readonly quarantine: boolean;
  /** what a count finds gone was used */
  readonly usedByCount: boolean;
  /** topped up: the set of lots since it was last empty */
  readonly bin: boolean;
  readonly version: number;
}

export interface PlaceRow extends NewPlace {
  /** the site's, IANA name */
  readonly timeZone: string;
}

const COLUMNS = `p.place_id as "placeId", p.site_id as "siteId", p.code, p.name, p.kind, p.quarantine, p.used_by_count as "usedByCount", p.is_bin as bin, p.version,
  s.time_zone as "timeZone"`;
const FROM = 'place p join site s on s.group_id = p.group_id and s.site_id = p.site_id';

export async function findPlaces(tx: Tx, placeIds: readonly string[]): Promise<Map<string, PlaceRow>> {
  const rows = await tx.query<PlaceRow>(
    `select ${COLUMNS} from ${FROM} where p.group_id = $1::uuid and p.place_id = any($2::uuid[])`,
    [tx.groupId, placeIds],
  );
  return byId(rows, (row) => row.placeId);
}

/** Places of one site, keyed by code. */
export async function findPlacesByCode(
  tx: Tx,
  siteId: string,
  codes: readonly string[],
): Promise<Map<string, PlaceRow>> {
  const rows = await tx.query<PlaceRow>(
    `select ${COLUMNS} from ${FROM} where p.group_id = $1::uuid and p.site_id = $2::uuid and p.code = any($3::text[])`,
    [tx.groupId, siteId, codes],
  );
  return byId(rows, (row) => row.code);
}

export async function lockPlace(tx: Tx, placeId: string): Promise<PlaceRow | null> {
  const rows = await tx.query<PlaceRow>(
    `select ${COLUMNS} from ${FROM} where p.group_id = $1::uuid and p.place_id = $2::uuid for update of p`,
    [tx.groupId, placeId],
  );
  return rows[0] ?? null;
}

/** Places in scope by code, one more than the page holds. */
export async function listPlaces(tx: Tx, scope: SiteScope, siteId: string | null, page: Page): Promise<PlaceRow[]> {
  return tx.query<PlaceRow>(
    `select ${COLUMNS} from ${FROM}
      where p.group_id = $1::uuid and ($2::boolean or p.site_id = any($3::uuid[]))
        and ($4::uuid is null or p.site_id = $4::uuid)
        and ($5::text is null or (p.code, p.place_id) > ($5::text, $6::uuid))
      order by p.code, p.place_id limit $7::int`,
    [tx.groupId, scope.all, scope.siteIds, siteId, page.after?.[0] ?? null, page.after?.[1] ?? null, page.limit + 1],
  );
}

export async function insertPlaces(tx: Tx, places: readonly NewPlace[]): Promise<void> {
  await tx.query(
    `insert into place (group_id, place_id, site_id, code, name, kind, quarantine, used_by_count, is_bin, version)
     select $1::uuid, p."placeId", p."siteId", p.code, p.name, p.kind, p.quarantine, p."usedByCount", p.bin, p.version
       from jsonb_to_recordset($2::jsonb) as p("placeId" uuid, "siteId" uuid, code text, name text, kind text,
            quarantine boolean, "usedByCount" boolean, bin boolean, version int)`,
    [tx.groupId, JSON.stringify(places)],
  );
}

export async function updatePlace(tx: Tx, place: NewPlace): Promise<void> {
  await tx.query(
    `update place set name = $3::text, kind = $4::text, version = $5::int, used_by_count = $6::boolean,
            is_bin = $7::boolean
      where group_id = $1::uuid and place_id = $2::uuid`,
    [tx.groupId, place.placeId, place.name, place.kind, place.version, place.usedByCount, place.bin],
  );
}
