/**
 * The month of each item, and the yield of its batches. Why exact: units are whole, but q units of a lot weigh the exact
 * rational q x mass / quantity, and a report whose grams do not add up is not believed.
 *
 * Rounding, once and here: the lines of one item are put into one list in which openings and what came in are positive, what
 * went out and the closing are negative. That list sums to exactly zero, and it is rounded to grams by largest remainder,
 * which keeps the rounded sum at the rounded total, zero. So opening + in = out + closing holds in whole grams too, and
 * each line is less than one gram from its exact value. Totals over items and batches are sums of what is printed.
 *
 * Refusals: none. Rows that do not belong to the month's lines are a fault and throw RangeError.
 */
import Fraction from 'fraction.js';
import { largestRemainder, massOfMg, roundHalfAwayFromZero, sumFractions } from './exact.ts';
import { batchYield, type BatchYield } from './yields.ts';

const MG_PER_G = 1000n;

/** What raises the stock, in printing order; `adjusted` is what counts found over, below zero when they found less. */
export const IN_LINES = ['received', 'produced', 'returnedIn', 'transferIn', 'adjusted'] as const;
/** What lowers it, besides waste, which is kept by reason. */
export const OUT_LINES = ['consumed', 'served', 'transferOut', 'returnedToSupplier'] as const;

type InLine = (typeof IN_LINES)[number];
type OutLine = (typeof OUT_LINES)[number];

/** One lot's quantity on one line, reversals netted; may be below zero. */
export interface MonthFlow {
  readonly itemId: string;
  readonly lotQuantity: number;
  readonly lotMassMg: number;
  /**
   * `now`: the stock of today. `after`: its change since the month's end. Both are there to find the closing.
   * `served` is what was seen served, `servedDerived` what counts show to have been; the month's `served` is both.
   */
  readonly line: InLine | OutLine | 'servedDerived' | 'wasted' | 'now' | 'after';
  /** waste only */
  readonly reason: string | null;
  readonly quantity: number;
}

/** One item's month in one measure: its own unit, or grams. opening + in = out + closing, exactly. */
export interface MonthLines extends Record<InLine | OutLine, number> {
  opening: number;
  /** How much of `served` nobody saw, but counts showed to be gone. */
  servedDerived: number;
  wasted: number;
  wastedByReason: { reason: string; quantity: number }[];
  closing: number;
}

export interface ItemMonth {
  readonly itemId: string;
  readonly inUnits: MonthLines;
  readonly inGrams: MonthLines;
}

interface Sums<T> {
  opening: T;
  ins: T[];
  outs: T[];
  wasted: T[];
  closing: T;
}

function arrange(sums: Sums<number>, reasons: readonly string[], servedDerived: number): MonthLines {
  const named = <K extends string>(names: readonly K[], values: readonly number[]) =>
    Object.fromEntries(names.map((name, at) => [name, values[at] ?? 0])) as Record<K, number>;
  return {
    opening: sums.opening,
    ...named(IN_LINES, sums.ins),
    ...named(OUT_LINES, sums.outs),
    servedDerived,
    wasted: sums.wasted.reduce((a, b) => a + b, 0),
    wastedByReason: reasons.map((reason, at) => ({ reason, quantity: sums.wasted[at] ?? 0 })),
    closing: sums.closing,
  };
}

/** Whole grams by largest remainder over the whole row, signed so that it sums to zero. */
function inGrams(exact: Sums<Fraction>): Sums<number> {
  const minus = (value: Fraction) => value.neg();
  const row = [exact.opening, ...exact.ins, ...exact.outs.map(minus), ...exact.wasted.map(minus), exact.closing.neg()];
  const grams = largestRemainder(row, MG_PER_G).map((mg) => Number(mg / MG_PER_G));
  // 0 - x, so that nothing is printed as -0
  const out = (from: number, count: number) => grams.slice(from, from + count).map((g) => 0 - g);
  const insEnd = 1 + exact.ins.length;
  const outsEnd = insEnd + exact.outs.length;
  return {
    opening: grams[0] ?? 0,
    ins: grams.slice(1, insEnd),
    outs: out(insEnd, exact.outs.length),
    wasted: out(outsEnd, exact.wasted.length),
    closing: 0 - (grams.at(-1) ?? 0),
  };
}

/** A part of a printed line: to the nearest gram, and never more than the line. */
const partInGrams = (massMg: Fraction, ofG: number): number =>
  Math.min(Number(roundHalfAwayFromZero(massMg.div(MG_PER_G))), ofG);

const totalOf = (flows: readonly MonthFlow[]): number => flows.reduce((sum, flow) => sum + flow.quantity, 0);

