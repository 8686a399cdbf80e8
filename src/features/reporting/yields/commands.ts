/** Reading yields. Refusals: `not-found` (site, recipe), `rule-broken` (no site, a period the wrong way round, a picture of no recipe), `period-too-long`. */
import Fraction from 'fraction.js';
import { notFound } from '../../../domain/errors.ts';
import { roundHalfAwayFromZero } from '../../../domain/exact.ts';
import { groupBy } from '../../../domain/grouping.ts';
import { refuseQuery, requireYear } from '../../../domain/query-days.ts';
import { LOOK_BACK, medianPpm, percentOfPpm, usualRange, type UsualRange } from '../../../domain/yields/spread.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { findRecipes } from '../../catalogue/index.ts';
import { cutAsked, sitesAsked } from '../asked.ts';
import { costsOfBatches, FINE_PER_MINOR, loadCosts, type BatchCost } from '../costs/index.ts';
import type { getYields, RecipeYields, YieldsAnswer } from './contract.ts';
import { measureBatches, type MeasuredBatch } from './measured.ts';
import { drawYields } from './picture.ts';
import { listYieldBatches } from './queries.ts';
import { loadChain } from './walk.ts';

/** Batches of one answer, with those that they are held against. */
const MOST_BATCHES = 10_000;
const METHOD =
  'Mean of the earlier yields ± 3 x mean moving range / 1.128: control chart of individuals, NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2';
const NOTES = [
  'Planned loss is trim, cooking and drip loss as written down, as far as the recipe allows for it; what was written down beyond that is recorded waste. ' +
    'What nobody wrote down is unexplained.',
  'The usual range rests on at least 8 and at most 50 earlier batches of the recipe at the same site. Under half a percentage point from the mean nothing ' +
    'stands out: scales differ by that (common practice). A batch that stands out is a question, not a verdict.',
  'The chain counts what was made in the period. What is still in stock may be served or wasted later; at the end of a period that is much.',
  'Water from the tap has weight from where it goes in, and was not bought: so a dish may weigh more prepared than what was bought for it.',
  'A batch that was not weighed at a stage has no mass of its own there: prepared is what went in less the trim that was written down.',
];

function rangeAnswer(usual: UsualRange | null) {
  if (!usual) return null;
  return {
    mean: percentOfPpm(usual.mean),
    lower: percentOfPpm(usual.lower),
    upper: percentOfPpm(usual.upper),
    n: usual.batches,
    basis: usual.basis,
  };
}

type Costs = ReadonlyMap<string, BatchCost>;

const minorOf = (fine: bigint | undefined): number =>
  Number(roundHalfAwayFromZero(new Fraction(fine ?? 0n, FINE_PER_MINOR)));

function batchAnswer(costs: Costs, batch: MeasuredBatch): RecipeYields['batches'][number] {
  const { row, split, judged, yieldPpm } = batch;
  const cost = costs.get(row.batchId);
  return {
    batchId: row.batchId,
    code: row.code,
    completedOn: row.completedOn,
    recipeVersion: row.recipeVersion,
    expectedYieldPercent: percentOfPpm(BigInt(row.expectedYieldPpm)),
    yieldPercent: yieldPpm === null ? null : percentOfPpm(yieldPpm),
    ...split.grams,
    costMinor: minorOf(cost?.poolFine),
    abnormalLossMinor: minorOf(cost?.restFine),
    standsOut: judged.side !== null,
    side: judged.side,
    usualRange: rangeAnswer(judged.usual),
  };
}

/** One recipe at one site; null when none of its batches is in the period. */
function recipeAnswer(costs: Costs, batches: readonly MeasuredBatch[]): RecipeYields[] {
  const within = batches.filter(({ row }) => row.within);
  const last = within.at(-1);
  if (!last) return [];
  const known = within.flatMap(({ yieldPpm }) => yieldPpm ?? []);
  const sorted = [...known].sort((a, b) => (a < b ? -1 : 1));
  const tenth = (ppm: Fraction | bigint | null | undefined) =>
    ppm === null || ppm === undefined ? null : percentOfPpm(ppm);
  const next = rangeAnswer(usualRange(batches, last.recipeVersion));
  const { recipeId, recipeCode, itemName, siteId, siteName } = last.row;
  const answers = within.map((batch) => batchAnswer(costs, batch));
  const sum = (pick: (answer: (typeof answers)[number]) => number) =>
    answers.reduce((total, one) => total + pick(one), 0);
  return [
    {
      recipeId,
      recipeCode,
      itemName,
      siteId,
      siteName,
      expectedYieldPercent: percentOfPpm(BigInt(last.row.expectedYieldPpm)),
      median: tenth(medianPpm(known)),
      lowest: tenth(sorted[0]),
      highest: tenth(sorted.at(-1)),
      spread: next && { method: METHOD, ...next },
      standOuts: within.filter(({ judged }) => judged.side !== null).length,
      costMinor: sum(({ costMinor }) => costMinor),
      abnormalLossMinor: sum(({ abnormalLossMinor }) => abnormalLossMinor),
      batches: answers,
    },
  ];
}

export async function readYields(context: Context<typeof getYields>): Promise<Reply> {
  const { tx, query } = context;
  const { fromDate, toDate } = query;
  const recipeId = query.recipeId ?? null;
  requireYear(fromDate, toDate);
  const siteIds = (await sitesAsked(context, query))?.map(({ siteId }) => siteId) ?? null;
  if (recipeId !== null && !(await findRecipes(tx, [recipeId])).has(recipeId)) throw notFound('recipe');
  const wanted = context.accept(['application/json', 'image/svg+xml']) === 'image/svg+xml' ? 'svg' : 'json';
  const format = query.format ?? wanted;
  if (format === 'svg' && recipeId === null) throw refuseQuery('recipeId', 'A picture is of one recipe: name it.');

  const cut = await cutAsked(context, query);
  const asked = { fromDate, toDate, siteIds, recipeId };
  const rows = await listYieldBatches(tx, asked, cut, { lookBack: LOOK_BACK, limit: MOST_BATCHES + 1 });
  if (rows.length > MOST_BATCHES) {
    const detail = `More than ${MOST_BATCHES} batches with their history. Ask for one recipe, one site or a shorter period.`;
    throw refuseQuery('fromDate', detail, 'period-too-long');
  }
  const measured = await measureBatches(tx, rows, cut.seq);
  const within = measured.filter(({ row }) => row.within).map(({ batchId }) => batchId);
  const costs = await costsOfBatches(tx, await loadCosts(tx, cut), within);
  const recipes = [...groupBy(measured, ({ row }) => `${row.recipeId} ${row.siteId}`).values()].flatMap((own) =>
    recipeAnswer(costs, own),
  );
  if (format === 'svg') {
    const data = drawYields(recipes, { fromDate, toDate });
    return { status: 200, raw: { contentType: 'image/svg+xml; charset=utf-8', data } };
  }
  const body: YieldsAnswer = {
    fromDate,
    toDate,
    siteIds,
    cut: { seq: cut.seq, moneyNo: cut.moneyNo },
    recipes,
    chain: await loadChain(tx, asked, cut),
    notes: NOTES,
  };
  return { status: 200, body };
}
