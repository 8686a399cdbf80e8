/** Puts a month's report together. A pure function of what was asked and its cut. */
import { MONEY_LINES, LINES, ROAD } from '../../../domain/month/lines.ts';
import { lateRows, type LateFlow } from '../../../domain/month/late.ts';
import { makingOf } from '../../../domain/month/making.ts';
import { inGrams, inMoney, inUnits, sumRows } from '../../../domain/month/printed.ts';
import { summaryOf, wastedShare } from '../../../domain/month/summary.ts';
import { tallyFlows, uncostedOf, type Tally } from '../../../domain/month/tally.ts';
import { monthBounds, utc } from '../../../domain/time.ts';
import { groupBy } from '../../../domain/grouping.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { getCurrency } from '../../identity/index.ts';
import { listUncostedOfMonth, loadCosts, minorDigitsOf, type CostView } from '../costs/index.ts';
import { readBatchLosses } from './batch-losses.ts';
import { batchAnswers, readBatches, recipeAnswers } from './batches.ts';
import { readFlows } from './flows.ts';
import { linesHref, siteOrNull } from './hrefs.ts';
import { readMaking } from './making.ts';
import { NOTES } from './notes.ts';
import { readPackingRuns } from './packing-runs.ts';
import { listReportItems, listReportSites, type BatchQuestion, type ReportItem, type ReportSite } from './queries.ts';
import { readRevalued } from './revalued.ts';
import { inScope, type Reading } from './scope.ts';
import type { MonthReportAnswer } from './shapes.ts';
import { readWaste } from './waste.ts';

type Item = MonthReportAnswer['items'][number];
/** All but the comparison, which is made of two more reports. */
export type OneReport = Omit<MonthReportAnswer, 'comparison'>;

const UNCOSTED_SHOWN = 50;

/** By item: what of the opening is worth more than it was closed with. */
function revaluedBy(flows: readonly LateFlow[], isIn: (book: string) => boolean): Map<string, bigint> {
  const sums = new Map<string, bigint>();
  for (const { itemId, from, to, fine } of flows) {
    const comes = to.book !== null && isIn(to.book);
    const goes = from.book !== null && isIn(from.book);
    if (comes !== goes) sums.set(itemId, (sums.get(itemId) ?? 0n) + (comes ? fine : -fine));
  }
  return sums;
}

function itemsOf(
  reading: Reading,
  catalogue: readonly ReportItem[],
  tallies: ReadonlyMap<string, Tally>,
  revalued: Map<string, bigint>,
) {
  return catalogue.flatMap(({ portionsPerUnit, ...item }) => {
    const tally = tallies.get(item.itemId);
    if (!tally) return [];
    const answer: Item = {
      ...item,
      inUnits: inUnits(tally),
      inGrams: inGrams(tally),
      inMoney: inMoney(tally, revalued.get(item.itemId) ?? 0n),
      uncostedQuantity: uncostedOf(tally),
      linesHref: linesHref(reading, { itemId: item.itemId }),
    };
    return [{ answer, portionsPerUnit }];
  });
}

function categoriesOf(items: readonly Item[]): MonthReportAnswer['categories'] {
  const groups = [...groupBy(items, (item) => item.category)].sort(([a], [b]) =>
    a === b ? 0 : a === null ? 1 : b === null ? -1 : a < b ? -1 : 1,
  );
  return groups.map(([category, own]) => ({ category, ...sumsOf(own) }));
}

const sumsOf = (items: readonly Pick<Item, 'inGrams' | 'inMoney'>[]) => ({
  inGrams: sumRows(
    LINES,
    items.map((item) => item.inGrams),
  ),
  inMoney: sumRows(
    MONEY_LINES,
    items.map((item) => item.inMoney),
  ),
});

/** Each as its own report would print it: its items' rows are rounded by themselves. */
function sitesOf(
  sites: readonly ReportSite[],
  books: ReadonlyMap<string, ReadonlyMap<string, Tally>>,
  earlier: readonly LateFlow[],
  lossOf: ReadonlyMap<string, number>,
  isPackaging: (itemId: string) => boolean,
): MonthReportAnswer['bySite'] {
  const road = { siteId: ROAD, siteCode: '', siteName: 'On the road' };
  return [...sites, road].flatMap(({ siteId: book, siteCode, siteName }) => {
    const tallies = books.get(book);
    if (book === ROAD && (tallies?.size ?? 0) === 0) return [];
    const revalued = revaluedBy(earlier, (one) => one === book);
    const rows = [...(tallies ?? [])].map(([itemId, tally]) => ({
      packaging: isPackaging(itemId),
      inGrams: inGrams(tally),
      inMoney: inMoney(tally, revalued.get(itemId) ?? 0n),
    }));
    const sums = sumsOf(rows);
    const food = sumsOf(rows.filter((row) => !row.packaging)).inGrams;
    return {
      siteId: siteOrNull(book),
      siteCode,
      siteName,
      ...sums,
      wastedFoodG: food.wasted,
      wastedMinor: sums.inMoney.wasted,
      wastedPercentOfServedAndWasted: wastedShare(food.wasted, food.served + food.servedDerived),
      abnormalLossMinor: lossOf.get(book) ?? 0,
    };
  });
}

