/** Reading where everything of a lot is. Refusals: `not-found`, `rule-broken`, `trace-too-large`. */
import { fromInstant, utc } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { getVisibleLot } from '../ledger/index.ts';
import { momentOf } from './as-recorded.ts';
import type { getLotReach, ReachAnswer } from './contract-reach.ts';
import { addWhere, nothingOf, sumOfColumns } from './quantities.ts';
import { scopeStanding, standingThen, type ItemStanding } from './standing.ts';

type Site = ReachAnswer['sites'][number];

export async function readReach(context: Context<typeof getLotReach>): Promise<Reply> {
  const { tx, scope, params, query, nowMs } = context;
  const direction = query.direction ?? 'forward';
  const lot = await getVisibleLot(tx, scope, params.lotId);
  const asOf = await momentOf(tx, lot, query.recordedAt, nowMs);
  const walk = { lotId: lot.lotId, direction };
  const { lotCount, items } = await (asOf === null ? scopeStanding(tx, walk) : standingThen(tx, walk, asOf));
  const recordedAt = query.recordedAt === undefined ? null : utc(fromInstant(query.recordedAt));
  const body: ReachAnswer = {
    startLotId: lot.lotId,
    direction,
    recordedAt,
    lotCount,
    totals: items.map(totalOf),
    sites: sitesOf(items),
  };
  return { status: 200, body };
}

/** Of one item, all sites together. */
export function totalOf(item: ItemStanding): ReachAnswer['totals'][number] {
  const line = nothingOf(item);
  for (const where of item.where) addWhere(line, where);
  return { ...line, produced: item.produced, balanced: sumOfColumns(line) === item.produced, lotCount: item.lotCount };
}

/** By site, what is on the road at the site that it is going to. By name. */
export function sitesOf(items: readonly ItemStanding[]): Site[] {
  const sites = new Map<string, Site>();
  for (const item of items) {
    const lines = new Map<string, Site['quantities'][number]>();
    for (const where of item.where) {
      const siteId = where.toSiteId ?? where.siteId;
      const siteName = where.toSiteName ?? where.siteName;
      let site = sites.get(siteId);
      if (site === undefined) {
        site = { siteId, siteName, quantities: [], where: [] };
        sites.set(siteId, site);
      }
      let line = lines.get(siteId);
      if (line === undefined) {
        line = nothingOf(item);
        lines.set(siteId, line);
        site.quantities.push(line);
      }
      addWhere(line, where);
      if (where.kind !== 'place' && where.kind !== 'transit') continue;
      const { kind, placeId, placeName, dispatchId, quantity } = where;
      const fromSiteId = kind === 'transit' ? where.siteId : null;
      site.where.push({ itemId: item.itemId, kind, placeId, placeName, dispatchId, fromSiteId, quantity });
    }
  }
  return [...sites.values()].sort((a, b) => (a.siteName < b.siteName ? -1 : 1));
}
