/**
 * How much a conversion gives. What went in weighs exactly its share of its lot; what comes out is that mass in the other item's unit,
 * packs times portions, or what a person counted. What is then left over is shown as unexplained, never spread.
 *
 * Refusals: `portions-do-not-divide` (the mass is no whole number of portions and nobody said how many there are), `rule-broken`
 * (nothing says what a portion is, or more than a lot can be).
 */
import type Fraction from 'fraction.js';
import type { ConversionKind } from './conversions.ts';
import { Refused } from './errors.ts';
import { massOfMg, roundHalfAwayFromZero } from './exact.ts';

type Unit = 'mg' | 'g' | 'ml' | 'piece';

export interface AmountsQuestion {
  readonly kind: ConversionKind;
  /** whole units that go in, above zero */
  readonly quantity: number;
  readonly source: {
    readonly itemId: string;
    readonly unit: Unit;
    /** of the lot at birth */
    readonly lotQuantity: number;
    readonly lotMassMg: number;
    readonly portionsPerUnit: number | null;
  };
  readonly target: {
    readonly itemId: string;
    readonly name: string;
    readonly unit: Unit;
    /** nominal, of one unit */
    readonly unitMassMg: number;
  };
  /** as counted or weighed by a person */
  readonly toQuantity?: number | undefined;
}

export interface Amounts {
  /** whole units of the new lot */
  readonly quantity: number;
  /** of the new lot, whole milligrams */
  readonly massMg: number;
  readonly consumedMg: Fraction;
  /** below zero when more came out than went in */
  readonly unexplainedMg: Fraction;
}

/** What a quantity can say at most. */
const MOST_UNITS = 1e12;

export function amountsOf(question: AmountsQuestion): Amounts {
  const { kind, quantity, source, target, toQuantity } = question;
  const massOf = (units: number) => massOfMg(BigInt(units), BigInt(source.lotQuantity), BigInt(source.lotMassMg));
  const consumedMg = massOf(quantity);
  if (kind === 'portion' && target.unit !== 'piece') {
    const detail = `Portions are counted; ${target.name} is kept in ${target.unit}.`;
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/toItemId' }] });
  }
  if (toQuantity !== undefined) {
    const same = source.itemId === target.itemId;
    const massMg = same ? atLeastOne(massOf(toQuantity)) : toQuantity * target.unitMassMg;
    return { quantity: toQuantity, massMg, consumedMg, unexplainedMg: consumedMg.sub(massMg) };
  }
  const massMg = atLeastOne(consumedMg);
  const given = { massMg, consumedMg, unexplainedMg: consumedMg.sub(massMg) };
  const units = unitsOf(question, consumedMg);
  if (units > MOST_UNITS) throw new Refused('rule-broken', `${units} of ${target.name} is more than a lot can be.`);
  return { quantity: units, ...given };
}

function unitsOf({ kind, quantity, source, target }: AmountsQuestion, consumedMg: Fraction): number {
  if (source.itemId === target.itemId) return quantity;
  const keepsCount = kind === 'freeze' || kind === 'thaw' || kind === 'decant' || kind === 'sample';
  if (keepsCount && source.unit === target.unit) return quantity;
  const units = consumedMg.div(target.unitMassMg);
  if (target.unit !== 'piece') return Math.max(1, Number(roundHalfAwayFromZero(units)));
  if (source.unit === 'piece' && source.portionsPerUnit !== null) return quantity * source.portionsPerUnit;
  if (units.d === 1n && units.n > 0n) return Number(units.n);
  const detail = `${consumedMg.div(1000).toFraction()} g is no whole number of ${target.name}; say how many there are in toQuantity.`;
  throw new Refused('portions-do-not-divide', detail, { errors: [{ detail, pointer: '#/toQuantity' }] });
}

/** Whole milligrams, rounded down: a lot never weighs more than what went into it. */
function atLeastOne(massMg: Fraction): number {
  return Math.max(1, Number(massMg.floor().n));
}
