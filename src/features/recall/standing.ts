/** Where the food of a scope is: totals by item, by site, and what is on the road. */
import { groupBy } from '../../domain/grouping.ts';
import type { Tx } from '../../platform/db/db.ts';

/** The scope as lots, or as what a case's hold reaches. */
export type ScopeRef = { readonly lotIds: readonly string[] } | { readonly holdId: string };

/** SQL of `scope (lot_id)`; its parameter is $2. */
const scopeSql = (scope: ScopeRef): string =>
  'holdId' in scope
    ? `scope as materialized (select hr.lot_id from hold_reach hr where hr.group_id = $1::uuid and hr.hold_id = $2::uuid)`
    : `scope as materialized (select u.lot_id from unnest($2::uuid[]) as u(lot_id))`;

const scopeValue = (scope: ScopeRef): unknown => ('holdId' in scope ? scope.holdId : scope.lotIds);

type Column = 'onHand' | 'inTransit' | 'served' | 'wasted' | 'returned' | 'consumed' | 'unexplained';

interface Quantities extends Readonly<Record<Column, number>> {
  readonly itemId: string;
  readonly itemName: string;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
}

export interface Standing {
  readonly lotCount: number;
  readonly totals: readonly (Quantities & {
    readonly produced: number;
    readonly balanced: boolean;
    readonly lotCount: number;
  })[];
  readonly sites: readonly {
    readonly siteId: string;
    readonly siteName: string;
    readonly lotCount: number;
    readonly quantities: readonly Quantities[];
  }[];
}

interface SumRow {
  /** sum: of an item at a site; site: lots that it has or had; item: lots in scope */
  readonly what: 'sum' | 'site' | 'item';
  readonly itemId: string | null;
  readonly itemName: string | null;
  readonly unit: Quantities['unit'] | null;
  readonly siteId: string | null;
  readonly siteName: string | null;
  readonly kind: string | null;
  readonly quantity: number;
}

async function sumStanding(tx: Tx, scope: ScopeRef): Promise<SumRow[]> {
  return tx.query<SumRow>(
    `with ${scopeSql(scope)}, s as materialized (
       select b.lot_id, l.item_id, replace(a.kind, '-shortfall', '') as kind, coalesce(a.to_site_id, a.site_id) as site_id,
              b.quantity
         from scope c
         join balance b on b.group_id = $1::uuid and b.lot_id = c.lot_id
         join account a on a.group_id = $1::uuid and a.account_id = b.account_id
         join lot l on l.group_id = $1::uuid and l.lot_id = c.lot_id
     ), gone as (
       select s.lot_id, s.item_id, e.site_id,
              sum(case when p.to_account_id = a.account_id then p.quantity else -p.quantity end)::int8 as quantity
         from (select distinct g.lot_id, g.item_id from s g where g.kind = 'supplier') s
         join posting p on p.group_id = $1::uuid and p.lot_id = s.lot_id
         join entry e on e.group_id = $1::uuid and e.seq = p.seq
         left join entry o on o.group_id = $1::uuid and o.entry_id = e.reverses_entry_id
         join account a on a.group_id = $1::uuid and a.kind = 'supplier' and a.account_id in (p.from_account_id, p.to_account_id)
        where coalesce(o.kind, e.kind) = 'return'
        group by 1, 2, 3
     ), rows as (
       select 'sum' as what, s.item_id, s.site_id, s.kind, sum(s.quantity)::int8 as quantity from s group by 2, 3, 4
       union all
       select 'sum', g.item_id, g.site_id, 'supplier-return', sum(g.quantity)::int8 from gone g group by 2, 3
       union all
       select 'site', null, s.site_id, null, count(distinct s.lot_id)
         from s where s.kind = 'place' or (s.quantity <> 0 and s.kind not in ('supplier', 'produced')) group by 3
       union all
       select 'item', l.item_id, null, null, count(*)
         from scope c join lot l on l.group_id = $1::uuid and l.lot_id = c.lot_id group by 2
     )
     select r.what, r.item_id as "itemId", i.name as "itemName", i.unit, r.site_id as "siteId", si.name as "siteName", r.kind,
            r.quantity
       from rows r
       left join item i on i.group_id = $1::uuid and i.item_id = r.item_id
       left join site si on si.group_id = $1::uuid and si.site_id = r.site_id
      order by i.name, r.item_id, si.name, r.site_id, r.kind`,
    [tx.groupId, scopeValue(scope)],
  );
}

const COLUMN: Readonly<Record<string, Column>> = {
  place: 'onHand',
  transit: 'inTransit',
  served: 'served',
  waste: 'wasted',
  'supplier-return': 'returned',
  consumed: 'consumed',
  variance: 'unexplained',
};

type Mutable = { -readonly [K in keyof Quantities]: Quantities[K] };

function nothingOf(row: SumRow): Mutable {
  const nothing = { onHand: 0, inTransit: 0, served: 0, wasted: 0, returned: 0, consumed: 0, unexplained: 0 };
  return { itemId: row.itemId ?? '', itemName: row.itemName ?? '', unit: row.unit ?? 'piece', ...nothing };
}

