/**
 * Announced amounts in the unit of the item, and what came against what was announced. Pure. Codes of units are UN/ECE Recommendation 20
 * (from memory: KGM kilogram, GRM gram, MGM milligram, LTR litre, MLT millilitre, H87 piece, EA each, C62 one).
 *
 * Nothing is guessed: a case is not so many grams because it usually is, and litres are not kilograms.
 */

/** So many of the item's unit in one of the announced one. */
const FACTORS: Readonly<Record<string, Readonly<Record<string, number>>>> = {
  mg: { KGM: 1_000_000, GRM: 1_000, MGM: 1 },
  g: { KGM: 1_000, GRM: 1, MGM: 0.001 },
  ml: { LTR: 1_000, MLT: 1 },
  piece: { H87: 1, EA: 1, C62: 1 },
};
const MOST = 1_000_000_000_000;

export interface Amount {
  /** whole, in the item's unit; null when it cannot be said */
  readonly quantity: number | null;
  readonly note: string | null;
}

/** @param uom null: so many of the article itself */
export function amountInUnit(quantity: number | null, uom: string | null, unit: string): Amount {
  if (quantity === null) return { quantity: null, note: 'No quantity was announced.' };
  const factor = uom === null ? (unit === 'piece' ? 1 : undefined) : FACTORS[unit]?.[uom];
  if (factor === undefined) {
    const said = uom === null ? `${quantity} of the article` : `${quantity} ${uom}`;
    return { quantity: null, note: `${said} cannot be said in ${unit}; weigh or count it on arrival.` };
  }
  // Decimal fractions such as 12.345 kg are not exact in binary; a millionth of a unit is.
  const exact = Number((quantity * factor).toFixed(6));
  const whole = Math.round(exact);
  if (whole < 1 || whole > MOST)
    return { quantity: null, note: `${quantity} ${uom ?? ''} is no amount that can be received.` };
  return { quantity: whole, note: whole === exact ? null : `${exact} ${unit} was rounded to ${whole}.` };
}

export interface ComparedLine {
  readonly itemId: string;
  readonly itemName: string;
  readonly unit: string;
  readonly lotCode: string | null;
  /** null: announced without an amount that can be said in the item's unit */
  readonly quantity: number | null;
  readonly useByDate: string | null;
}

export interface Difference {
  readonly kind: 'short' | 'over' | 'not-received' | 'not-announced' | 'amount-not-announced' | 'use-by-differs';
  readonly itemId: string;
  readonly itemName: string;
  readonly supplierLotCode: string | null;
  readonly unit: string;
  readonly announcedQuantity: number | null;
  readonly receivedQuantity: number;
  readonly announcedUseByDate: string | null;
  readonly receivedUseByDate: string | null;
}

interface Sum {
  readonly line: ComparedLine;
  quantity: number | null;
}

function summed(lines: readonly ComparedLine[]): Map<string, Sum> {
  const sums = new Map<string, Sum>();
  for (const line of lines) {
    const key = JSON.stringify([line.itemId, line.lotCode]);
    const known = sums.get(key);
    if (!known) sums.set(key, { line, quantity: line.quantity });
    else known.quantity = known.quantity === null || line.quantity === null ? null : known.quantity + line.quantity;
  }
  return sums;
}

/**
 * By item and supplier's lot. What was refused at the door counts as received: it did come.
 * @param received quantities are never null
 */
export function differencesOf(announced: readonly ComparedLine[], received: readonly ComparedLine[]): Difference[] {
  const said = summed(announced);
  const came = summed(received);
  const found: Difference[] = [];
  for (const key of new Set([...said.keys(), ...came.keys()])) {
    const one = said.get(key);
    const other = came.get(key);
    const line = (one ?? other)?.line;
    if (!line) continue;
    const receivedQuantity = other?.quantity ?? 0;
    const difference = (kind: Difference['kind']): Difference => ({
      kind,
      itemId: line.itemId,
      itemName: line.itemName,
      supplierLotCode: line.lotCode,
      unit: line.unit,
      announcedQuantity: one?.quantity ?? null,
      receivedQuantity,
      announcedUseByDate: one?.line.useByDate ?? null,
      receivedUseByDate: other?.line.useByDate ?? null,
    });
    if (!one) found.push(difference('not-announced'));
    else if (!other) found.push(difference('not-received'));
    else if (one.quantity === null) found.push(difference('amount-not-announced'));
    else if (receivedQuantity !== one.quantity)
      found.push(difference(receivedQuantity < one.quantity ? 'short' : 'over'));
    if (one?.line.useByDate && other && other.line.useByDate !== one.line.useByDate)
      found.push(difference('use-by-differs'));
  }
  return found;
}
