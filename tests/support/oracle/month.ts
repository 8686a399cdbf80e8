/**
 * The month's report, from the facts as they were told: which month each movement belongs to, on which line it stands for a set of sites,
 * and what it was worth, in exact fractions. Nothing is rounded here; what is printed is held against it.
 */
import Fraction from 'fraction.js';
import { costsAt, ZERO, type OracleCosts } from './cost.ts';
import type { MonthFact, MonthWorld } from './month-facts.ts';
import { makingOf, type OracleMaking } from './month-making.ts';
import {
  activeCloses,
  cutOfClose,
  IN_LINES,
  lineOf,
  monthBefore,
  OUT_LINES,
  periodOf,
  type Flow,
  type Line,
  type MoneyLine,
  type Scope,
} from './month-lines.ts';
import type { ToldMovement } from './month-postings.ts';

export interface OracleRow {
  readonly units: Record<Line, number>;
  readonly grams: Record<Line, Fraction>;
  readonly money: Record<MoneyLine, Fraction>;
}

interface OracleWaste {
  readonly siteId: string;
  readonly itemId: string;
  readonly reason: string;
  readonly destination: string | null;
  readonly material: string;
  quantity: number;
  grams: Fraction;
  money: Fraction;
}

interface OracleLate {
  readonly month: string;
  readonly revalued: boolean;
  readonly line: Flow;
  readonly itemId: string;
  quantity: number;
  grams: Fraction;
  money: Fraction;
}

export interface OracleMonth {
  readonly cut: number;
  readonly closed: boolean;
  readonly costs: OracleCosts;
  readonly items: ReadonlyMap<string, OracleRow>;
  readonly waste: readonly OracleWaste[];
  readonly late: readonly OracleLate[];
  /** lots of which, undone facts taken off, something moved in the period or stood at its beginning */
  readonly lotIds: ReadonlySet<string>;
  readonly making: OracleMaking;
}

const ALL_LINES: readonly MoneyLine[] = ['opening', ...IN_LINES, ...OUT_LINES, 'closing', 'revalued'];
const record = <T>(value: T): Record<MoneyLine, T> =>
  Object.fromEntries(ALL_LINES.map((line) => [line, value])) as Record<MoneyLine, T>;

export interface Asked {
  readonly month: string;
  readonly throughMonth?: string;
  readonly scope: Scope;
  /** facts told by then; left out: all, and for a closed month those told before its close */
  readonly cut?: number;
  /** every fact in the month in which it happened, as if nothing had been closed */
  readonly restated?: boolean;
}

