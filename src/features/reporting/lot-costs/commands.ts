/** Reading what lots cost. Refusals: `not-found`, `rule-broken` (a moment ahead of now, a month not begun), `bad-cursor`. */
import type { LotCost } from '../../../domain/costing/shapes.ts';
import { notFound } from '../../../domain/errors.ts';
import { fromInstant, monthBounds, utc } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { getCurrency } from '../../identity/index.ts';
import { getCutAt, getCutNow, getVisibleLot } from '../../ledger/index.ts';
import { askedMonths } from '../asked.ts';
import {
  findUnitCosts,
  listUncostedOfMonth,
  loadCostLots,
  loadCosts,
  minorDigitsOf,
  type CostView,
} from '../costs/index.ts';
import { readingOf } from '../month/scope.ts';
import { decimalMinor, roundedMinor } from './amounts.ts';
import type { getLotCost, listUncostedLots } from './contract.ts';
import { madeByAnswer } from './made-by.ts';
import { isKnownAt, listCostVersions, listSaidPrices } from './queries.ts';

const UG_PER_G = 1_000_000n;
const percentOf = (ppm: number) => ppm / 10_000;

async function versionsOf(context: Pick<Context, 'tx'>, view: CostView, cost: LotCost) {
  const rows = await listCostVersions(context.tx, cost.lotId, view.sqlAsOf);
  const stored = rows.map((row) => ({
    recordedAt: row.recordedAt.toISOString(),
    unitCostMinor: decimalMinor(BigInt(row.unitFine)),
  }));
  const unitCostMinor = decimalMinor(cost.unitFine);
  if (!view.overrides.has(cost.lotId) || stored[0]?.unitCostMinor === unitCostMinor) return stored;
  return [{ recordedAt: utc(view.cut.recordedAtMs), unitCostMinor }, ...stored].slice(0, 50);
}

export async function readLotCost(context: Context<typeof getLotCost>): Promise<Reply> {
  const { tx, scope, params, query, nowMs } = context;
  const named = await getVisibleLot(tx, scope, params.lotId);
  const { lotId } = named;
  const cut =
    query.recordedAt === undefined ? await getCutNow(tx) : await getCutAt(tx, fromInstant(query.recordedAt), nowMs);
  if (query.recordedAt !== undefined && !(await isKnownAt(tx, lotId, cut))) throw notFound('lot');
  const view = await loadCosts(tx, cut);
  const cost = (await findUnitCosts(tx, view, [lotId])).get(lotId) as LotCost;
  const [lot] = await loadCostLots(tx, cut, [lotId]);
  const quantity = lot?.source === 'made' ? lot.stands : named.quantity;
  const currency = await getCurrency(tx);
  const prices = await listSaidPrices(tx, lotId, cut);
  const answer = {
    lotId,
    lotCode: named.code,
    itemName: named.itemName,
    quantity,
    unit: named.unit,
    currency,
    minorDigits: minorDigitsOf(currency),
    unitCostMinor: decimalMinor(cost.unitFine),
    totalMinor: roundedMinor(BigInt(quantity) * cost.unitFine),
    uncosted: cost.uncosted,
    uncostedReason: cost.reason,
    unpricedPercent: percentOf(cost.unpricedPpm),
    boughtMassG: Number((BigInt(quantity) * cost.boughtUgPerUnit) / 1000n) / Number(UG_PER_G / 1000n),
    madeBy: lot?.processId ? await madeByAnswer(tx, view, lot.processId) : null,
    prices: prices.map((price) => ({ ...price, recordedAt: price.recordedAt?.toISOString() ?? null })),
    versions: await versionsOf(context, view, cost),
    cut: {
      seq: cut.seq,
      moneyNo: cut.moneyNo,
      recordedAt: cut.recordedAtMs === 0 ? null : utc(cut.recordedAtMs),
    },
  };
  return { status: 200, body: answer };
}

export async function readUncostedLots(context: Context<typeof listUncostedLots>): Promise<Reply> {
  const { tx, query, path } = context;
  const page = pageOf(query, ['int', 'text']);
  const asked = await askedMonths(context, query);
  const { cut, openedAt } = await readingOf(tx, asked);
  const rows = await listUncostedOfMonth(tx, {
    view: await loadCosts(tx, cut),
    ...monthBounds(query.month),
    afterSeq: openedAt?.seq ?? null,
    siteIds: asked.siteIds,
    ...page,
  });
  const lots = rows.map(({ unpricedPpm, count: _count, ...row }) => ({
    ...row,
    unpricedPercent: percentOf(unpricedPpm),
  }));
  const reply = pageReply(path, query, page, lots, (lot) => [String(lot.rank), lot.lotCode]);
  const { items, nextCursor } = reply.body as { items: typeof lots; nextCursor: string | null };
  return { ...reply, body: { items: items.map(({ rank: _rank, ...lot }) => lot), nextCursor } };
}
