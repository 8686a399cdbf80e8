/** What the service says of a scope, against a plain walk and plain sums of the made-up year. */
import pg from 'pg';
import { outside } from '../src/features/ledger/index.ts';
import type { ScopeStanding } from '../src/features/tracing/index.ts';
import { adjacencyOf, walk } from './lot-graph.ts';
import { itemId, type LotWorld } from './lot-world.ts';

export function plainWalk(world: LotWorld, lot: number): number[] {
  const { lots, parents, children } = world.graph;
  return walk(adjacencyOf(lots, parents, children), lot);
}

/** Quantity by item and account, of the lots of a plain walk; and how many lots there are of each item. */
function plainSums(world: LotWorld, reached: readonly number[]): Map<string, number> {
  const among = new Uint8Array(world.graph.lots);
  const sums = new Map<string, number>();
  const add = (key: string, n: number): void => void sums.set(key, (sums.get(key) ?? 0) + n);
  for (const lot of reached) {
    among[lot] = 1;
    add(`${itemId(world.graph.items[lot] ?? 0)} lots`, 1);
  }
  for (const { lot, accountId, quantity } of world.balances) {
    if (among[lot] === 1 && quantity !== 0) add(`${itemId(world.graph.items[lot] ?? 0)} ${accountId}`, quantity);
  }
  return sums;
}

const KITCHEN_SOURCES = ['supplier', 'produced'] as const;

/** Node for node: which lots a streamed trace has, and nothing twice. */
export function faultsInLots(world: LotWorld, start: number, lotIds: readonly string[]): string[] {
  const wanted = new Set(plainWalk(world, start).map((lot) => world.ids[lot] ?? ''));
  const found = new Set(lotIds);
  const faults: string[] = [];
  if (found.size !== lotIds.length) faults.push(`${lotIds.length - found.size} lots are there twice`);
  const missing = [...wanted].filter((id) => !found.has(id));
  const tooMuch = [...found].filter((id) => !wanted.has(id));
  if (missing.length > 0) faults.push(`${missing.length} lots are missing, ${missing[0]} among them`);
  if (tooMuch.length > 0) faults.push(`${tooMuch.length} lots do not belong, ${tooMuch[0]} among them`);
  return faults;
}

/** Account for account: what is said of each item, against the sums. What was produced is held against the accounts that it came from. */
export function faultsInSums(world: LotWorld, start: number, kitchenId: string, said: ScopeStanding): string[] {
  const sums = plainSums(world, plainWalk(world, start));
  const faults: string[] = [];
  const meet = (what: string, found: number): void => {
    const wanted = sums.get(what) ?? 0;
    sums.delete(what);
    if (found !== wanted) faults.push(`${what}: ${found}, not ${wanted}`);
  };
  for (const item of said.items) {
    meet(`${item.itemId} lots`, item.lotCount);
    let returned = 0;
    for (const { kind, placeId, dispatchId, siteId, quantity } of item.where) {
      if (kind === 'supplier-return') returned += quantity;
      else if (kind === 'place' || kind === 'transit') meet(`${item.itemId} ${placeId ?? dispatchId}`, quantity);
      else meet(`${item.itemId} ${outside(kind, siteId)}`, quantity);
    }
    const sources = KITCHEN_SOURCES.map((kind) => `${item.itemId} ${outside(kind, kitchenId)}`);
    const came = sources.reduce((all, key) => all + (sums.get(key) ?? 0), 0);
    for (const key of sources) sums.delete(key);
    if (item.produced !== returned - came) faults.push(`${item.itemName} produced: ${item.produced}, not ${-came}`);
    const there = item.where.reduce((all, one) => all + one.quantity, 0);
    if (there !== item.produced) faults.push(`${item.itemName}: ${there} is somewhere, ${item.produced} was produced`);
  }
  for (const [what, quantity] of sums) if (quantity !== 0) faults.push(`${what}: nothing said, ${quantity} is there`);
  return faults;
}

/** What foreign keys would have refused, and lots whose balances do not sum to zero. */
export async function faultsInRows(url: string): Promise<string[]> {
  const client = new pg.Client(url);
  await client.connect();
  try {
    const { rows } = await client.query<{ what: string; n: number }>(
      `select 'lots without an item' as what, count(*)::int as n from lot l left join item i using (group_id, item_id) where i.item_id is null
       union all
       select 'ends of edges without a lot', count(*) filter (where p.lot_id is null or c.lot_id is null)::int
         from lot_edge le
         left join lot p on p.group_id = le.group_id and p.lot_id = le.parent_lot_id
         left join lot c on c.group_id = le.group_id and c.lot_id = le.child_lot_id
       union all
       select 'balances without an account', count(*)::int from balance b left join account a using (group_id, account_id, sign)
        where a.account_id is null
       union all
       select 'accounts without a site', count(*)::int from account a left join site s using (group_id, site_id) where s.site_id is null
       union all
       select 'edges that hide children', count(*)::int from lot_edge le
        where not le.child_leads_on and exists (select from lot_edge x where x.group_id = le.group_id and x.parent_lot_id = le.child_lot_id)
       union all
       select 'lots whose balances do not sum to zero', count(*)::int
         from (select b.lot_id from balance b group by b.group_id, b.lot_id having sum(b.quantity) <> 0) x`,
    );
    return rows.filter(({ n }) => n > 0).map(({ what, n }) => `${what}: ${n}`);
  } finally {
    await client.end();
  }
}
