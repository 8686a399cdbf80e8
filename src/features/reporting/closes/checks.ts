/** The checks of a month, in words that can be acted on. */
import { monthBounds, utc } from '../../../domain/time.ts';
import type { UncostedReason } from '../../../domain/costing/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { findSites } from '../../catalogue/index.ts';
import type { Cut } from '../../ledger/index.ts';
import { listUncostedOfMonth, loadCosts } from '../costs/index.ts';
import * as queries from './checks-queries.ts';
import { MOST_LISTED, type CheckName, type MonthCheckAnswer } from './shapes.ts';
import type { ActiveClose } from './store.ts';

type Listed = MonthCheckAnswer['list'][number];

/** What stands in the way of figures that are whole. The rest is shown: it stands in a line of its own in the report, and is explained by nobody. */
const BLOCKING: Readonly<Record<CheckName, boolean>> = {
  'open-batches': true,
  'unreceived-dispatches': true,
  'negative-balances': true,
  'uncosted-lots': true,
  unexplained: false,
  'place-presumed': false,
};

const TEXTS: Readonly<Record<CheckName, { readonly none: string; readonly some: (count: number) => string }>> = {
  'open-batches': {
    none: 'Every batch that was begun is completed.',
    some: (count) =>
      `Batches begun by the end of the month and not completed: ${count}. What they lost is not known yet.`,
  },
  'unreceived-dispatches': {
    none: 'Nothing that left before the end of the month is on the road.',
    some: (count) => `Dispatches that left before the end of the month and were not received: ${count}.`,
  },
  'negative-balances': {
    none: 'Nothing left that was not booked in.',
    some: (count) =>
      `Lots of which more left a place than was ever booked into it: ${count}. A delivery, a receipt or a count is missing.`,
  },
  'uncosted-lots': {
    none: 'Every lot that moved or stands has a full price.',
    some: (count) =>
      `Lots that moved in the month or stand at its end and have no full price: ${count}. They count as worth nothing until they have.`,
  },
  unexplained: {
    none: 'Counts found nothing missing and nothing over.',
    some: (count) => `Items of a site that counts found missing or over: ${count}. They stand in the line adjusted.`,
  },
  'place-presumed': {
    none: 'All food was seen where it was put.',
    some: (count) => `Lots that nobody saw put away: ${count}. They count where they were sent to.`,
  },
};

function checkOf(check: CheckName, count: number, list: Listed[]): MonthCheckAnswer {
  const text = count === 0 ? TEXTS[check].none : TEXTS[check].some(count);
  return { check, count, blocking: BLOCKING[check] && count > 0, text, list };
}

const total = (rows: readonly { readonly count: number }[]): number => rows[0]?.count ?? 0;
const nothing = { quantity: null, unit: null, since: null };

async function openBatches(tx: Tx, to: string): Promise<MonthCheckAnswer> {
  const rows = await queries.listOpenBatches(tx, to, MOST_LISTED);
  const list = rows.map((row) => ({
    ...nothing,
    text: `Batch ${row.code}, ${row.itemName}: complete it, or say what it lost`,
    siteId: row.siteId,
    siteName: row.siteName,
    since: utc(row.startedAt.getTime()),
    href: `/v1/batches/${row.batchId}`,
  }));
  return checkOf('open-batches', total(rows), list);
}

async function onTheRoad(tx: Tx, to: string): Promise<MonthCheckAnswer> {
  const rows = await queries.listOnTheRoad(tx, to, MOST_LISTED);
  const list = rows.map((row) => ({
    ...nothing,
    text: `Dispatch ${row.code} to ${row.toSiteName}: ${row.lots} lots are still on the road; record what arrived, and close it`,
    siteId: row.fromSiteId,
    siteName: row.fromSiteName,
    since: utc(row.departedAt.getTime()),
    href: `/v1/dispatches/${row.dispatchId}`,
  }));
  return checkOf('unreceived-dispatches', total(rows), list);
}

async function negatives(tx: Tx, to: string): Promise<MonthCheckAnswer> {
  const rows = await queries.listNegatives(tx, to, MOST_LISTED);
  const list = rows.map((row) => ({
    text: `${row.lotCode}, ${row.itemName}, ${row.placeName ?? 'on the road'}: more left than was there`,
    siteId: row.siteId,
    siteName: row.siteName,
    quantity: row.quantity,
    unit: row.unit,
    since: null,
    href: `/v1/findings?kind=shortfall&lotId=${row.lotId}`,
  }));
  return checkOf('negative-balances', total(rows), list);
}

async function unexplained(tx: Tx, month: string, last: ActiveClose | null): Promise<MonthCheckAnswer> {
  const period = { ...monthBounds(month), afterSeq: last?.cutSeq ?? null };
  const rows = await queries.listUnexplained(tx, period, MOST_LISTED);
  const list = rows.map((row) => ({
    text: `${row.itemName}: ${row.missing} missing, ${row.found} over`,
    siteId: row.siteId,
    siteName: row.siteName,
    quantity: row.found - row.missing,
    unit: row.unit,
    since: null,
    href: `/v1/reports/waste-and-yield/lines?month=${month}&itemId=${row.itemId}&line=adjusted`,
  }));
  return checkOf('unexplained', total(rows), list);
}

async function presumed(tx: Tx, to: string): Promise<MonthCheckAnswer> {
  const rows = await queries.listPresumed(tx, to, MOST_LISTED);
  const list = rows.map((row) => ({
    ...nothing,
    text: `${row.parts} lots; a count or a scan where they stand settles it`,
    siteId: row.siteId,
    siteName: row.siteName,
    since: utc(row.since.getTime()),
    href: `/v1/findings?kind=place-presumed&siteId=${row.siteId}`,
  }));
  return checkOf('place-presumed', total(rows), list);
}

const WHY: Readonly<Record<UncostedReason, string>> = {
  'no-price': 'nobody said what it cost',
  'price-zero': 'its price is zero, and nobody said that it was free of charge',
  'uncosted-input': 'something that went in has no price',
  'nothing-went-in': 'nothing was booked into what made it',
  'made-from-itself': 'by the record it went into its own origin',
};

async function uncosted(tx: Tx, month: string, last: ActiveClose | null, cut: Cut): Promise<MonthCheckAnswer> {
  const days = { ...monthBounds(month), afterSeq: last?.cutSeq ?? null };
  const view = await loadCosts(tx, cut);
  const rows = await listUncostedOfMonth(tx, { view, ...days, siteIds: null, limit: MOST_LISTED, after: null });
  const lots = rows.slice(0, MOST_LISTED);
  const sites = await findSites(
    tx,
    lots.map(({ siteId }) => siteId),
  );
  const list = lots.map((row) => ({
    text: `${row.lotCode}, ${row.itemName}: ${WHY[row.reason]}`,
    siteId: row.siteId,
    siteName: sites.get(row.siteId)?.name ?? null,
    quantity: row.quantity,
    unit: row.unit,
    since: null,
    href: `/v1/lots/${row.lotId}/cost`,
  }));
  return checkOf('uncosted-lots', rows[0]?.count ?? 0, list);
}

/** @param last the close of the newest closed month, whose late facts count in this one; null when there is none */
export async function checksOf(tx: Tx, month: string, last: ActiveClose | null, cut: Cut): Promise<MonthCheckAnswer[]> {
  const { to } = monthBounds(month);
  return [
    await openBatches(tx, to),
    await onTheRoad(tx, to),
    await negatives(tx, to),
    await uncosted(tx, month, last, cut),
    await unexplained(tx, month, last),
    await presumed(tx, to),
  ];
}
