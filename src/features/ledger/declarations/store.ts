/** SQL of what lots hold and their items do not declare, and of the graph that says why. */
import type { Tx } from '../../../platform/db/db.ts';
import type { AllergenLot } from '../../../domain/allergen-paths.ts';

export interface DeclaredRow {
  readonly lotId: string;
  readonly code: string;
  readonly itemId: string;
  readonly itemName: string;
  readonly origin: string;
  readonly siteId: string;
  readonly siteKind: 'central-kitchen' | 'satellite';
  readonly bornAtMs: number;
  readonly allergens: readonly string[];
  /** what its item declares now */
  readonly declared: readonly string[];
  /** what brought it about */
  readonly factId: string;
}

/**
 * Those of the lots, and of all that was made from them, that were made here, stand, and hold a code that is not among what their item
 * declares. A delivery has a finding of its own.
 */
export async function listBeyondItem(tx: Tx, lotIds: readonly string[]): Promise<DeclaredRow[]> {
  return tx.query<DeclaredRow>(
    `with recursive reach (lot_id) as (
       select unnest($2::uuid[])
       union
       select le.child_lot_id from reach r join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = r.lot_id
     )
     select l.lot_id as "lotId", l.code, l.item_id as "itemId", i.name as "itemName", l.origin, l.site_id as "siteId",
            si.kind as "siteKind", (extract(epoch from l.born_at) * 1000)::int8 as "bornAtMs", s.allergens,
            i.allergens as declared,
            born."factId"
       from reach r
       join lot l on l.group_id = $1::uuid and l.lot_id = r.lot_id and l.origin in ('produced', 'packed', 'converted')
       join lot_state s on s.group_id = l.group_id and s.lot_id = l.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       join site si on si.group_id = l.group_id and si.site_id = l.site_id
       join lateral (
         select min(e.fact_id::text)::uuid as "factId"
           from posting p
           join entry e on e.group_id = p.group_id and e.seq = p.seq and e.kind in ('batch-output', 'packing', 'conversion')
           join account a on a.group_id = p.group_id and a.account_id = p.from_account_id and a.kind = 'produced'
          where p.group_id = l.group_id and p.lot_id = l.lot_id
            and not exists (select from entry x where x.group_id = e.group_id and x.reverses_entry_id = e.entry_id)
       ) born on born."factId" is not null
      where not s.allergens <@ i.allergens
      order by l.born_at, l.lot_id`,
    [tx.groupId, lotIds],
  );
}

export interface ToldRow {
  readonly lotId: string;
  readonly status: 'open' | 'settled' | 'cleared';
  readonly codes: readonly string[];
  readonly factId: string;
}

/** What was found against these lots before, whatever became of it. */
export async function listToldUndeclared(tx: Tx, lotIds: readonly string[]): Promise<ToldRow[]> {
  return tx.query<ToldRow>(
    `select f.lot_id as "lotId", f.status, f.detail -> 'codes' as codes, f.detail ->> 'factId' as "factId"
       from finding f
      where f.group_id = $1::uuid and f.kind = 'allergen-undeclared' and f.lot_id = any($2::uuid[])`,
    [tx.groupId, lotIds],
  );
}

/** Lots under an open hold for their declaration that was placed on the lot itself. */
export async function listHeldForDeclaration(tx: Tx, lotIds: readonly string[]): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select distinct h.lot_id as "lotId" from hold h
      where h.group_id = $1::uuid and h.lot_id = any($2::uuid[]) and h.kind = 'declaration' and h.lifted_at is null
        and h.site_id is null and h.account_id is null`,
    [tx.groupId, lotIds],
  );
  return rows.map((row) => row.lotId);
}

export interface WayLot extends AllergenLot {
  readonly itemName: string;
  readonly declared: readonly string[];
  readonly bornWith: readonly string[];
}

/** The lots and everything before them that holds any allergen, each once, at most `limit`. */
export async function listAllergenLots(tx: Tx, lotIds: readonly string[], limit: number): Promise<WayLot[]> {
  return tx.query<WayLot>(
    `with recursive up (lot_id) as (
       select unnest($2::uuid[])
       union
       select le.parent_lot_id
         from up
         join lot_edge le on le.group_id = $1::uuid and le.child_lot_id = up.lot_id
         join lot_state s on s.group_id = le.group_id and s.lot_id = le.parent_lot_id and cardinality(s.allergens) > 0
     ), found as materialized (select up.lot_id from up limit $3::int)
     select l.lot_id as "lotId", l.code, i.name as "itemName", s.allergens, i.allergens as declared, l.allergens as "bornWith"
       from found
       join lot l on l.group_id = $1::uuid and l.lot_id = found.lot_id
       join lot_state s on s.group_id = l.group_id and s.lot_id = l.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id`,
    [tx.groupId, lotIds, limit],
  );
}

/** Who went into whom among these lots. */
export async function listEdgesAmong(
  tx: Tx,
  lotIds: readonly string[],
): Promise<{ parentLotId: string; childLotId: string }[]> {
  return tx.query(
    `select distinct le.parent_lot_id as "parentLotId", le.child_lot_id as "childLotId"
       from lot_edge le
      where le.group_id = $1::uuid and le.child_lot_id = any($2::uuid[]) and le.parent_lot_id = any($2::uuid[])`,
    [tx.groupId, lotIds],
  );
}
