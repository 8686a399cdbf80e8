/**
 * A printed report or cost held against the oracle's exact figures. Answers what differs, in words; nothing when they agree. A printed whole
 * number may be the exact value rounded up or down (largest remainder decides which), never further off, and every row must add up.
 */
import Fraction from 'fraction.js';
import { ZERO, type OracleCosts } from '../oracle/cost.ts';
import { itemOf, type MonthWorld } from '../oracle/month-facts.ts';
import { IN_LINES, OUT_LINES, type Line, type MoneyLine } from '../oracle/month-lines.ts';
import type { OracleMonth, OracleRow } from '../oracle/month.ts';
import type { Json } from '../kitchen.ts';

/** Costs of lots are kept in 10^-18 of a minor unit: what their rounding may come to, in minor units. */
export const FINE = new Fraction(1, 1_000_000);
const LINES: readonly Line[] = ['opening', ...IN_LINES, ...OUT_LINES, 'closing'];
const MONEY_LINES: readonly MoneyLine[] = [...LINES, 'revalued'];

/** Rounded up or down, and not at all when the exact value is whole. */
function isRounding(printed: number, exact: Fraction, slack = ZERO): boolean {
  const low = exact.sub(slack).floor();
  const high = exact.add(slack).ceil();
  return low.compare(printed) <= 0 && high.compare(printed) >= 0;
}

/** What a row's left side has more than its right side. */
function imbalance(row: Json): number {
  let sum: number = row.opening - row.closing + (row.revalued ?? 0);
  for (const line of IN_LINES) sum += row[line];
  for (const line of OUT_LINES) sum -= row[line];
  return sum;
}

const shown = (value: Fraction): string => value.valueOf().toFixed(4);

function rowDifferences(name: string, printed: Json, exact: OracleRow | undefined): string[] {
  const differences: string[] = [];
  for (const line of LINES) {
    const units = exact?.units[line] ?? 0;
    if (printed.inUnits[line] !== units)
      differences.push(`${name} ${line}: ${printed.inUnits[line]} units, not ${units}`);
    const grams = exact?.grams[line] ?? ZERO;
    if (!isRounding(printed.inGrams[line], grams)) {
      differences.push(`${name} ${line}: ${printed.inGrams[line]} g, not ${shown(grams)}`);
    }
  }
  for (const line of MONEY_LINES) {
    const money = exact?.money[line] ?? ZERO;
    if (!isRounding(printed.inMoney[line], money, FINE)) {
      differences.push(`${name} ${line}: ${printed.inMoney[line]} minor, not ${shown(money)}`);
    }
  }
  for (const kind of ['inUnits', 'inGrams', 'inMoney']) {
    if (imbalance(printed[kind]) !== 0)
      differences.push(`${name}: its row ${kind} is off by ${imbalance(printed[kind])}`);
  }
  return differences;
}

function totalDifferences(report: Json): string[] {
  const differences: string[] = [];
  for (const kind of ['inGrams', 'inMoney']) {
    for (const line of kind === 'inGrams' ? LINES : MONEY_LINES) {
      const sum = (report.items as Json[]).reduce((total: number, item) => total + item[kind][line], 0);
      if (report.totals[kind][line] !== sum)
        differences.push(`total ${kind} ${line}: ${report.totals[kind][line]}, not ${sum}`);
      const byCategory = (report.categories as Json[]).reduce((total: number, one) => total + one[kind][line], 0);
      if (byCategory !== sum) differences.push(`categories ${kind} ${line}: ${byCategory}, not ${sum}`);
    }
  }
  return differences;
}

function wasteDifferences(world: MonthWorld, report: Json, exact: OracleMonth): string[] {
  const differences: string[] = [];
  const keyOf = (one: Json): string => [one.siteId, one.itemId, one.reason, one.destination, one.material].join('|');
  const printed = new Map((report.waste as Json[]).map((one) => [keyOf(one), one]));
  if (printed.size !== report.waste.length) differences.push('two rows of waste have one key');
  const wanted = new Map(exact.waste.map((one) => [keyOf(one), one]));
  for (const key of new Set([...printed.keys(), ...wanted.keys()])) {
    const [row, want] = [printed.get(key), wanted.get(key)];
    if ((row?.quantity ?? 0) !== (want?.quantity ?? 0)) {
      differences.push(`waste ${key}: ${row?.quantity ?? 'no row'}, not ${want?.quantity ?? 'any'}`);
    } else if (row && want) {
      if (!isRounding(row.grams, want.grams))
        differences.push(`waste ${key}: ${row.grams} g, not ${shown(want.grams)}`);
      if (!isRounding(row.valueMinor, want.money, FINE)) {
        differences.push(`waste ${key}: ${row.valueMinor} minor, not ${shown(want.money)}`);
      }
    }
  }
  for (const item of report.items as Json[]) {
    const rows = (report.waste as Json[]).filter((one) => one.itemId === item.itemId);
    const sumOf = (name: string): number => rows.reduce((total: number, one) => total + one[name], 0);
    const sums = [sumOf('quantity'), sumOf('grams'), sumOf('valueMinor')];
    const row = [item.inUnits.wasted, item.inGrams.wasted, item.inMoney.wasted];
    if (String(sums) !== String(row))
      differences.push(`waste of ${item.itemCode} is ${String(sums)}, its row says ${String(row)}`);
  }
  const foodOf = (material: string): number =>
    (report.waste as Json[])
      .filter((one) => one.material === material && itemOf(world, one.itemId).packaging !== true)
      .reduce((total: number, one) => total + one.grams, 0);
  for (const [by, rows] of Object.entries(report.wasteBy as Record<string, Json[]>)) {
    const food = rows.reduce((total: number, one) => total + one.foodG, 0);
    const inedible = rows.reduce((total: number, one) => total + one.inediblePartsG, 0);
    if (food !== foodOf('food')) differences.push(`wasteBy ${by}: ${food} g of food, not ${foodOf('food')}`);
    if (inedible !== foodOf('inedible-parts')) differences.push(`wasteBy ${by}: ${inedible} g of inedible parts`);
  }
  return differences;
}

