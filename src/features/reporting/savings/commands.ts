/**
 * Savings, and the period that they are held against. Refusals: `rule-broken` (not of the whole group, months the wrong way round or not begun),
 * `month-not-ended`, `period-too-long`, `history-too-short` (no baseline, nothing bought).
 */
import Fraction from 'fraction.js';
import { Refused } from '../../../domain/errors.ts';
import { massOfMg, sumFractions } from '../../../domain/exact.ts';
import { monthsFrom } from '../../../domain/month/periods.ts';
import { periodFigures, savedAgainst, type PeriodMasses } from '../../../domain/yields/savings.ts';
import { fromInstant, localDate, monthBounds } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { getCutNow, type Cut } from '../../ledger/index.ts';
import { askedMonths } from '../asked.ts';
import { FINE_PER_MINOR, findUnitCosts, loadCosts } from '../costs/index.ts';
import { readingOf } from '../month/scope.ts';
import type { BaselineAnswer, createSavingsBaseline, getSavings, SavingsAnswer } from './contract.ts';
import {
  findNewestBaseline,
  getGroupFacts,
  insertBaseline,
  listBought,
  listUsedUp,
  type WentRow,
  type BaselineRow,
  type Days,
} from './store.ts';

const MOST_MONTHS = 12;
const UG_PER_MG = 1000n;
const METHOD =
  'Used up = bought food that came to its end in the period: served, eaten otherwise, discarded, or lost in making. Waste share = bought food in ' +
  'what was discarded / used up, by mass. Saved kilograms = (waste share of the baseline - waste share of the period) x what was used up in the ' +
  'period. Saved money = saved kilograms x average price per kilogram of what was bought in the period. Bought food in a dish is followed ' +
  'through every batch: water taken up is not counted, trim and steam are taken off in proportion. What happened counts in the month in which ' +
  'it happened, whenever it was recorded; a closed month is read as it was closed.';
const CAUTIONS = [
  'Another mix of dishes has another waste share, with nobody working better or worse.',
  'A batch that ends after the period counts as lost in making what comes out of it later; the longer the period, the less that is.',
  'Trim and cooking loss are used up and in neither share; they are in the yields.',
  'The average price says nothing of which food was wasted: a kilogram of beef counts like a kilogram of potatoes.',
  'A discard that nobody recorded looks like a saving.',
];

type Months = { readonly month: string; readonly throughMonth: string };

const refusal = (
  code: 'rule-broken' | 'month-not-ended' | 'period-too-long' | 'history-too-short',
  detail: string,
  pointer: string,
) => new Refused(code, detail, { errors: [{ detail, pointer }] });

function monthsChosen({ month, throughMonth = month }: { month: string; throughMonth?: string | undefined }): Months {
  const count = monthsFrom(month, throughMonth);
  if (count < 1) throw refusal('rule-broken', `${throughMonth} is before ${month}.`, '#/throughMonth');
  if (count > MOST_MONTHS) {
    throw refusal('period-too-long', `That is ${count} months; at most ${MOST_MONTHS}.`, '#/throughMonth');
  }
  return { month, throughMonth };
}

const daysOf = ({ month, throughMonth }: Months): Days => {
  const after = Date.parse(`${monthBounds(throughMonth).to}T00:00:00Z`);
  return { fromDate: monthBounds(month).from, toDate: new Date(after - 86_400_000).toISOString().slice(0, 10) };
};

/** What was bought, served and wasted in the months, as known at the cut. */
async function massesOf(tx: Tx, months: Months, cut: Cut): Promise<PeriodMasses> {
  const days = daysOf(months);
  const came = await listBought(tx, days, cut);
  const went = await listUsedUp(tx, days, cut);
  const lotIds = [...new Set([...came, ...went].map(({ lotId }) => lotId))];
  const costs = await findUnitCosts(tx, await loadCosts(tx, cut), lotIds);
  const bought = came.map(({ lotId, quantity, lotQuantity, lotMassMg }) => {
    const cost = costs.get(lotId);
    const fine = BigInt(quantity) * (cost?.unitFine ?? 0n);
    return {
      priced: cost !== undefined && !cost.uncosted,
      mass: massOfMg(BigInt(quantity), BigInt(lotQuantity), BigInt(lotMassMg)),
      minor: new Fraction(fine, FINE_PER_MINOR),
    };
  });
  const boughtIn = (...where: readonly WentRow['where'][]) =>
    went
      .filter((row) => where.includes(row.where))
      .reduce((ug, row) => ug + BigInt(row.quantity) * (costs.get(row.lotId)?.boughtUgPerUnit ?? 0n), 0n);
  const priced = bought.filter((one) => one.priced);
  return {
    boughtMg: sumFractions(bought.map(({ mass }) => mass)),
    usedUpMg: new Fraction(boughtIn('served', 'otherwise', 'wasted', 'making'), UG_PER_MG),
    servedBoughtMg: new Fraction(boughtIn('served'), UG_PER_MG),
    wastedBoughtMg: new Fraction(boughtIn('wasted'), UG_PER_MG),
    pricedMg: sumFractions(priced.map(({ mass }) => mass)),
    pricedMinor: sumFractions(priced.map(({ minor }) => minor)),
  };
}

