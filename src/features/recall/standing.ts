/** Where the food of a scope is: totals by item, by site, and what is on the road. */
import { groupBy } from '../../domain/grouping.ts';
import type { z } from 'zod';
import type { Tx } from '../../platform/db/db.ts';
import { scopeStanding, sitesOf, totalOf, type Quantities } from '../tracing/index.ts';

/** The scope as lots, or as what a case's hold reaches. */
export type ScopeRef = { readonly lotIds: readonly string[] } | { readonly holdId: string };

/** SQL of `scope (lot_id)`; its parameter is $2. */
const scopeSql = (scope: ScopeRef): string =>
  'holdId' in scope
    ? `scope as materialized (select hr.lot_id from hold_reach hr where hr.group_id = $1::uuid and hr.hold_id = $2::uuid)`
    : `scope as materialized (select u.lot_id from unnest($2::uuid[]) as u(lot_id))`;

const scopeValue = (scope: ScopeRef): unknown => ('holdId' in scope ? scope.holdId : scope.lotIds);

/** Beyond so many lots it is not counted which site has or had how many of them: the sums say where the food is. */
const MOST_COUNTED = 10_000;

export interface Standing {
  readonly lotCount: number;
  readonly totals: readonly ReturnType<typeof totalOf>[];
  readonly sites: readonly {
    readonly siteId: string;
    readonly siteName: string;
    /** null: the scope is too large to count by site */
    readonly lotCount: number | null;
    readonly quantities: readonly z.output<typeof Quantities>[];
  }[];
}

/** Lots that stood at a site, are on the road to it, or were counted, served or thrown away there. */
async function countBySite(tx: Tx, scope: ScopeRef): Promise<Map<string, number>> {
  const rows = await tx.query<{ siteId: string; lots: number }>(
    `with ${scopeSql(scope)}
     select coalesce(a.to_site_id, a.site_id) as "siteId", count(distinct b.lot_id)::int as lots
       from scope c
       join balance b on b.group_id = $1::uuid and b.lot_id = c.lot_id
       join account a on a.group_id = $1::uuid and a.account_id = b.account_id
      where a.kind = 'place' or (b.quantity <> 0 and a.kind not in ('supplier', 'produced'))
      group by 1`,
    [tx.groupId, scopeValue(scope)],
  );
  return new Map(rows.map((row) => [row.siteId, row.lots]));
}

/** Also sites where some of it once was and nothing is now: they are told, and asked, as well. */
export async function standingOf(tx: Tx, scope: ScopeRef): Promise<Standing> {
  const { lotCount, items } = await scopeStanding(tx, scope, { passed: true });
  const counts = lotCount > MOST_COUNTED ? null : await countBySite(tx, scope);
  return {
    lotCount,
    totals: items.map(totalOf),
    sites: sitesOf(items).map(({ siteId, siteName, quantities }) => ({
      siteId,
      siteName,
      lotCount: counts === null ? null : (counts.get(siteId) ?? 0),
      quantities: quantities.filter((line) => COLUMNS.some((column) => line[column] !== 0)),
    })),
  };
}

const COLUMNS = ['onHand', 'inTransit', 'served', 'wasted', 'returned', 'consumed', 'unexplained'] as const;

type Unit = 'mg' | 'g' | 'ml' | 'piece';

interface RoadRow {
  readonly dispatchId: string;
  readonly code: string;
  readonly fromSiteId: string;
  readonly toSiteId: string;
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
  readonly unit: Unit;
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
  readonly unit: Unit | null;
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
