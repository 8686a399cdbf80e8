/** What a unit too many and a unit too few cost, as asked, as stated, or as the lots cost. Refusal: `rule-broken` when both are nothing. */
import Fraction from 'fraction.js';
import { Refused } from '../../../domain/errors.ts';
import { roundHalfAwayFromZero } from '../../../domain/exact.ts';
import { criticalRatio, type UnitCosts } from '../../../domain/making/quantity.ts';
import type { HowMuchAnswer } from './contract.ts';
import type { RunOutCostRow } from './store.ts';

const MICROS = 1_000_000n;
const HUNDRED = new Fraction(100n);

/** Minor units to six decimals, without zeros that say nothing. */
function moneyText(value: Fraction): string {
  const micros = roundHalfAwayFromZero(value.mul(MICROS));
  const rest = (micros % MICROS).toString().padStart(6, '0').replace(/0+$/, '');
  return rest === '' ? String(micros / MICROS) : `${micros / MICROS}.${rest}`;
}

export interface UnitCost {
  readonly perUnit: Fraction | null;
  readonly text: string;
}

export interface Weighed {
  /** in minor units; null when only their proportion is known, or nothing */
  readonly costs: UnitCosts | null;
  /** any money; null: nothing to weigh by */
  readonly weights: UnitCosts | null;
  readonly ratio: Fraction | null;
  readonly costOfWaste: HowMuchAnswer['costOfWaste'];
  readonly costOfRunningOut: HowMuchAnswer['costOfRunningOut'];
}

interface Asked {
  readonly wasteCostMinor?: string | undefined;
  readonly runOutCostMinor?: string | undefined;
}

export function weigh(asked: Asked, stated: RunOutCostRow | null, unitCost: UnitCost): Weighed {
  const over = asked.wasteCostMinor === undefined ? unitCost.perUnit : new Fraction(asked.wasteCostMinor);
  const costOfWaste: Weighed['costOfWaste'] = {
    perUnitMinor: over && moneyText(over),
    from: asked.wasteCostMinor !== undefined ? 'query' : over ? 'unit-cost' : null,
    text: asked.wasteCostMinor === undefined ? unitCost.text : 'As you gave it.',
  };
  const ratioPercent = asked.runOutCostMinor === undefined ? (stated?.ratioPercent ?? null) : null;
  const under = runOutOf(asked, stated, over);
  const costOfRunningOut: Weighed['costOfRunningOut'] = {
    perUnitMinor: under && moneyText(under),
    ratioPercent,
    from: asked.runOutCostMinor !== undefined ? 'query' : stated ? 'stated' : null,
    runOutCostId: asked.runOutCostMinor === undefined ? (stated?.runOutCostId ?? null) : null,
    text: runOutText(asked, stated),
  };
  const costs = over && under && { over, under };
  const byRatio = ratioPercent === null ? null : { over: HUNDRED, under: new Fraction(BigInt(ratioPercent)) };
  const weights = byRatio ?? costs;
  if (weights && weights.over.equals(0) && weights.under.equals(0)) {
    throw new Refused('rule-broken', 'When neither waste nor running out costs anything, there is nothing to weigh.');
  }
  return { costs, weights, ratio: weights && criticalRatio(weights), costOfWaste, costOfRunningOut };
}

function runOutOf(asked: Asked, stated: RunOutCostRow | null, over: Fraction | null): Fraction | null {
  if (asked.runOutCostMinor !== undefined) return new Fraction(asked.runOutCostMinor);
  if (typeof stated?.costMinor === 'number') return new Fraction(BigInt(stated.costMinor), BigInt(stated.perQuantity));
  if (typeof stated?.ratioPercent === 'number' && over) return over.mul(BigInt(stated.ratioPercent)).div(HUNDRED);
  return null;
}

function runOutText(asked: Asked, stated: RunOutCostRow | null): string {
  if (asked.runOutCostMinor !== undefined) return 'As you gave it.';
  if (!stated) return 'Nobody has stated it: state it, or give it with the question.';
  const whose = `${stated.itemId ? 'this item' : 'every item'} ${stated.siteId ? 'at this site' : 'at every site'}`;
  const how = stated.ratioPercent === null ? '' : ` as ${stated.ratioPercent} % of what a unit costs`;
  return `As stated for ${whose}${how}.`;
}
