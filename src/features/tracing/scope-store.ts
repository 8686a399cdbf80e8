/**
 * SQL of a whole scope: where everything is, summed in the database, so that tens of thousands of lots are never sent anywhere.
 *
 * Each lot is looked up in indexes alone: edges in lot_edge_walk_idx, quantities in the key of balance. Lots with nothing made from them
 * are not looked up in the edges at all (lot_edge.child_leads_on).
 */
import type { Tx } from '../../platform/db/db.ts';
import { BALANCES_THEN, walkSql, type AsOf, type Direction, type StandingRow } from './queries.ts';
import type { ItemName } from './quantities.ts';

/** Lots to stand for: those that a walk reaches, those named, or those that a hold reaches. */
export type ScopeSource =
  | { readonly lotId: string; readonly direction: Direction }
  | { readonly lotIds: readonly string[] }
  | { readonly holdId: string };

/** Quantity of an item. */
interface ItemSum {
  readonly itemId: string;
  readonly quantity: number;
}

export interface ScopeSums {
  /** how many lots there are of each item */
  readonly lots: readonly ItemSum[];
  /** what there is of each item, by account */
  readonly stands: ReadonlyMap<string, readonly ItemSum[]>;
  /** lots of which something went back to a supplier, with their items */
  readonly givenBack: ReadonlyMap<string, string>;
}

interface SumsRow {
  readonly what: 'stands' | 'lots' | 'given-back';
  /** stands: the account; given-back: the lot */
  readonly id: string | null;
  /** `item quantity`, one after the other: thousands of rows would take longer to send than to sum */
  readonly list: string | null;
}

const WALK_FORWARD = `walk (lot_id, leads_on) as (
    select $2::uuid, true
    union
    select le.child_lot_id, le.child_leads_on
      from walk w join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = w.lot_id
     where w.leads_on
  )`;

const WALK_BACK = `walk (lot_id) as (
    select $2::uuid
    union
    select le.parent_lot_id from walk w join lot_edge le on le.group_id = $1::uuid and le.child_lot_id = w.lot_id
  )`;

/** Each lot once, in the order in which balances are kept. A walk forward may name a lot twice, as leading on and as not: `rows` a lot. */
const itemsOf = (lots: string, rows = 1): string => `select l.lot_id, l.item_id
    from lot l
   where l.group_id = $1::uuid and l.lot_id = any(array(select s.lot_id from (${lots}) s limit ${rows} * $3::int))
   order by l.lot_id`;

/**
 * A part of zero in a place says that something was there. Only read where it is wanted ($4): they are more than all others together.
 */
const sumsOver = (
  walk: string,
  reached: string,
  passed = '$4::boolean',
  balance = 'balance',
): string => `with recursive ${walk}
  reached as materialized (
    ${reached}
  ), ids as materialized (select array(select r.lot_id from reached r) as list
  ), places as materialized (
    select p.place_id as account_id from place p where p.group_id = $1::uuid
    union all
    select a.account_id
      from place p
      join account a on a.twin_of = p.place_id and a.group_id = p.group_id
     where p.group_id = $1::uuid
  )
  select 'stands' as what, x.account_id as id, string_agg(x.item_id || ' ' || x.quantity, ',') as list
    from (
      select b.account_id, r.item_id, sum(b.quantity) as quantity
        from reached r
        join ${balance} b on b.group_id = $1::uuid and b.lot_id = r.lot_id
       where b.lot_id = any((select i.list from ids i)::uuid[])
         and (b.quantity <> 0 or (${passed} and b.account_id in (select pl.account_id from places pl)))
       group by b.account_id, r.item_id
    ) x
   group by x.account_id
  union all
  select 'lots', null, string_agg(x.item_id || ' ' || x.lots, ',')
    from (select r.item_id, count(*) as lots from reached r group by r.item_id) x
  union all
  select 'given-back', s.lot_id, (select l.item_id from lot l where l.group_id = $1::uuid and l.lot_id = s.lot_id) || ' 0'
    from lot_state s
   where s.group_id = $1::uuid and s.lot_id = any((select i.list from ids i)::uuid[]) and s.given_back`;

const FORWARD = sumsOver(`${WALK_FORWARD},`, itemsOf('select w.lot_id from walk w', 2));
const BACK = sumsOver(`${WALK_BACK},`, itemsOf('select w.lot_id from walk w'));
const NAMED = sumsOver('', itemsOf('select distinct u.lot_id from unnest($2::uuid[]) as u(lot_id)'));
const HELD = sumsOver(
  '',
  itemsOf('select hr.lot_id from hold_reach hr where hr.group_id = $1::uuid and hr.hold_id = $2::uuid'),
);