const massOf = (flows: readonly MonthFlow[]): Fraction =>
  sumFractions(flows.map((flow) => massOfMg(BigInt(flow.quantity), BigInt(flow.lotQuantity), BigInt(flow.lotMassMg))));

const isKnown = (line: string): boolean =>
  [...IN_LINES, ...OUT_LINES, 'servedDerived', 'wasted', 'now', 'after'].some((known) => known === line);

/**
 * One item's month. Closing is today's stock less what changed since; opening is closing less what came, plus what went.
 * Null when nothing was there and nothing happened.
 */
function itemMonth(itemId: string, flows: readonly MonthFlow[]): ItemMonth | null {
  const strange = flows.find((flow) => !isKnown(flow.line));
  if (strange) throw new RangeError(`No line of the month: ${strange.line}`);
  const on = (line: MonthFlow['line']) =>
    flows.filter((flow) => flow.line === line || (line === 'served' && flow.line === 'servedDerived'));
  const reasons = [...new Set(on('wasted').map((flow) => flow.reason ?? 'other'))].sort();
  const wasted = reasons.map((reason) => on('wasted').filter((flow) => (flow.reason ?? 'other') === reason));

  const ins = IN_LINES.map((line) => totalOf(on(line)));
  const outs = OUT_LINES.map((line) => totalOf(on(line)));
  const wastes = wasted.map(totalOf);
  const plus = (values: readonly number[]) => values.reduce((a, b) => a + b, 0);
  const closing = totalOf(on('now')) - totalOf(on('after'));
  const opening = closing - plus(ins) + plus(outs) + plus(wastes);
  const units: Sums<number> = { opening, ins, outs, wasted: wastes, closing };

  const insMg = IN_LINES.map((line) => massOf(on(line)));
  const outsMg = OUT_LINES.map((line) => massOf(on(line)));
  const wastedMg = wasted.map(massOf);
  const closingMg = massOf(on('now')).sub(massOf(on('after')));
  const openingMg = closingMg.sub(sumFractions(insMg)).add(sumFractions([...outsMg, ...wastedMg]));
  const masses: Sums<Fraction> = { opening: openingMg, ins: insMg, outs: outsMg, wasted: wastedMg, closing: closingMg };

  if ([opening, closing, ...ins, ...outs, ...wastes].every((quantity) => quantity === 0)) return null;
  const derived = on('servedDerived');
  const grams = inGrams(masses);
  return {
    itemId,
    inUnits: arrange(units, reasons, totalOf(derived)),
    inGrams: arrange(grams, reasons, partInGrams(massOf(derived), grams.outs[OUT_LINES.indexOf('served')] ?? 0)),
  };
}

/** Each item's month, in the order in which the items first appear. */
export function monthOf(flows: readonly MonthFlow[]): ItemMonth[] {
  const byItem = new Map<string, MonthFlow[]>();
  for (const flow of flows) {
    const group = byItem.get(flow.itemId);
    if (group) group.push(flow);
    else byItem.set(flow.itemId, [flow]);
  }
  return [...byItem].flatMap(([itemId, group]) => itemMonth(itemId, group) ?? []);
}

/** One lot's quantity into or out of a batch, reversals netted. */
interface BatchFlow {
  readonly lotQuantity: number;
  readonly lotMassMg: number;
  readonly quantity: number;
}

export interface BatchFacts {
  readonly inputs: readonly BatchFlow[];
  readonly outputs: readonly BatchFlow[];
  readonly gainsMg: Readonly<Record<string, number>>;
  readonly lossesMg: Readonly<Record<string, number>>;
  readonly expectedYieldPpm: number;
}

/** Whole grams: input + gains = output + losses + unexplained, exactly. */
interface BatchGrams {
  inputG: number;
  gainsG: Record<string, number>;
  outputG: number;
  lossesG: Record<string, number>;
  unexplainedG: number;
}

export interface BatchResult {
  readonly exact: BatchYield;
  readonly grams: BatchGrams;
}

