/**
 * People count in cases, tins, trays and gastronorm sizes; the ledger counts in the item's own unit. What was said becomes the
 * item's unit exactly, or it is refused: half a case of twelve is six, a third of one is not a number of pieces.
 *
 * Refusals: `entry-unit-unknown` (names the units that exist), `rule-broken` (both ways or neither, not whole, too much).
 */
import { Refused } from './errors.ts';

/** What a quantity in the item's unit may be at most; as in the contracts. */
const MOST = 1_000_000_000_000;
/** Entry quantities have at most three decimals. */
const THOUSANDTHS = 1000;

interface EntryUnit {
  readonly code: string;
  /** of the item's own unit, above zero */
  readonly quantity: number;
}

export interface CountedItem {
  readonly name: string;
  readonly unit: string;
  readonly entryUnits: readonly EntryUnit[];
}

/** How a quantity was said: in the item's unit, or in one of its entry units. */
export interface Said {
  readonly quantity?: number | undefined;
  readonly entryUnit?: string | undefined;
  /** at most three decimals */
  readonly entryQuantity?: number | undefined;
}

function broken(detail: string, pointer: string): Refused {
  return new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });
}

/** The entry unit of an item by its code. @throws Refused `entry-unit-unknown` */
export function entryUnitOf(item: CountedItem, code: string, pointer: string): EntryUnit {
  const found = item.entryUnits.find((one) => one.code === code);
  if (found) return found;
  const known = item.entryUnits.map((one) => one.code);
  const detail = `${item.name} is not counted in ${code}, but in ${[item.unit, ...known].join(', ')}.`;
  throw new Refused('entry-unit-unknown', detail, { errors: [{ detail, pointer }], members: { entryUnits: known } });
}

/**
 * So many of an entry unit in whole units of the item.
 * @param entryQuantity not below zero, at most three decimals
 * @throws Refused `rule-broken` when it does not come out whole, or is more than can be recorded
 */
export function fromEntryUnit(item: CountedItem, unit: EntryUnit, entryQuantity: number, pointer: string): number {
  const thousandths = BigInt(Math.round(entryQuantity * THOUSANDTHS)) * BigInt(unit.quantity);
  if (thousandths % BigInt(THOUSANDTHS) !== 0n) {
    throw broken(`${entryQuantity} ${unit.code} of ${unit.quantity} is not a whole number of ${item.unit}.`, pointer);
  }
  const quantity = thousandths / BigInt(THOUSANDTHS);
  if (quantity > BigInt(MOST)) throw broken(`${entryQuantity} ${unit.code} is more than can be recorded.`, pointer);
  return Number(quantity);
}

/**
 * A quantity in the item's unit, said either way.
 * @param pointerOf the place of a field in the request
 */
export function quantitySaid(item: CountedItem, said: Said, pointerOf: (field: string) => string): number {
  const { quantity, entryUnit, entryQuantity } = said;
  if (entryUnit === undefined && entryQuantity === undefined) {
    if (quantity === undefined)
      throw broken('Give quantity and unit, or entryUnit and entryQuantity.', pointerOf('quantity'));
    return quantity;
  }
  if (quantity !== undefined) {
    throw broken('Give quantity and unit, or entryUnit and entryQuantity, not both.', pointerOf('quantity'));
  }
  if (entryUnit === undefined) throw broken('Say in entryUnit what was counted.', pointerOf('entryUnit'));
  if (entryQuantity === undefined) throw broken('Say in entryQuantity how many.', pointerOf('entryQuantity'));
  const unit = entryUnitOf(item, entryUnit, pointerOf('entryUnit'));
  return fromEntryUnit(item, unit, entryQuantity, pointerOf('entryQuantity'));
}
