/** SQL of requirements and short picks. */
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';
import type { AskedFor } from './names.ts';

export interface RequirementRow extends AskedFor {
  readonly requirementId: string;
  readonly siteCode: string;
  readonly siteName: string;
  readonly timeZone: string;
  readonly itemCode: string;
  readonly itemName: string;
  /** as it stands */
  readonly portions: number;
  readonly note: string | null;
  readonly revision: number;
  readonly recordedAt: Date;
  readonly recordedBy: string;
  /** what the item is today */
  readonly itemTextureLevel: number | null;
  readonly itemDietCodes: readonly string[];
  readonly portionsPerPack: number;
  readonly unitMassMg: number;
  readonly openedItemId: string | null;
}

const COLUMNS = `r.requirement_id as "requirementId", r.site_id as "siteId", si.code as "siteCode", si.name as "siteName",
  si.time_zone as "timeZone", r.service_date as "serviceDate", r.meal, r.item_id as "itemId", i.code as "itemCode",
  i.name as "itemName", r.texture_level as "textureLevel", r.diet_codes as "dietCodes", n.portions, n.note, n.revision,
  n.recorded_at as "recordedAt", n.recorded_by as "recordedBy", i.texture_level as "itemTextureLevel",
  i.diet_codes as "itemDietCodes", coalesce(i.portions_per_unit, 1) as "portionsPerPack", i.net_weight_mg as "unitMassMg",
  i.opened_item_id as "openedItemId"`;

/** With the number that stands. */
const FROM = `requirement r
  join site si on si.group_id = r.group_id and si.site_id = r.site_id
  join item i on i.group_id = r.group_id and i.item_id = r.item_id
  join lateral (
    select m.portions, m.note, m.revision, m.recorded_at, m.recorded_by from requirement_number m
     where m.group_id = r.group_id and m.requirement_id = r.requirement_id
     order by m.revision desc limit 1) n on true`;

export async function findRequirements(
  tx: Tx,
  requirementIds: readonly string[],
): Promise<Map<string, RequirementRow>> {
  const rows = await tx.query<RequirementRow>(
    `select ${COLUMNS} from ${FROM} where r.group_id = $1::uuid and r.requirement_id = any($2::uuid[])`,
    [tx.groupId, requirementIds],
  );
  return new Map(rows.map((row) => [row.requirementId, row]));
}