function lateDifferences(report: Json, exact: OracleMonth): string[] {
  const differences: string[] = [];
  interface Sum {
    quantity: number;
    grams: number;
    money: number;
    rows: number;
  }
  const keyOf = (month: string, revalued: boolean, line: string, itemId: string): string =>
    [month, revalued ? 'revalued' : 'told', line, itemId].join('|');
  const printed = new Map<string, Sum>();
  for (const row of report.late as Json[]) {
    const key = keyOf(row.month, row.kind === 'revalued', row.line, row.itemId);
    const sum = printed.get(key) ?? { quantity: 0, grams: 0, money: 0, rows: 0 };
    sum.quantity += row.quantity;
    sum.grams += row.grams;
    sum.money += row.valueMinor;
    sum.rows += 1;
    printed.set(key, sum);
  }
  const wanted = new Map(exact.late.map((one) => [keyOf(one.month, one.revalued, one.line, one.itemId), one]));
  for (const key of new Set([...printed.keys(), ...wanted.keys()])) {
    const [row, want] = [printed.get(key), wanted.get(key)];
    const money = want?.money ?? ZERO;
    const rounded = money.abs().compare(1) >= 0;
    // a change that comes to less than a minor unit need not be listed
    if (row === undefined && !rounded && key.includes('|revalued|')) continue;
    if ((row?.quantity ?? 0) !== (want?.quantity ?? 0)) {
      differences.push(`late ${key}: ${row?.quantity ?? 'no row'}, not ${want?.quantity ?? 'any'}`);
    }
    const off = money.sub(row?.money ?? 0).abs();
    if (off.compare(Math.max(1, row?.rows ?? 1)) > 0)
      differences.push(`late ${key}: ${row?.money} minor, not ${shown(money)}`);
    const gramsOff = (want?.grams ?? ZERO).sub(row?.grams ?? 0).abs();
    if (gramsOff.compare(Math.max(1, row?.rows ?? 1)) > 0)
      differences.push(`late ${key}: ${row?.grams} g, not ${shown(want?.grams ?? ZERO)}`);
  }
  return differences;
}

function makingDifferences(report: Json, exact: OracleMonth): string[] {
  const { workInProcessOpening, revalued, consumed, added, produced, abnormalLoss, workInProcessClosing } =
    report.making;
  const off = workInProcessOpening + revalued + consumed + added - produced - abnormalLoss - workInProcessClosing;
  const differences = off === 0 ? [] : [`making is off by ${off}`];
  for (const line of ['consumed', 'produced'] as const) {
    const sum = report.totals.inMoney[line];
    if (Math.abs(report.making[line] - sum) > report.items.length) {
      differences.push(`making ${line}: ${report.making[line]}, the items' ${sum}`);
    }
  }
  const want = exact.making;
  const parts = [
    ['opening', workInProcessOpening, want.opening],
    ['revalued', revalued, want.revalued],
    ['added', added, want.added],
    ['closing', workInProcessClosing, want.closing],
  ] as const;
  for (const [name, printed, one] of parts) {
    if (!isRounding(printed, one, FINE)) differences.push(`making ${name}: ${printed}, not ${shown(one)}`);
  }
  // consumed and produced are sums of rows that are rounded each by itself: the loss takes up what that leaves over
  const loss = [...want.lossOf.values()].reduce((sum, one) => sum.add(one), ZERO);
  const reach = 2 * report.items.length + 2;
  if (loss.sub(abnormalLoss).abs().compare(reach) > 0)
    differences.push(`making abnormalLoss: ${abnormalLoss}, not ${shown(loss)}`);
  let atSites = 0;
  for (const site of report.bySite as Json[]) {
    const own = want.lossOf.get(site.siteId) ?? ZERO;
    atSites += site.abnormalLossMinor;
    if (!isRounding(site.abnormalLossMinor, own, FINE))
      differences.push(`lost at ${site.siteCode}: ${site.abnormalLossMinor}, not ${shown(own)}`);
  }
  if (atSites + report.making.abnormalLossAtNoSite !== abnormalLoss)
    differences.push(`lost at sites ${atSites} and ${report.making.abnormalLossAtNoSite}, in all ${abnormalLoss}`);
  return differences;
}

