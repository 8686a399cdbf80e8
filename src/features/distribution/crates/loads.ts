/** What crates carry: lines of dispatches by their crate and the crates around it when they left. */
import type { Tx } from '../../../platform/db/db.ts';
import { withOuterCrates } from '../store-carried.ts';
import { listCodesEverInside } from './nesting.ts';

interface LoadRow {
  readonly dispatchId: string;
  readonly dispatchCode: string;
  readonly fromSiteId: string;
  readonly toSiteId: string;
  readonly state: 'planned' | 'departed' | 'closed';
  readonly departedAt: Date | null;
  /** when its dispatch left; the end of all time while it has not */
  readonly atMs: number;
  readonly lineNo: number;
  readonly crateCode: string;
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemId: string;
  readonly itemName: string;
  readonly quantity: number;
  readonly unit: string;
  readonly serials: string[];
}

export interface CrateLoadRow extends LoadRow {
  /** its own crate's code, then those of the crates around that one */
  readonly crateCodes: readonly string[];
}

const COLUMNS = `d.dispatch_id as "dispatchId", d.code as "dispatchCode", d.from_site_id as "fromSiteId",
  d.to_site_id as "toSiteId", d.state, d.departed_at as "departedAt",
  (extract(epoch from coalesce(d.departed_at, timestamptz '9999-12-31Z')) * 1000)::int8 as "atMs", n.line_no as "lineNo",
  n.crate_code as "crateCode", n.lot_id as "lotId", l.code as "lotCode", l.item_id as "itemId", i.name as "itemName",
  n.quantity, l.unit, n.serials`;
const JOINS = `join dispatch d on d.group_id = n.group_id and d.dispatch_id = n.dispatch_id
  join lot l on l.group_id = n.group_id and l.lot_id = n.lot_id
  join item i on i.group_id = l.group_id and i.item_id = l.item_id`;

async function listByCrate(tx: Tx, codes: readonly string[], mostDispatches: number): Promise<LoadRow[]> {
  return tx.query<LoadRow>(
    `with latest as (
       select distinct d.dispatch_id, d.departed_at
         from dispatch_line n join dispatch d on d.group_id = n.group_id and d.dispatch_id = n.dispatch_id
        where n.group_id = $1::uuid and n.crate_code = any($2::text[])
        order by d.departed_at desc nulls first, d.dispatch_id
        limit $3::int)
     select ${COLUMNS} from latest t
       join dispatch_line n on n.group_id = $1::uuid and n.dispatch_id = t.dispatch_id and n.crate_code = any($2::text[])
       ${JOINS}
      order by d.departed_at desc nulls first, d.dispatch_id, n.line_no`,
    [tx.groupId, codes, mostDispatches],
  );
}

/** Crated lines of these dispatches. */
async function listOfDispatches(tx: Tx, dispatchIds: readonly string[]): Promise<LoadRow[]> {
  return tx.query<LoadRow>(
    `select ${COLUMNS} from dispatch_line n ${JOINS}
      where n.group_id = $1::uuid and n.dispatch_id = any($2::uuid[]) and n.crate_code is not null
      order by n.dispatch_id, n.line_no`,
    [tx.groupId, dispatchIds],
  );
}

/** Lines that are, or were, in these crates or in crates in them; the newest dispatches first, those that have not left before all. */
export async function listCrateLoads(tx: Tx, codes: readonly string[], mostDispatches = 100): Promise<CrateLoadRow[]> {
  const ever = await listCodesEverInside(tx, codes);
  const rows = await withOuterCrates(tx, await listByCrate(tx, ever, mostDispatches));
  return rows.filter((row) => row.crateCodes.some((code) => codes.includes(code)));
}

/** What these dispatches carry in crates, each line with its crate and the crates around that one. */
export async function listDispatchLoads(tx: Tx, dispatchIds: readonly string[]): Promise<CrateLoadRow[]> {
  return withOuterCrates(tx, await listOfDispatches(tx, dispatchIds));
}
