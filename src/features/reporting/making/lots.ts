/** Which lots to use for what sites need of an item. Refusals: `not-found`, `invalid-request`, `rule-broken` (a day that is over, a site named twice, too many parts). */
import { DateTime } from 'luxon';
import { conflictSentence, dietConflict } from '../../../domain/diets.ts';
import { MOST_LOTS_FOR_LEAST } from '../../../domain/dispersion.ts';
import { notFound, Refused } from '../../../domain/errors.ts';
import { blockingHolds, whyNot } from '../../../domain/ledger/may.ts';
import { planLots, type SiteDemand } from '../../../domain/making/lots-to-use.ts';
import { mealAtMs } from '../../../domain/picking.ts';
import { isCalendarDate, localDate } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { findItems, findSites, type ItemRow } from '../../catalogue/index.ts';
import { findHoldsReaching } from '../../ledger/index.ts';
import { lotsAnswer, type Needs, type OnShelf } from './answer-lots.ts';
import type { getLotsToUse } from './contract-lots.ts';
import { findSitesNamed, listLotParts, listOpenRequirements, type LotPartRow } from './queries-lots.ts';

const MOST_PARTS = 2_000;

const broken = (detail: string, pointer: string): Refused =>
  new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });

export async function readLotsToUse(context: Context<typeof getLotsToUse>): Promise<Reply> {
  const { tx, query, scope, nowMs } = context;
  const site = (await findSites(tx, [query.siteId])).get(query.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  const item = (await findItems(tx, [query.itemId])).get(query.itemId);
  if (!item) throw notFound('item');
  const today = localDate(nowMs, site.timeZone);
  const date = query.date ?? today;
  if (!isCalendarDate(date)) throw new Refused('invalid-request', `${date} is not a day of this century.`);
  if (date < today) throw broken(`${date} is over.`, '#/query/date');
  const central = site.kind === 'central-kitchen';
  const needs =
    query.demands === undefined
      ? await requiredOn(tx, item, date, (siteId) => central || scope.includes(siteId))
      : await asGiven(tx, query.demands, date);
  const parts = await listLotParts(tx, site.siteId, item.itemId, MOST_PARTS + 1);
  if (parts.length > MOST_PARTS)
    throw broken(`There are more than ${MOST_PARTS} parts of the item here.`, '#/query/itemId');
  const shelf = await onShelf(tx, site.siteId, parts, nowMs);
  const stock = shelf.filter((lot) => lot.whyNot === null);
  const plans = planLots(stock, needs.demands, nowMs);
  const body = lotsAnswer({ siteId: site.siteId, item, date, needs, shelf, plans, most: MOST_LOTS_FOR_LEAST });
  return { status: 200, body };
}

/** What nothing covers yet, in whole units; of a site it is needed until its last meal. A central kitchen serves all sites, others their own. */
async function requiredOn(tx: Tx, item: ItemRow, date: string, serves: (siteId: string) => boolean): Promise<Needs> {
  const rows = (await listOpenRequirements(tx, item.itemId, date)).filter((row) => serves(row.siteId));
  const demands = new Map<string, SiteDemand & { siteName: string }>();
  const unsuitable: Needs['unsuitable'][number][] = [];
  for (const row of rows) {
    const conflict = dietConflict(item, row);
    if (conflict) {
      const why = conflictSentence(conflict, item.name);
      unsuitable.push({ siteCode: row.siteCode, portions: row.portions, why });
      continue;
    }
    const before = demands.get(row.siteId);
    demands.set(row.siteId, {
      siteId: row.siteId,
      siteCode: row.siteCode,
      siteName: row.siteName,
      quantity: (before?.quantity ?? 0) + Math.ceil(row.portions / (item.portionsPerUnit ?? 1)),
      neededAtMs: Math.max(before?.neededAtMs ?? 0, mealAtMs(date, row.meal, row.timeZone)),
    });
  }
  return { demands: [...demands.values()], unsuitable };
}

/** Each site once; needed until its day is over. */
async function asGiven(tx: Tx, text: string, date: string): Promise<Needs> {
  const pairs = text.split(',').map((pair) => {
    const at = pair.lastIndexOf(':');
    return { name: pair.slice(0, at), quantity: Number(pair.slice(at + 1)) };
  });
  const sites = await findSitesNamed(
    tx,
    pairs.map(({ name }) => name),
  );
  const demands = pairs.map(({ name, quantity }) => {
    const site = sites.find((one) => one.code === name || one.siteId === name);
    if (!site) throw notFound('site');
    const neededAtMs = DateTime.fromISO(date, { zone: site.timeZone }).endOf('day').toMillis();
    return { siteId: site.siteId, siteCode: site.code, siteName: site.name, quantity, neededAtMs };
  });
  if (new Set(demands.map(({ siteId }) => siteId)).size < demands.length) {
    throw broken('A site is named twice.', '#/query/demands');
  }
  return { demands, unsuitable: [] };
}

/** By lot: what may leave from all of its places, at the earliest of their dates; a lot of which nothing may, with why. */
async function onShelf(tx: Tx, siteId: string, parts: readonly LotPartRow[], nowMs: number): Promise<OnShelf[]> {
  const lotIds = [...new Set(parts.map((part) => part.lotId))];
  const holds = (await findHoldsReaching(tx, lotIds, nowMs)).filter((hold) => hold.liftedAt === null);
  return lotIds.map((lotId): OnShelf => {
    const mine = parts.filter((part) => part.lotId === lotId);
    const standing = mine.map((part) => {
      const facts = { ...part, siteId, accountId: part.placeId, holds: holds.filter((hold) => hold.lotId === lotId) };
      const why = blockingHolds(facts, 'leave-site').length > 0 ? 'On hold.' : whyNot(facts, 'leave-site', nowMs);
      return { part, why, free: Math.max(0, part.quantity - part.promised) };
    });
    const free = standing.filter((one) => one.why === null && one.free > 0);
    const [first] = mine;
    const dates = (free.length > 0 ? free.map((one) => one.part) : mine).map((part) => part.useByMs ?? Infinity);
    const earliest = Math.min(...dates);
    return {
      lotId,
      lotCode: first?.lotCode ?? '',
      quantity: free.reduce((sum, one) => sum + one.free, 0),
      useByMs: earliest === Infinity ? null : earliest,
      places: [...new Set((free.length > 0 ? free.map((one) => one.part) : mine).map((part) => part.placeName))],
      whyNot:
        free.length > 0
          ? null
          : (standing.find((one) => one.why !== null)?.why ??
            'All of it is planned for dispatches that have not left.'),
    };
  });
}