/** What of one item came in or was made: what stands outside supplier and production, and what went back to the supplier. */
export async function standingOf(tx: Tx, scope: ScopeRef): Promise<Standing> {
  const rows = await sumStanding(tx, scope);
  const totals = new Map<string, Mutable & { produced: number; lotCount: number }>();
  const sites = new Map<string, { siteName: string; items: Map<string, Mutable> }>();
  for (const row of rows) {
    if (row.what === 'item') totals.set(row.itemId ?? '', { ...nothingOf(row), produced: 0, lotCount: row.quantity });
    if (row.what === 'site') sites.set(row.siteId ?? '', { siteName: row.siteName ?? '', items: new Map() });
  }
  for (const row of rows) {
    const total = totals.get(row.itemId ?? '');
    if (row.what !== 'sum' || total === undefined) continue;
    const column = COLUMN[row.kind ?? ''];
    if (column === undefined) total.produced -= row.quantity;
    else total[column] += row.quantity;
    // A return stands in the supplier account as well: there it lowered what had come.
    if (column === 'returned') total.produced += row.quantity;
    const site = sites.get(row.siteId ?? '');
    if (column === undefined || site === undefined || row.quantity === 0) continue;
    const line = site.items.get(row.itemId ?? '') ?? nothingOf(row);
    line[column] += row.quantity;
    site.items.set(line.itemId, line);
  }
  const lotsAt = new Map(
    rows.flatMap((row) => (row.what === 'site' ? [[row.siteId ?? '', row.quantity] as const] : [])),
  );
  return {
    lotCount: [...totals.values()].reduce((sum, total) => sum + total.lotCount, 0),
    totals: [...totals.values()].map((total) => {
      const sum =
        total.onHand +
        total.inTransit +
        total.served +
        total.wasted +
        total.returned +
        total.consumed +
        total.unexplained;
      return { ...total, balanced: sum === total.produced };
    }),
    sites: [...sites].map(([siteId, { siteName, items }]) => ({
      siteId,
      siteName,
      lotCount: lotsAt.get(siteId) ?? 0,
      quantities: [...items.values()],
    })),
  };
}

interface RoadRow {
  readonly dispatchId: string;
  readonly code: string;
  readonly fromSiteId: string;
  readonly toSiteId: string;
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
  readonly unit: Quantities['unit'];
  readonly quantity: number;
}

/** What of the scope has departed and not been received. Where more came than had left, nothing is on the road. */
async function listRoad(tx: Tx, scope: ScopeRef): Promise<RoadRow[]> {
  return tx.query<RoadRow>(
    `with ${scopeSql(scope)}
     select d.dispatch_id as "dispatchId", d.code, d.from_site_id as "fromSiteId", d.to_site_id as "toSiteId", l.lot_id as "lotId",
            l.code as "lotCode", i.name as "itemName", l.unit, sum(b.quantity)::int8 as quantity
       from account a
       join balance b on b.group_id = $1::uuid and b.account_id = a.account_id and b.quantity <> 0
       join scope c on c.lot_id = b.lot_id
       join dispatch d on d.group_id = $1::uuid and d.dispatch_id = coalesce(a.twin_of, a.account_id)
       join lot l on l.group_id = $1::uuid and l.lot_id = b.lot_id
       join item i on i.group_id = $1::uuid and i.item_id = l.item_id
      where a.group_id = $1::uuid and a.kind in ('transit', 'transit-shortfall')
      group by d.dispatch_id, d.code, d.from_site_id, d.to_site_id, l.lot_id, l.code, i.name, l.unit
     having sum(b.quantity) > 0
      order by d.code, l.code`,
    [tx.groupId, scopeValue(scope)],
  );
}

export interface OnTheRoadAnswer extends Pick<RoadRow, 'dispatchId' | 'code' | 'fromSiteId' | 'toSiteId'> {
  readonly lots: readonly Pick<RoadRow, 'lotId' | 'lotCode' | 'itemName' | 'unit' | 'quantity'>[];
  readonly quantity: number | null;
  readonly unit: Quantities['unit'] | null;
}

export async function onTheRoad(tx: Tx, scope: ScopeRef): Promise<OnTheRoadAnswer[]> {
  const byDispatch = groupBy(await listRoad(tx, scope), (row) => row.dispatchId);
  return [...byDispatch.values()].flatMap((rows) => {
    const first = rows[0];
    if (first === undefined) return [];
    const { dispatchId, code, fromSiteId, toSiteId } = first;
    const oneUnit = rows.every((row) => row.unit === first.unit);
    return [
      {
        dispatchId,
        code,
        fromSiteId,
        toSiteId,
        lots: rows.map(({ lotId, lotCode, itemName, unit, quantity }) => ({
          lotId,
          lotCode,
          itemName,
          unit,
          quantity,
        })),
        quantity: oneUnit ? rows.reduce((sum, row) => sum + row.quantity, 0) : null,
        unit: oneUnit ? first.unit : null,
      },
    ];
  });
}