/** What each batch that was completed cost, and what it lost beyond its plan. */
function batchDifferences(report: Json, exact: OracleMonth): string[] {
  return (report.batches as Json[]).flatMap((row) => {
    const process = exact.costs.processes.get(row.batchId);
    if (process === undefined) return [`batch ${row.code} is not known`];
    const cost = process.carried.add(process.rest);
    const same = isRounding(row.costMinor, cost, FINE) && isRounding(row.abnormalLossMinor, process.rest, FINE);
    const lost = `${row.costMinor} of which ${row.abnormalLossMinor} lost`;
    return same ? [] : [`batch ${row.code}: ${lost}, not ${shown(cost)} and ${shown(process.rest)}`];
  });
}

function uncostedDifferences(report: Json, exact: OracleMonth): string[] {
  const printed = new Set((report.uncostedLots.lots as Json[]).map((lot) => lot.lotId as string));
  const known = [...exact.lotIds].filter((lotId) => !exact.costs.costOf(lotId).hollow);
  const wanted = new Set(known.filter((lotId) => exact.costs.costOf(lotId).uncosted));
  // what only moved between two books of the scope may be named too
  const extra = [...printed].filter((lotId) => {
    const { uncosted, hollow } = exact.costs.costOf(lotId);
    return !uncosted && !hollow;
  });
  const missing = report.uncostedLots.count > printed.size ? [] : [...wanted].filter((lotId) => !printed.has(lotId));
  return [...extra.map((lotId) => `${lotId} is called uncosted`), ...missing.map((lotId) => `${lotId} is uncosted`)];
}

export function reportDifferences(world: MonthWorld, report: Json, exact: OracleMonth): string[] {
  const printed = new Map((report.items as Json[]).map((item) => [item.itemId as string, item]));
  const differences: string[] = [];
  for (const item of world.items) {
    const row = printed.get(item.id);
    const want = exact.items.get(item.id);
    const nothing = LINES.every((line) => (want?.units[line] ?? 0) === 0);
    if (row) differences.push(...rowDifferences(row.itemCode, row, want));
    else if (!nothing) differences.push(`no row of ${item.id}: ${JSON.stringify(want?.units)}`);
  }
  return [
    ...differences,
    ...totalDifferences(report),
    ...wasteDifferences(world, report, exact),
    ...lateDifferences(report, exact),
    ...batchDifferences(report, exact),
    ...uncostedDifferences(report, exact),
    ...makingDifferences(report, exact),
  ];
}

/** @param answer of GET /v1/lots/{lotId}/cost */
export function costDifferences(answer: Json, costs: OracleCosts): string[] {
  const differences: string[] = [];
  const lot = costs.lots.get(answer.lotId);
  const want = costs.costOf(answer.lotId);
  const unit = new Fraction(answer.unitCostMinor as string);
  const quantity = lot?.quantity ?? 0;
  const off = unit.sub(want.unit).mul(quantity).abs();
  if (off.compare(FINE) >= 0)
    differences.push(`${answer.lotCode}: ${answer.unitCostMinor} for one, not ${want.unit.toString()}`);
  if (!want.hollow && answer.uncosted !== want.uncosted)
    differences.push(`${answer.lotCode}: uncosted is ${answer.uncosted}, not ${want.uncosted}`);
  const total = want.unit.mul(answer.quantity as number);
  const nearHalf = total.sub(total.floor()).sub(1, 2).abs().compare(FINE) <= 0;
  if (!nearHalf && total.round().compare(answer.totalMinor as number) !== 0) {
    differences.push(`${answer.lotCode}: ${answer.totalMinor} in all, not ${shown(total)}`);
  }
  const boughtG = want.boughtMgPerUnit.mul(answer.quantity as number).div(1000);
  if (
    boughtG
      .sub(answer.boughtMassG as number)
      .abs()
      .compare(1) > 0
  ) {
    differences.push(`${answer.lotCode}: ${answer.boughtMassG} g bought in it, not ${shown(boughtG)}`);
  }
  const made = answer.madeBy;
  if (made) {
    const process = costs.processes.get(made.processId);
    if (process === undefined) differences.push(`${answer.lotCode}: made by ${made.processId}, which nobody knows`);
    else {
      const rest = made.abnormalLossMinor + made.workInProcessMinor;
      const parts = [
        ['carried', made.carriedMinor, process.carried],
        ['rest', rest, process.rest],
        ['added', made.addedMinor, process.added],
      ] as const;
      for (const [name, printed, exact] of parts) {
        if (!isRounding(printed, exact, FINE))
          differences.push(`${answer.lotCode}: ${name} ${printed}, not ${shown(exact)}`);
      }
    }
  }
  return differences;
}
