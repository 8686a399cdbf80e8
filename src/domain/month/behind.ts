/**
 * What the ledger lines behind a number come to: exactly, and as the report prints it. The two differ by less than one gram or minor unit a
 * row, because each row is rounded so that it adds up.
 *
 * Refusals: none.
 */
import { exactJson, roundedQuotient, type ExactJson } from '../exact.ts';
import Fraction from 'fraction.js';
import { lineOf, type Line } from './lines.ts';
import { FINE_PER_MINOR, inGrams, inMoney, together } from './printed.ts';
import type { LateFlow } from './late.ts';
import { placeOf, type Tally, type Amount } from './tally.ts';

export interface Behind {
  /** null: items of several units, which do not add up */
  readonly quantity: number | null;
  readonly grams: number;
  readonly valueMinor: number;
  readonly exactGrams: ExactJson;
  readonly exactMinor: ExactJson;
}

interface Sum {
  quantity: number;
  fine: bigint;
  readonly masses: Map<bigint, bigint[]>;
}

function add(
  sum: Sum,
  { quantity, fine, massNumerator, massDenominator }: Omit<Amount, 'uncosted'>,
  sign: number,
): void {
  sum.quantity += sign * quantity;
  sum.fine += BigInt(sign) * fine;
  const [known = 0n] = sum.masses.get(massDenominator) ?? [];
  sum.masses.set(massDenominator, [known + BigInt(sign) * massNumerator]);
}

export interface Wanted {
  /** null: every line, in less out */
  readonly line: Line | null;
  /** null: wherever */
  readonly at: string | null;
  /** the rest of the filter */
  readonly fits: (flow: LateFlow, inside: string) => boolean;
}

/** Of flows of the months asked for. Opening and closing are not among them: see `standing`. */
function sumFlows(flows: readonly LateFlow[], isIn: (book: string) => boolean, wanted: Wanted): Sum {
  const sum: Sum = { quantity: 0, fine: 0n, masses: new Map() };
  for (const flow of flows) {
    if (flow.bucket !== 'in') continue;
    const [from, to] = [flow.from.book, flow.to.book];
    const goes = from !== null && isIn(from);
    const comes = to !== null && isIn(to);
    const inside = comes ? to : from;
    if (comes === goes || inside === null || (wanted.at !== null && wanted.at !== inside)) continue;
    const { line, sign } = lineOf(flow, comes);
    if ((wanted.line !== null && wanted.line !== line) || !wanted.fits(flow, inside)) continue;
    add(sum, flow, wanted.line === null ? (comes ? 1 : -1) : sign);
  }
  return sum;
}

/** What stands at one end of the months asked for, in some items. */
function standing(tallies: readonly Tally[], line: 'opening' | 'closing'): Sum {
  const sum: Sum = { quantity: 0, fine: 0n, masses: new Map() };
  const at = placeOf(line);
  for (const tally of tallies) {
    sum.quantity += tally.quantities[at] ?? 0;
    sum.fine += tally.fines[at] ?? 0n;
    for (const [denominator, values] of tally.masses) {
      const [known = 0n] = sum.masses.get(denominator) ?? [];
      sum.masses.set(denominator, [known + (values[at] ?? 0n)]);
    }
  }
  return sum;
}

/** As one row prints a line of itself, or all that came in less all that went out. */
export function printedOf(tally: Tally, line: Line | null): Pick<Behind, 'grams' | 'valueMinor'> {
  const [grams, money] = [inGrams(tally), inMoney(tally, 0n)];
  if (line !== null) return { grams: 0 + grams[line], valueMinor: 0 + money[line] };
  return { grams: grams.closing - grams.opening, valueMinor: money.closing - money.opening };
}

/**
 * @param printed the number that the report prints for just this filter; null: it prints none, and each sum is rounded by itself
 * @param oneUnit false: the items are of several units
 */
export function behind(
  flows: readonly LateFlow[],
  tallies: readonly Tally[],
  isIn: (book: string) => boolean,
  wanted: Wanted,
  { printed, oneUnit }: { printed: Pick<Behind, 'grams' | 'valueMinor'> | null; oneUnit: boolean },
): Behind {
  const ends = wanted.line === 'opening' || wanted.line === 'closing';
  const sum = ends ? standing(tallies, wanted.line) : sumFlows(flows, isIn, wanted);
  const { numerators, denominator } = together(sum.masses, 1);
  const mass = numerators[0] ?? 0n;
  return {
    quantity: oneUnit ? sum.quantity : null,
    grams: printed?.grams ?? Number(roundedQuotient(mass, denominator * 1000n)),
    valueMinor: printed?.valueMinor ?? Number(roundedQuotient(sum.fine, FINE_PER_MINOR)),
    exactGrams: exactJson(new Fraction(mass, denominator * 1000n)),
    exactMinor: exactJson(new Fraction(sum.fine, FINE_PER_MINOR)),
  };
}
