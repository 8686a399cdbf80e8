/** SQL of what is on its way to a site, with the crates that it is in. */
import type { Tx } from '../../platform/db/db.ts';
import { listCodesEverInside, listOuterCrates } from './crates/nesting.ts';

interface LineRow {
  readonly dispatchId: string;
  readonly lotId: string;
  readonly serials: string[];
  readonly crateCode: string | null;
  readonly quantity: number;
  /** its dispatch has left */
  readonly left: boolean;
}

interface TimedRow extends LineRow {
  /** when its dispatch left; the end of all time while it has not, so that what was placed last counts */
  readonly atMs: number;
}

export interface CarriedRow extends LineRow {
  /** its own crate's code, then those of the crates around that one when the dispatch left (as placed last, while it has not); none: loose packs */
  readonly crateCodes: readonly string[];
}

async function listLinesTo(
  tx: Tx,
  toSiteId: string,
  lotIds: readonly string[],
  crateCodes: readonly string[],
): Promise<TimedRow[]> {
  return tx.query<TimedRow>(
    `select n.dispatch_id as "dispatchId", n.lot_id as "lotId", n.serials, n.crate_code as "crateCode", n.quantity,
            d.state <> 'planned' as "left",
            (extract(epoch from coalesce(d.departed_at, timestamptz '9999-12-31Z')) * 1000)::int8 as "atMs"
       from dispatch_line n
       join dispatch d on d.group_id = n.group_id and d.dispatch_id = n.dispatch_id and d.to_site_id = $2::uuid
      where n.group_id = $1::uuid and (n.lot_id = any($3::uuid[]) or n.crate_code = any($4::text[]))
      order by d.departed_at desc nulls last, d.dispatch_id, n.line_no`,
    [tx.groupId, toSiteId, lotIds, crateCodes],
  );
}

/** Adds the crates around each line's own. */
export async function withOuterCrates<Row extends { readonly crateCode: string | null; readonly atMs: number }>(
  tx: Tx,
  rows: readonly Row[],
): Promise<(Row & { readonly crateCodes: readonly string[] })[]> {
  const asked = new Map<string, { code: string; atMs: number }>();
  for (const { crateCode, atMs } of rows)
    if (crateCode !== null) asked.set(`${crateCode}|${atMs}`, { code: crateCode, atMs });
  const around = new Map<string, string[]>();
  for (const { code, atMs, outerCode } of await listOuterCrates(tx, [...asked.values()])) {
    const key = `${code}|${atMs}`;
    around.set(key, [...(around.get(key) ?? []), outerCode]);
  }
  return rows.map((row) => ({
    ...row,
    crateCodes: row.crateCode === null ? [] : [row.crateCode, ...(around.get(`${row.crateCode}|${row.atMs}`) ?? [])],
  }));
}

/**
 * What dispatches to a site carry of these lots, or in these crates and the crates in those; newest dispatch first. Crates around a
 * line's own are looked up only when crates are asked for.
 */
export async function findCarried(
  tx: Tx,
  toSiteId: string,
  lotIds: readonly string[],
  crateCodes: readonly string[],
): Promise<CarriedRow[]> {
  const codes = crateCodes.length > 0 ? await listCodesEverInside(tx, crateCodes) : [];
  const rows = await listLinesTo(tx, toSiteId, lotIds, codes);
  if (crateCodes.length === 0)
    return rows.map((row) => ({ ...row, crateCodes: row.crateCode === null ? [] : [row.crateCode] }));
  const lots = new Set(lotIds);
  const wanted = new Set(crateCodes);
  // what is in those crates was in them at some time; it counts when it was in them when its dispatch left
  return (await withOuterCrates(tx, rows)).filter(
    (row) => lots.has(row.lotId) || row.crateCodes.some((code) => wanted.has(code)),
  );
}

/** A line that was sent, or is planned, to another site than the one that asks. */
export interface AstrayRow extends CarriedRow {
  readonly dispatchCode: string;
  readonly state: 'planned' | 'departed' | 'closed';
  readonly toSiteId: string;
  readonly toSiteName: string;
}

async function listLinesElsewhere(
  tx: Tx,
  siteId: string,
  lotIds: readonly string[],
  serials: readonly string[],
  crateCodes: readonly string[],
): Promise<(TimedRow & AstrayRow)[]> {
  return tx.query<TimedRow & AstrayRow>(
    `select n.dispatch_id as "dispatchId", n.lot_id as "lotId", n.serials, n.crate_code as "crateCode", n.quantity,
            d.state <> 'planned' as "left",
            (extract(epoch from coalesce(d.departed_at, timestamptz '9999-12-31Z')) * 1000)::int8 as "atMs",
            d.code as "dispatchCode", d.state, d.to_site_id as "toSiteId", t.name as "toSiteName"
       from dispatch_line n
       join dispatch d on d.group_id = n.group_id and d.dispatch_id = n.dispatch_id and d.to_site_id <> $2::uuid
       join site t on t.group_id = d.group_id and t.site_id = d.to_site_id
      where n.group_id = $1::uuid
        and (n.lot_id = any($3::uuid[]) and (d.state = 'departed' or n.serials && $4::text[]) or n.crate_code = any($5::text[]))
      order by d.departed_at desc nulls last, d.dispatch_id, n.line_no
      limit 2000`,
    [tx.groupId, siteId, lotIds, serials, crateCodes],
  );
}

/** What is on the road to other sites of these lots, was ever sent there by these serials, or is in these crates; newest dispatch first. */
export async function findAstray(
  tx: Tx,
  siteId: string,
  asked: {
    readonly lotIds: readonly string[];
    readonly serials: readonly string[];
    readonly crateCodes: readonly string[];
  },
): Promise<AstrayRow[]> {
  const codes = asked.crateCodes.length > 0 ? await listCodesEverInside(tx, asked.crateCodes) : [];
  const rows = await listLinesElsewhere(tx, siteId, asked.lotIds, asked.serials, codes);
  return withOuterCrates(tx, rows);
}
