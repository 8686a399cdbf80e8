/** Reading the morning list. Refusal: `not-found` (the site). */
import { notFound } from '../../../domain/errors.ts';
import { wordsOfFinding } from '../../../domain/findings.ts';
import { blockingHolds, whyNot } from '../../../domain/ledger/may.ts';
import { dueText, endOfTodayMs, listFor, startOfTodayMs } from '../../../domain/morning.ts';
import { localDate, utc } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { renderSheet } from '../../../platform/pdf/sheet.ts';
import { findSites, type SiteRow } from '../../catalogue/index.ts';
import { findHoldsReaching, type ReachingHold } from '../../ledger/index.ts';
import type { getMorningList, MorningAnswer } from './contract.ts';
import { morningSheet } from './page.ts';
import {
  listMorningStock,
  listRoad,
  listSiteFindings,
  type RoadRow,
  type SiteFindingRow,
  type StockPartRow,
} from './queries.ts';

const MOST_PARTS = 1000;
const MOST_FINDINGS = 300;

const CAUTION =
  'A help for trained staff. If in doubt, do not use it: ask the quality lead. The food-safety plan and local law come first.';

/** Findings whose food is on another list already. */
const ON_OTHER_LISTS = ['missing-in-transit', 'past-use-by-in-stock', 'place-presumed'];

type Part = MorningAnswer['useToday'][number];

function sortStock(
  rows: readonly StockPartRow[],
  holds: readonly ReachingHold[],
  site: SiteRow,
  nowMs: number,
): Pick<MorningAnswer, 'useToday' | 'pastDate' | 'setAside'> {
  const lists = {
    'use-today': [] as Part[],
    'past-date': [] as Part[],
    'set-aside': [] as Part[],
    later: [] as Part[],
  };
  for (const row of rows) {
    const part = {
      lotId: row.lotId,
      lotCode: row.lotCode,
      siteId: site.siteId,
      accountId: row.placeId,
      quarantine: row.quarantine,
      useByMs: row.useByMs,
      holds: holds.filter((hold) => hold.lotId === row.lotId && hold.liftedAt === null),
    };
    const held = blockingHolds(part, 'serve').length > 0;
    lists[listFor({ ...row, held }, nowMs, site.timeZone)].push({
      lotId: row.lotId,
      lotCode: row.lotCode,
      itemName: row.itemName,
      placeId: row.placeId,
      placeName: row.placeName,
      quantity: row.quantity,
      unit: row.unit,
      useByAt: row.useByMs === null ? null : utc(row.useByMs),
      due: row.useByMs === null ? null : dueText(row.useByMs, nowMs, site.timeZone),
      lastSeenAt: row.lastSeenAt?.toISOString() ?? null,
      whyNot: whyNot(part, 'serve', nowMs),
    });
  }
  return { useToday: lists['use-today'], pastDate: lists['past-date'], setAside: lists['set-aside'] };
}

function roadLists(
  road: readonly RoadRow[],
  presumed: readonly SiteFindingRow[],
  todayMs: number,
): Pick<MorningAnswer, 'arriving' | 'notAccountedFor'> {
  const today = road.filter((row) => !row.closed && row.departedAt.getTime() >= todayMs);
  const late = road.filter((row) => row.closed || row.departedAt.getTime() < todayMs);
  const byDispatch = new Map<string, MorningAnswer['arriving'][number]>();
  for (const row of today) {
    const before = byDispatch.get(row.dispatchId);
    byDispatch.set(row.dispatchId, {
      dispatchId: row.dispatchId,
      code: row.code,
      fromSiteName: row.fromSiteName,
      departedAt: row.departedAt.toISOString(),
      lots: (before?.lots ?? 0) + 1,
      quantity: (before?.quantity ?? 0) + row.quantity,
    });
  }
  const missing = late.map((row) => ({
    why: row.closed ? ('missing-in-transit' as const) : ('still-on-the-road' as const),
    lotId: row.lotId,
    lotCode: row.lotCode,
    itemName: row.itemName,
    quantity: row.quantity,
    unit: row.unit,
    where: `${row.code} from ${row.fromSiteName}`,
    sinceAt: row.departedAt.toISOString(),
  }));
  const unseen = presumed.flatMap(({ lotId, lotCode, itemName, unit, quantity, placeName, occurredAt }) =>
    lotId && lotCode && itemName && unit
      ? [
          {
            why: 'place-presumed' as const,
            lotId,
            lotCode,
            itemName,
            quantity: quantity ?? 0,
            unit,
            where: placeName ?? 'a place here',
            sinceAt: occurredAt.toISOString(),
          },
        ]
      : [],
  );
  return { arriving: [...byDispatch.values()], notAccountedFor: [...missing, ...unseen] };
}

export async function readMorningList(context: Context<typeof getMorningList>): Promise<Reply> {
  const { tx, scope, params, query, nowMs } = context;
  const site = (await findSites(tx, [params.siteId])).get(params.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  const zone = site.timeZone;
  const stock = await listMorningStock(tx, site.siteId, endOfTodayMs(nowMs, zone), MOST_PARTS);
  const holds = await findHoldsReaching(tx, [...new Set(stock.map((row) => row.lotId))], nowMs);
  const road = await listRoad(tx, site.siteId, MOST_PARTS);
  const presumed = await listSiteFindings(tx, site.siteId, { only: 'place-presumed' }, MOST_FINDINGS);
  const findings = await listSiteFindings(tx, site.siteId, { except: ON_OTHER_LISTS }, MOST_FINDINGS);
  const body: MorningAnswer = {
    siteId: site.siteId,
    siteName: site.name,
    date: localDate(nowMs, zone),
    madeAt: utc(nowMs),
    ...sortStock(stock, holds, site, nowMs),
    ...roadLists(road, presumed, startOfTodayMs(nowMs, zone)),
    findings: findings.map(({ findingId, kind, lotCode, itemName, quantity, occurredAt }) => ({
      findingId,
      kind,
      ...wordsOfFinding(kind),
      lotCode,
      itemName,
      quantity,
      occurredAt: occurredAt.toISOString(),
    })),
    more: [stock, road].some((rows) => rows.length === MOST_PARTS) || findings.length === MOST_FINDINGS,
    caution: CAUTION,
  };
  const wanted = context.accept(['application/json', 'application/pdf']) === 'application/pdf' ? 'pdf' : 'json';
  if ((query.format ?? wanted) === 'json') return { status: 200, body };
  const data = await renderSheet(morningSheet(body, zone, nowMs));
  const name = `morning-list-${site.code}-${body.date}.pdf`;
  return {
    status: 200,
    raw: { contentType: 'application/pdf', data },
    headers: { 'Content-Disposition': `inline; filename="${name}"` },
  };
}