const then = (direction: Direction): string =>
  sumsOver('', itemsOf(walkSql(direction, true)), 'false', BALANCES_THEN('(select i.list from ids i)::uuid[]', '$5'));
const THEN = { forward: then('forward'), back: then('back') } as const;

function statementFor(source: ScopeSource): [text: string, value: unknown] {
  if ('holdId' in source) return [HELD, source.holdId];
  if ('lotIds' in source) return [NAMED, source.lotIds];
  return [source.direction === 'forward' ? FORWARD : BACK, source.lotId];
}

/**
 * The planner cannot know how many lots a walk will find. Taking them for ten, it would sort 200,000 rows instead of hashing them, in 4 MB,
 * and with a scope in the thousands, compiling the statement takes longer than running it. Local to the transaction.
 */
export async function expectMany(tx: Tx): Promise<void> {
  await tx.query(
    `select set_config('jit', 'off', true), set_config('work_mem', '32MB', true), set_config('enable_sort', 'off', true)`,
  );
}

function itemSum(text: string): ItemSum {
  const [itemId = '', digits] = text.split(' ');
  const quantity = Number(digits);
  if (!Number.isSafeInteger(quantity)) throw new RangeError(`a sum beyond 2^53: ${digits}`);
  return { itemId, quantity };
}

function sumsOf(rows: readonly SumsRow[]): ScopeSums {
  const stands = new Map<string, ItemSum[]>();
  const givenBack = new Map<string, string>();
  const lots: ItemSum[] = [];
  for (const { what, id, list } of rows) {
    // nothing of a scope without lots
    if (list === null) continue;
    const sums = list.split(',').map(itemSum);
    if (id === null) lots.push(...sums);
    else if (what === 'stands') stands.set(id, sums);
    else givenBack.set(id, sums[0]?.itemId ?? '');
  }
  return { lots, stands, givenBack };
}

/** @param limit one more than the most lots that are allowed: so many are found out, not summed for anybody */
export async function sumScope(tx: Tx, source: ScopeSource, limit: number, passed: boolean): Promise<ScopeSums> {
  const [text, value] = statementFor(source);
  return sumsOf(await tx.query<SumsRow>(text, [tx.groupId, value, limit, passed]));
}

/** The same as it was recorded at a past moment: edges that stood then, quantities summed from the entries up to then. */
export async function sumScopeThen(
  tx: Tx,
  { lotId, direction }: { readonly lotId: string; readonly direction: Direction },
  limit: number,
  asOf: AsOf,
): Promise<ScopeSums> {
  return sumsOf(await tx.query<SumsRow>(THEN[direction], [tx.groupId, lotId, limit, asOf.atMs, asOf.seq]));
}

export interface AccountRow {
  readonly accountId: string;
  /** a shortfall account is its place or dispatch */
  readonly standsForId: string;
  readonly kind: StandingRow['kind'];
  readonly siteId: string;
  readonly siteName: string;
  readonly toSiteId: string | null;
  readonly toSiteName: string | null;
  readonly placeName: string | null;
}

/** Shortfalls last, so that what they stand for is there before them. */
export async function listAccounts(tx: Tx, accountIds: readonly string[]): Promise<AccountRow[]> {
  return tx.query<AccountRow>(
    `select a.account_id as "accountId", coalesce(a.twin_of, a.account_id) as "standsForId",
            replace(a.kind, '-shortfall', '') as kind, a.site_id as "siteId", si.name as "siteName",
            a.to_site_id as "toSiteId", ts.name as "toSiteName", pl.name as "placeName"
       from account a
       join site si on si.group_id = a.group_id and si.site_id = a.site_id
       left join site ts on ts.group_id = a.group_id and ts.site_id = a.to_site_id
       left join place pl on pl.group_id = a.group_id and pl.place_id = coalesce(a.twin_of, a.account_id)
      where a.group_id = $1::uuid and a.account_id = any($2::uuid[])
      order by a.twin_of is not null, si.name, a.kind, a.account_id`,
    [tx.groupId, accountIds],
  );
}

export async function listItemNames(tx: Tx, itemIds: readonly string[]): Promise<ItemName[]> {
  return tx.query<ItemName>(
    `select i.item_id as "itemId", i.name as "itemName", i.unit
       from item i where i.group_id = $1::uuid and i.item_id = any($2::uuid[])
      order by i.name, i.item_id`,
    [tx.groupId, itemIds],
  );
}
