/** Ledger lines of a month added up by site, item and kind, from the sums that the report itself is made of. */
import { roundedQuotient } from '../../../domain/exact.ts';
import { lineOf, ROAD } from '../../../domain/month/lines.ts';
import { monthBounds } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { FINE_PER_MINOR, loadCosts } from '../costs/index.ts';
import { readFlows } from './flows.ts';
import { listReportItems, listReportSites } from './queries.ts';
import { inScope, readingOf, type Asked, type Reading } from './scope.ts';

interface LineSum {
  readonly siteName: string;
  readonly itemCode: string;
  readonly itemName: string;
  readonly line: string;
  readonly reason: string | null;
  readonly destination: string | null;
  readonly material: 'food' | 'inedible-parts' | null;
  /** as it counts on its line */
  readonly quantity: number;
  readonly unit: string;
  /** to the milligram */
  readonly grams: number;
  /** to the millionth */
  readonly valueMinor: number;
}

/** Whether more was posted than this, moves within a site counted too; reads no further than that. */
async function isMoreThan(tx: Tx, reading: Reading, most: number): Promise<boolean> {
  const before = reading.closes.filter((close) => close.month < reading.month).at(-1);
  const [row] = await tx.query<{ count: number }>(
    `select count(*)::int8 as count
       from (select from posting p
              where p.group_id = $1::uuid and p.seq <= $2::int8 and p.occurred_on < $4::date
                and (p.occurred_on >= $3::date or p.seq > $5::int8)
              limit $6::int8) x`,
    [
      tx.groupId,
      reading.cut.seq,
      monthBounds(reading.month).from,
      monthBounds(reading.throughMonth).to,
      before?.cutSeq ?? null,
      most + 1,
    ],
  );
  return (row?.count ?? 0) > most;
}

/** Null: there are not more postings than this. In order of site, item and line. */
export async function listLineSums(tx: Tx, asked: Asked, most: number): Promise<LineSum[] | null> {
  const reading = await readingOf(tx, asked);
  if (!(await isMoreThan(tx, reading, most))) return null;
  const { month, throughMonth, siteIds, cut, closes } = reading;
  const costs = await loadCosts(tx, cut);
  const flows = await readFlows(tx, { month, throughMonth, siteIds, cutSeq: cut.seq, closes, costs, itemId: null });
  const isIn = inScope(siteIds);
  const sums = new Map<
    string,
    { book: string; itemId: string; line: string; quantity: number; fine: bigint; mg: bigint } & Kind
  >();
  for (const flow of flows) {
    const { from, to, itemId, reason, destination, material } = flow;
    const comes = to.book !== null && isIn(to.book);
    const goes = from.book !== null && isIn(from.book);
    const book = comes ? to.book : from.book;
    if (flow.bucket !== 'in' || comes === goes || book === null) continue;
    const { line, sign } = lineOf(flow, comes);
    const key = [book, itemId, line, reason, destination, material].join('|');
    let sum = sums.get(key);
    if (!sum) {
      sum = { book, itemId, line, reason, destination, material, quantity: 0, fine: 0n, mg: 0n };
      sums.set(key, sum);
    }
    sum.quantity += sign * flow.quantity;
    sum.fine += BigInt(sign) * flow.fine;
    sum.mg += BigInt(sign) * roundedQuotient(flow.massNumerator, flow.massDenominator);
  }
  const items = await listReportItems(tx, [...new Set([...sums.values()].map((sum) => sum.itemId))]);
  const byId = new Map(items.map((item, at) => [item.itemId, { ...item, at }]));
  const sites = await listReportSites(tx, siteIds);
  const siteAt = new Map(sites.map(({ siteId, siteName }, at) => [siteId, { siteName, at }]));
  const road = { siteName: 'On the road', at: sites.length };
  const rows = [...sums].flatMap(([key, { book, itemId, fine, mg, ...rest }]) => {
    const item = byId.get(itemId);
    const site = book === ROAD ? road : siteAt.get(book);
    if (!item || !site) return [];
    const row: LineSum = {
      ...rest,
      siteName: site.siteName,
      itemCode: item.itemCode,
      itemName: item.itemName,
      unit: item.unit,
      grams: Number(mg) / 1000,
      valueMinor: Number((fine * 1_000_000n) / FINE_PER_MINOR) / 1_000_000,
    };
    return [{ row, order: [site.at, item.at] as const, key }];
  });
  rows.sort((a, b) => a.order[0] - b.order[0] || a.order[1] - b.order[1] || (a.key < b.key ? -1 : 1));
  return rows.map(({ row }) => row);
}

type Kind = Pick<LineSum, 'reason' | 'destination' | 'material'>;