export async function listRequirementRows(
  tx: Tx,
  scope: SiteScope,
  filter: {
    siteId: string | null;
    serviceDate: string | null;
    meal: string | null;
    itemId: string | null;
    cancelled: boolean;
  },
  page: Page,
): Promise<RequirementRow[]> {
  return tx.query<RequirementRow>(
    `select ${COLUMNS} from ${FROM}
      where r.group_id = $1::uuid and ($2::boolean or r.site_id = any($3::uuid[]))
        and ($4::uuid is null or r.site_id = $4::uuid)
        and ($5::date is null or r.service_date = $5::date)
        and ($6::text is null or r.meal = $6::text)
        and ($7::uuid is null or r.item_id = $7::uuid)
        and ($8::boolean or n.portions > 0)
        and ($9::date is null or (r.service_date, r.requirement_id) > ($9::date, $10::uuid))
      order by r.service_date, r.requirement_id
      limit $11::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.serviceDate,
      filter.meal,
      filter.itemId,
      filter.cancelled,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      page.limit + 1,
    ],
  );
}

/** Of one site, or of all when it is null; from one day to another, both included. */
export async function listRequirementsOn(
  tx: Tx,
  wanted: { siteId: string | null; from: string; to: string; meal: string | null },
  limit: number,
): Promise<RequirementRow[]> {
  return tx.query<RequirementRow>(
    `select ${COLUMNS} from ${FROM}
      where r.group_id = $1::uuid and ($2::uuid is null or r.site_id = $2::uuid)
        and r.service_date between $3::date and $4::date
        and ($5::text is null or r.meal = $5::text)
      order by r.service_date, i.code, r.texture_level nulls first, si.code, r.requirement_id
      limit $6::int`,
    [tx.groupId, wanted.siteId, wanted.from, wanted.to, wanted.meal, limit],
  );
}

export interface NumberRow {
  readonly revision: number;
  readonly portions: number;
  readonly note: string | null;
  readonly factId: string;
  readonly recordedAt: Date;
  readonly recordedBy: string;
}

export async function listNumbers(tx: Tx, requirementId: string): Promise<NumberRow[]> {
  return tx.query<NumberRow>(
    `select m.revision, m.portions, m.note, m.fact_id as "factId", m.recorded_at as "recordedAt",
            m.recorded_by as "recordedBy"
       from requirement_number m where m.group_id = $1::uuid and m.requirement_id = $2::uuid
      order by m.revision desc limit 200`,
    [tx.groupId, requirementId],
  );
}

export interface NewNumber extends AskedFor {
  readonly requirementId: string;
  readonly portions: number;
  readonly note: string | null;
}

/** In key order, so that two bulk facts wait for each other and not crosswise. */
export async function insertRequirements(tx: Tx, rows: readonly NewNumber[]): Promise<void> {
  await tx.query(
    `insert into requirement (group_id, requirement_id, site_id, service_date, meal, item_id, texture_level, diet_codes)
     select $1::uuid, r."requirementId", r."siteId", r."serviceDate", r.meal, r."itemId", r."textureLevel", r."dietCodes"
       from jsonb_to_recordset($2::jsonb) as r("requirementId" uuid, "siteId" uuid, "serviceDate" date, meal text,
            "itemId" uuid, "textureLevel" smallint, "dietCodes" text[])
      order by r."requirementId"
     on conflict (group_id, requirement_id) do nothing`,
    [tx.groupId, JSON.stringify(rows)],
  );
}

/** Two at once take the same revision: the second breaks the primary key and starts again. */
export async function insertNumbers(
  tx: Tx,
  rows: readonly NewNumber[],
  fact: { factId: string; actorId: string; nowMs: number },
): Promise<void> {
  await tx.query(
    `insert into requirement_number (group_id, requirement_id, revision, fact_id, portions, note, recorded_at, recorded_by)
     select $1::uuid, r."requirementId",
            1 + coalesce((select max(m.revision) from requirement_number m
                           where m.group_id = $1::uuid and m.requirement_id = r."requirementId"), 0),
            $3::uuid, r.portions, r.note, to_timestamp($4::float8 / 1000), $5::uuid
       from jsonb_to_recordset($2::jsonb) as r("requirementId" uuid, portions int, note text)
      order by r."requirementId"`,
    [tx.groupId, JSON.stringify(rows), fact.factId, fact.nowMs, fact.actorId],
  );
}

export interface NamedSite {
  readonly siteId: string;
  readonly code: string;
}

/** Sites by id or by code. */
export async function findSitesNamed(
  tx: Tx,
  siteIds: readonly string[],
  codes: readonly string[],
): Promise<NamedSite[]> {
  return tx.query<NamedSite>(
    `select s.site_id as "siteId", s.code from site s
      where s.group_id = $1::uuid and (s.site_id = any($2::uuid[]) or s.code = any($3::text[]))`,
    [tx.groupId, siteIds, codes],
  );
}

export interface NamedItem {
  readonly itemId: string;
  readonly code: string;
  readonly name: string;
  readonly kind: string;
  readonly unit: string;
}

/** Items by id or by code. */
export async function findItemsNamed(
  tx: Tx,
  itemIds: readonly string[],
  codes: readonly string[],
): Promise<NamedItem[]> {
  return tx.query<NamedItem>(
    `select i.item_id as "itemId", i.code, i.name, i.kind, i.unit from item i
      where i.group_id = $1::uuid and (i.item_id = any($2::uuid[]) or i.code = any($3::text[]))`,
    [tx.groupId, itemIds, codes],
  );
}

export interface ShortPickRow {
  readonly shortPickId: string;
  readonly dispatchId: string;
  readonly requirementId: string;
  readonly shortPortions: number;
  readonly reason: string;
}

export async function insertShortPick(tx: Tx, row: ShortPickRow, actorId: string, nowMs: number): Promise<void> {
  await tx.query(
    `insert into short_pick (group_id, short_pick_id, dispatch_id, requirement_id, short_portions, reason, recorded_at,
            recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::int, $6::text, to_timestamp($7::float8 / 1000), $8::uuid)`,
    [tx.groupId, row.shortPickId, row.dispatchId, row.requirementId, row.shortPortions, row.reason, nowMs, actorId],
  );
}

/** The last one for each dispatch and requirement. */
export async function listShortPicks(
  tx: Tx,
  requirementIds: readonly string[],
): Promise<(ShortPickRow & { readonly recordedAt: Date })[]> {
  return tx.query<ShortPickRow & { recordedAt: Date }>(
    `select distinct on (p.requirement_id, p.dispatch_id) p.short_pick_id as "shortPickId", p.dispatch_id as "dispatchId",
            p.requirement_id as "requirementId", p.short_portions as "shortPortions", p.reason, p.recorded_at as "recordedAt"
       from short_pick p
      where p.group_id = $1::uuid and p.requirement_id = any($2::uuid[])
      order by p.requirement_id, p.dispatch_id, p.recorded_at desc, p.short_pick_id desc`,
    [tx.groupId, requirementIds],
  );
}