/** A batch's yield, rounded by largest remainder over input, gains, output, losses and the unexplained rest. */
export function batchResult({ inputs, outputs, gainsMg, lossesMg, expectedYieldPpm }: BatchFacts): BatchResult {
  const massesOf = (flows: readonly BatchFlow[]) =>
    flows.map((flow) => massOfMg(BigInt(flow.quantity), BigInt(flow.lotQuantity), BigInt(flow.lotMassMg)));
  const byKind = (masses: Readonly<Record<string, number>>) =>
    Object.entries(masses)
      .sort(([a], [b]) => (a < b ? -1 : 1))
      .map(([kind, mg]) => [kind, BigInt(mg)] as const);
  const gains = byKind(gainsMg);
  const losses = byKind(lossesMg);
  const exact = batchYield({
    inputsMg: massesOf(inputs),
    outputsMg: massesOf(outputs),
    gainsMg: Object.fromEntries(gains),
    lossesMg: Object.fromEntries(losses),
    expectedYieldPpm,
  });
  const out = (masses: readonly (readonly [string, bigint])[]) => masses.map(([, mg]) => new Fraction(-mg));
  const coming = [exact.consumedMg, ...gains.map(([, mg]) => new Fraction(mg))];
  const row = [...coming, exact.outputsMg.neg(), ...out(losses), exact.unexplainedMg.neg()];
  const grams = largestRemainder(row, MG_PER_G).map((mg) => Number(mg / MG_PER_G));
  const outputAt = coming.length;
  return {
    exact,
    grams: {
      inputG: grams[0] ?? 0,
      gainsG: Object.fromEntries(gains.map(([kind], at) => [kind, grams[at + 1] ?? 0])),
      outputG: 0 - (grams[outputAt] ?? 0),
      lossesG: Object.fromEntries(losses.map(([kind], at) => [kind, 0 - (grams[outputAt + 1 + at] ?? 0)])),
      unexplainedG: 0 - (grams.at(-1) ?? 0),
    },
  };
}

export interface RecipeResult extends BatchGrams {
  readonly batches: number;
  /** Percent to one decimal; null when nothing went in. */
  readonly yieldPercent: number | null;
  /** What the batches' recipes expected of what went into them. */
  readonly expectedYieldPercent: number | null;
}

/** Several batches as one: grams are sums of what is printed for each, yields come from the exact masses. */
export function sumBatches(results: readonly BatchResult[]): RecipeResult {
  const sumG = (pick: (grams: BatchGrams) => number) => results.reduce((sum, { grams }) => sum + pick(grams), 0);
  const sumByKind = (pick: (grams: BatchGrams) => Record<string, number>) => {
    const kinds = [...new Set(results.flatMap(({ grams }) => Object.keys(pick(grams))))].sort();
    return Object.fromEntries(kinds.map((kind) => [kind, sumG((grams) => pick(grams)[kind] ?? 0)]));
  };
  const consumed = sumFractions(results.map(({ exact }) => exact.consumedMg));
  const outputs = sumFractions(results.map(({ exact }) => exact.outputsMg));
  const expected = sumFractions(results.flatMap(({ exact }) => exact.expected?.outputsMg ?? []));
  return {
    batches: results.length,
    inputG: sumG((grams) => grams.inputG),
    gainsG: sumByKind((grams) => grams.gainsG),
    outputG: sumG((grams) => grams.outputG),
    lossesG: sumByKind((grams) => grams.lossesG),
    unexplainedG: sumG((grams) => grams.unexplainedG),
    yieldPercent: percentOf(outputs, consumed),
    expectedYieldPercent: percentOf(expected, consumed),
  };
}

/** Percent to one decimal, halves away from zero; null when there is nothing to take it of. */
function percentOf(part: Fraction, whole: Fraction): number | null {
  return whole.n === 0n ? null : Number(roundHalfAwayFromZero(part.div(whole).mul(1000n))) / 10;
}

export interface MonthSummary {
  inG: number;
  servedG: number;
  /** of `servedG`, what counts show */
  servedDerivedG: number;
  wastedG: number;
  wastedByReason: { reason: string; quantityG: number }[];
  adjustedG: number;
  wastedPercentOfIn: number | null;
  wastedPercentOfServedAndWasted: number | null;
}

/** Sums of the printed grams. `inG` is received + produced + returned in + transferred in; adjustments are apart. */
export function summaryOf(items: readonly ItemMonth[]): MonthSummary {
  const sumG = (pick: (lines: MonthLines) => number) => items.reduce((sum, item) => sum + pick(item.inGrams), 0);
  const byReason = new Map<string, number>();
  for (const { inGrams: lines } of items) {
    for (const { reason, quantity } of lines.wastedByReason) {
      byReason.set(reason, (byReason.get(reason) ?? 0) + quantity);
    }
  }
  const inG = sumG((lines) => lines.received + lines.produced + lines.returnedIn + lines.transferIn);
  const servedG = sumG((lines) => lines.served);
  const wastedG = sumG((lines) => lines.wasted);
  return {
    inG,
    servedG,
    servedDerivedG: sumG((lines) => lines.servedDerived),
    wastedG,
    wastedByReason: [...byReason].sort().map(([reason, quantityG]) => ({ reason, quantityG })),
    adjustedG: sumG((lines) => lines.adjusted),
    wastedPercentOfIn: percentOf(new Fraction(wastedG), new Fraction(inG)),
    wastedPercentOfServedAndWasted: percentOf(new Fraction(wastedG), new Fraction(servedG + wastedG)),
  };
}