function lateOf(
  reading: Reading,
  flows: readonly LateFlow[],
  earlier: readonly LateFlow[],
  known: ReadonlyMap<string, ReportItem>,
) {
  const isIn = inScope(reading.siteIds);
  const rows = [
    ...lateRows(flows, isIn, (flow) => (flow.undoes ? 'undone' : 'recorded-late')),
    ...lateRows(earlier, isIn, () => 'revalued'),
  ];
  return rows.map(({ month, kind, line, itemId, ...sums }): MonthReportAnswer['late'][number] => {
    const href = linesHref(reading, { itemId, line, lateMonth: month, lateKind: kind });
    const { itemName = '', unit = 'g' } = known.get(itemId) ?? {};
    return { month, kind, line, itemId, itemName, unit, ...sums, linesHref: kind === 'revalued' ? null : href };
  });
}

async function uncostedOfMonth(tx: Tx, reading: Reading, view: CostView, items: readonly Item[]) {
  if (items.every((item) => item.uncostedQuantity === 0)) return { count: 0, lots: [] };
  const { month, throughMonth, siteIds, openedAt } = reading;
  const days = { from: monthBounds(month).from, to: monthBounds(throughMonth).to, afterSeq: openedAt?.seq ?? null };
  const rows = await listUncostedOfMonth(tx, { view, ...days, siteIds, limit: UNCOSTED_SHOWN, after: null });
  const lots = rows.slice(0, UNCOSTED_SHOWN);
  return {
    count: rows[0]?.count ?? 0,
    lots: lots.map(({ lotId, lotCode, itemName, reason }) => ({ lotId, lotCode, itemName, reason })),
  };
}

export async function makeOneReport(tx: Tx, reading: Reading): Promise<OneReport> {
  const { month, throughMonth, siteIds, cut, closes, openedAt, state } = reading;
  const isIn = inScope(siteIds);
  const costs = await loadCosts(tx, cut);
  const flows = await readFlows(tx, { month, throughMonth, siteIds, cutSeq: cut.seq, closes, costs, itemId: null });
  const question = { month, cutSeq: cut.seq, closes, itemId: null };
  const earlier = openedAt === null ? [] : await readRevalued(tx, openedAt, costs, question);
  const { items: tallies, books } = tallyFlows(flows, isIn);
  const named = new Set([...flows, ...earlier].map((flow) => flow.itemId));
  const catalogue = await listReportItems(tx, [...named]);
  const known = new Map(catalogue.map((item) => [item.itemId, item]));
  const rows = itemsOf(reading, catalogue, tallies, revaluedBy(earlier, isIn));
  const items = rows.map((row) => row.answer);
  const byId = new Map(items.map((item) => [item.itemId, item]));
  const isPackaging = (itemId: string): boolean => known.get(itemId)?.itemKind === 'packaging';
  const sites = await listReportSites(tx, siteIds);
  const batchQuestion: BatchQuestion = {
    month,
    throughMonth,
    siteIds,
    cutSeq: cut.seq,
    cutMoneyNo: cut.moneyNo,
    closes,
  };
  const made = await readBatches(tx, batchQuestion, costs);
  const siteNames = new Map(sites.map((site) => [site.siteId, site.siteName]));
  const batchLosses = await readBatchLosses(tx, made, siteNames);
  const waste = await readWaste(tx, reading, flows, isIn, byId, siteNames, batchLosses);
  const inedibleG = waste.waste
    .filter((row) => !row.packaging && row.material === 'inedible-parts')
    .reduce((sum, row) => sum + row.grams, 0);
  const printed = rows.map(({ answer, portionsPerUnit }) => ({
    packaging: isPackaging(answer.itemId),
    portionsPerUnit,
    ...answer,
  }));
  const opened = openedAt === null ? null : await loadCosts(tx, openedAt);
  const totals = sumsOf(items);
  const makingFine = await readMaking(tx, batchQuestion, costs, opened, { books, earlier, isIn });
  const { making, lossOf } = makingOf(totals.inMoney, makingFine);
  const code = await getCurrency(tx);
  return {
    month,
    throughMonth,
    from: monthBounds(month).from,
    to: monthBounds(throughMonth).to,
    sites,
    allSites: siteIds === null,
    state,
    cut: {
      seq: cut.seq,
      moneyNo: cut.moneyNo,
      recordedAt: cut.recordedAtMs === 0 ? null : utc(cut.recordedAtMs),
    },
    currency: { code, minorDigits: minorDigitsOf(code) },
    items,
    categories: categoriesOf(items),
    totals,
    bySite: sitesOf(sites, books, earlier, lossOf, isPackaging),
    ...waste,
    batchLosses,
    making,
    late: lateOf(reading, flows, earlier, known),
    batches: batchAnswers(made),
    packingRuns: await readPackingRuns(tx, batchQuestion, costs),
    recipes: recipeAnswers(made),
    uncostedLots: await uncostedOfMonth(tx, reading, costs, items),
    summary: summaryOf(printed, inedibleG, {
      inputG: made.reduce((sum, { result }) => sum + result.grams.inputG, 0),
      outputG: made.reduce((sum, { result }) => sum + result.grams.outputG, 0),
    }),
    notes: [...NOTES],
  };
}