const figuresOf = (months: Months, cut: Pick<Cut, 'seq' | 'moneyNo'>, masses: PeriodMasses) => ({
  month: months.month,
  throughMonth: months.throughMonth,
  cut: { seq: cut.seq, moneyNo: cut.moneyNo },
  ...periodFigures(masses),
});

const baselineFields = (row: BaselineRow) => ({
  baselineId: row.baselineId,
  month: row.month,
  throughMonth: row.throughMonth,
  note: row.note,
  recordedAt: row.recordedAt.toISOString(),
});

export async function readSavings(context: Context<typeof getSavings>): Promise<Reply> {
  const { tx, query, scope, nowMs } = context;
  if (!scope.all) {
    const detail = 'Savings are those of the whole group, for those who may read all of it.';
    throw refusal('rule-broken', detail, '#/query');
  }
  const asked = await askedMonths(context, query);
  // A closed month is read as it was closed.
  const { cut } = await readingOf(tx, asked);
  const months = { month: asked.month, throughMonth: asked.throughMonth };
  const { currency } = await getGroupFacts(tx);
  const row = await findNewestBaseline(tx, query.recordedAt === undefined ? nowMs : fromInstant(query.recordedAt));
  if (!row) {
    throw refusal(
      'history-too-short',
      'There is no baseline: choose a month of the past by /v1/savings-baselines.',
      '#/query',
    );
  }
  const masses = await massesOf(tx, months, cut);
  const baselineCut = { seq: row.seq, moneyNo: row.moneyNo, recordedAtMs: row.recordedAt.getTime() };
  const baseline = await massesOf(tx, row, baselineCut);
  const saved = savedAgainst(baseline, masses);
  if (!saved) {
    throw refusal(
      'history-too-short',
      'Nothing that was bought was used up in that period, so there is no share of it.',
      '#/query/month',
    );
  }
  const body: SavingsAnswer = {
    currency,
    period: figuresOf(months, cut, masses),
    baseline: { ...baselineFields(row), figures: figuresOf(row, baselineCut, baseline) },
    saved,
    method: METHOD,
    cautions: CAUTIONS,
  };
  return { status: 200, body };
}

export async function chooseBaseline(context: Context<typeof createSavingsBaseline>): Promise<Reply> {
  const { tx, body, actor, factId, nowMs, scope } = context;
  if (!scope.all) {
    throw refusal('rule-broken', 'A baseline is that of the whole group, for those who act for all of it.', '#');
  }
  const months = monthsChosen(body);
  const { timeZones } = await getGroupFacts(tx);
  const { to } = monthBounds(months.throughMonth);
  if (!timeZones.every((zone) => localDate(nowMs, zone) >= to)) {
    throw refusal('month-not-ended', `${months.throughMonth} has not ended at every site.`, '#/throughMonth');
  }
  const cut = await getCutNow(tx);
  const masses = await massesOf(tx, months, cut);
  if (masses.usedUpMg.s <= 0n || masses.usedUpMg.n === 0n) {
    throw refusal(
      'history-too-short',
      'Nothing that was bought was used up in that period: there is nothing to hold later ones against.',
      '#/month',
    );
  }
  // From here on only success.
  const row = { baselineId: factId, ...months, seq: cut.seq, moneyNo: cut.moneyNo, note: body.note ?? null };
  await insertBaseline(tx, { ...row, actorId: actor.actorId }, nowMs);
  const answer: BaselineAnswer = {
    ...baselineFields({ ...row, recordedAt: new Date(nowMs) }),
    figures: figuresOf(months, cut, masses),
  };
  return { status: 201, body: answer };
}
