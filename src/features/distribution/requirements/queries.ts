/** Read SQL for what is done about requirements: stock that may go, what is planned already, what was sent and accepted, recipes. */
import type { SentLine } from '../../../domain/coverage.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { partUseBy } from '../../ledger/index.ts';

export interface SentRow extends SentLine {
  readonly itemId: string;
  readonly itemName: string;
}

/** All lines of every dispatch that carries anything for one of these requirements. */
export async function listSent(tx: Tx, requirementIds: readonly string[]): Promise<SentRow[]> {
  return tx.query<SentRow>(
    `select n.dispatch_id as "dispatchId", n.line_no as "lineNo", d.state, n.requirement_id as "requirementId",
            n.lot_id as "lotId", n.quantity as packs, coalesce(i.portions_per_unit, 1) as "portionsPerPack",
            i.item_id as "itemId", i.name as "itemName"
       from dispatch_line n
       join dispatch d on d.group_id = n.group_id and d.dispatch_id = n.dispatch_id and d.purpose = 'delivery'
       join lot l on l.group_id = n.group_id and l.lot_id = n.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
      where n.group_id = $1::uuid
        and n.dispatch_id in (select m.dispatch_id from dispatch_line m
                               where m.group_id = $1::uuid and m.requirement_id = any($2::uuid[]))
      order by n.dispatch_id, n.line_no`,
    [tx.groupId, requirementIds],
  );
}

/** Packs found good on arrival, by dispatch and lot; what was undone since is taken off again. */
export async function listAccepted(
  tx: Tx,
  dispatchIds: readonly string[],
): Promise<{ dispatchId: string; lotId: string; packs: number }[]> {
  return tx.query(
    `with legs as (
       select e.dispatch_id, p.lot_id, coalesce(o.kind, e.kind) as kind,
              case when e.kind = 'reversal' then -p.quantity else p.quantity end as quantity,
              case when e.kind = 'reversal' then p.from_account_id else p.to_account_id end as to_account_id
         from entry e
         join posting p on p.group_id = e.group_id and p.seq = e.seq
         left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
        where e.group_id = $1::uuid and e.dispatch_id = any($2::uuid[])
     )
     select g.dispatch_id as "dispatchId", g.lot_id as "lotId", sum(g.quantity)::int8 as packs
       from legs g
       join account a on a.group_id = $1::uuid and a.account_id = g.to_account_id
       left join place pl on pl.group_id = $1::uuid and pl.place_id = coalesce(a.twin_of, a.account_id)
      where g.kind = 'receipt' and not coalesce(pl.quarantine, false)
      group by g.dispatch_id, g.lot_id`,
    [tx.groupId, dispatchIds],
  );
}

export interface StockPartRow {
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemId: string;
  readonly itemName: string;
  readonly placeId: string;
  readonly placeName: string;
  readonly quarantine: boolean;
  readonly packs: number;
  readonly useByMs: number | null;
}

/** What there is of these items at a site, in pieces. */
export async function listStockParts(tx: Tx, siteId: string, itemIds: readonly string[]): Promise<StockPartRow[]> {
  return tx.query<StockPartRow>(
    `select b.lot_id as "lotId", l.code as "lotCode", l.item_id as "itemId", i.name as "itemName", pl.place_id as "placeId",
            pl.name as "placeName", pl.quarantine, b.quantity as packs,
            case when d.use_by_at = 'infinity' then null else (extract(epoch from d.use_by_at) * 1000)::int8 end as "useByMs"
       from place pl
       join balance b on b.group_id = pl.group_id and b.account_id = pl.place_id and b.quantity <> 0
       join lot l on l.group_id = b.group_id and l.lot_id = b.lot_id
       join lot_state s on s.group_id = b.group_id and s.lot_id = b.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       cross join lateral (select ${partUseBy()} as use_by_at) d
      where pl.group_id = $1::uuid and pl.site_id = $2::uuid and b.quantity > 0 and l.item_id = any($3::uuid[])
        and l.unit = 'piece'
      order by d.use_by_at, l.code, pl.place_id`,
    [tx.groupId, siteId, itemIds],
  );
}

export interface PromisedRow {
  readonly lotId: string;
  readonly placeId: string;
  readonly requirementId: string | null;
  readonly packs: number;
}

/** What dispatches that have not left are to take from a site. */
export async function listPromised(tx: Tx, fromSiteId: string, lotIds: readonly string[]): Promise<PromisedRow[]> {
  return tx.query<PromisedRow>(
    `select n.lot_id as "lotId", n.place_id as "placeId", n.requirement_id as "requirementId", sum(n.quantity)::int8 as packs
       from dispatch_line n
       join dispatch d on d.group_id = n.group_id and d.dispatch_id = n.dispatch_id
      where n.group_id = $1::uuid and d.from_site_id = $2::uuid and d.state = 'planned' and n.lot_id = any($3::uuid[])
      group by n.lot_id, n.place_id, n.requirement_id`,
    [tx.groupId, fromSiteId, lotIds],
  );
}

export interface RecipeFactsRow {
  readonly recipeId: string;
  readonly itemId: string;
  readonly code: string;
  readonly name: string;
  readonly expectedYieldPpm: number;
  readonly inputs: readonly {
    readonly itemId: string;
    readonly quantity: number;
    readonly unit: 'mg' | 'g' | 'ml' | 'piece';
  }[];
}

/** Active recipes that make one of these items. */
export async function listRecipesOf(tx: Tx, itemIds: readonly string[]): Promise<RecipeFactsRow[]> {
  return tx.query<RecipeFactsRow>(
    `select r.recipe_id as "recipeId", r.item_id as "itemId", r.code, r.name, r.expected_yield_ppm as "expectedYieldPpm",
            r.inputs
       from recipe r where r.group_id = $1::uuid and r.item_id = any($2::uuid[]) and r.active
      order by r.code, r.recipe_id limit 1000`,
    [tx.groupId, itemIds],
  );
}