export function monthOf(
  world: MonthWorld,
  facts: readonly MonthFact[],
  movements: readonly ToldMovement[],
  asked: Asked,
): OracleMonth {
  const through = asked.throughMonth ?? asked.month;
  const frozen = asked.cut === undefined && asked.restated !== true;
  const closedAt = frozen ? cutOfClose(facts, through) : null;
  const cut = asked.cut ?? closedAt ?? facts.length;
  // a month's own close is the first fact after its cut
  const known = facts.slice(0, cut);
  const closes = asked.restated === true ? [] : activeCloses(known);
  const costs = costsAt(world, known, movements);
  const before = closes.find((close) => close.month === monthBefore(asked.month));
  const oldCosts = before ? costsAt(world, facts.slice(0, before.cut), movements) : costs;
  const oldUnit = (lotId: string): Fraction =>
    before && oldCosts.lots.has(lotId) ? oldCosts.costOf(lotId).unit : ZERO;
  const lotOf = (lotId: string) => {
    const lot = costs.lots.get(lotId);
    if (lot === undefined) throw new Error(`oracle: no lot ${lotId}`);
    return lot;
  };

  const items = new Map<string, OracleRow>();
  const waste = new Map<string, OracleWaste>();
  const late = new Map<string, OracleLate>();
  const byLot = new Map<string, number>();
  for (const moved of movements) {
    if (moved.told > cut) continue;
    const stands = lineOf(world, asked.scope, moved);
    if (stands === null) continue;
    const period = periodOf(moved, closes);
    if (period > through) continue;
    const { line, inward } = stands;
    const lot = lotOf(moved.lotId);
    const gramsOf = (quantity: number): Fraction => new Fraction(lot.massMg).mul(quantity).div(lot.quantity).div(1000);
    const unit = costs.costOf(moved.lotId).unit;
    const change = before ? unit.sub(oldUnit(moved.lotId)) : ZERO;
    const row = items.get(lot.itemId) ?? { units: record(0), grams: record(ZERO), money: record(ZERO) };
    items.set(lot.itemId, row);
    const put = (name: Line, quantity: number, money: Fraction): void => {
      row.units[name] += quantity;
      row.grams[name] = row.grams[name].add(gramsOf(quantity));
      row.money[name] = row.money[name].add(money);
    };
    // what it adds to the stock: a line's own sign is that of its name
    const stock = inward ? moved.quantity : -moved.quantity;
    put('closing', stock, unit.mul(stock));
    const lotKey = `${moved.lotId}|${period < asked.month ? 'opening' : line}`;
    byLot.set(lotKey, (byLot.get(lotKey) ?? 0) + stock);
    const itemKey = `${line}|${lot.itemId}`;
    if (period < asked.month) {
      put('opening', stock, (before ? oldUnit(moved.lotId) : unit).mul(stock));
      row.money.revalued = row.money.revalued.add(change.mul(stock));
      if (!change.equals(0)) {
        const sum = late.get(`${period}|revalued|${itemKey}`) ?? {
          month: period,
          revalued: true,
          line,
          itemId: lot.itemId,
          quantity: 0,
          grams: ZERO,
          money: ZERO,
        };
        sum.quantity += stands.quantity;
        sum.grams = sum.grams.add(gramsOf(stands.quantity));
        sum.money = sum.money.add(change.mul(stands.quantity));
        late.set(`${period}|revalued|${itemKey}`, sum);
      }
      continue;
    }
    put(line, stands.quantity, unit.mul(stands.quantity));
    const happened = moved.occurredOn.slice(0, 7);
    if (happened < period) {
      const sum = late.get(`${happened}|${itemKey}`) ?? {
        month: happened,
        revalued: false,
        line,
        itemId: lot.itemId,
        quantity: 0,
        grams: ZERO,
        money: ZERO,
      };
      sum.quantity += stands.quantity;
      sum.grams = sum.grams.add(gramsOf(stands.quantity));
      sum.money = sum.money.add(unit.mul(stands.quantity));
      late.set(`${happened}|${itemKey}`, sum);
    }
    if (line === 'wasted') {
      const siteId = moved.to.slice('waste:'.length);
      const { reason, destination, material } = moved;
      const key = [siteId, lot.itemId, reason, destination, material].join('|');
      const sum = waste.get(key) ?? {
        siteId,
        itemId: lot.itemId,
        reason: reason ?? '',
        destination,
        material: material ?? 'food',
        quantity: 0,
        grams: ZERO,
        money: ZERO,
      };
      sum.quantity += stands.quantity;
      sum.grams = sum.grams.add(gramsOf(stands.quantity));
      sum.money = sum.money.add(unit.mul(stands.quantity));
      waste.set(key, sum);
    }
  }
  return {
    cut,
    closed: closes.some((close) => close.month === through) || closedAt !== null,
    costs,
    items,
    waste: [...waste.values()],
    late: [...late.values()],
    lotIds: new Set([...byLot].flatMap(([key, quantity]) => (quantity === 0 ? [] : [key.slice(0, key.indexOf('|'))]))),
    making: makingOf(world, known, movements, {
      month: asked.month,
      through,
      scope: asked.scope,
      closes,
      costs,
      oldCosts,
    }),
  };
}
