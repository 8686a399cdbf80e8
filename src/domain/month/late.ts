/**
 * Of a month's lines, what happened in months that were closed when it was recorded. Each says its month and why; nothing is spread.
 * Each figure is rounded by itself: they are parts of lines above, not lines of their own.
 *
 * Refusals: none.
 */
import { roundedQuotient } from '../exact.ts';
import { lineOf, type FlowLine } from './lines.ts';
import { FINE_PER_MINOR, together } from './printed.ts';
import type { Flow } from './tally.ts';

export interface LateFlow extends Flow {
  /** the closed month in which it happened; null: it was recorded in time */
  readonly lateMonth: string | null;
  readonly undoes: boolean;
}

export interface LateRow {
  readonly month: string;
  readonly kind: 'recorded-late' | 'undone' | 'revalued';
  readonly line: FlowLine;
  readonly itemId: string;
  readonly quantity: number;
  readonly grams: number;
  readonly valueMinor: number;
}

/**
 * @param flows that are late; of kind `revalued`, with what the change of price comes to as their money
 */
export function lateRows(
  flows: readonly LateFlow[],
  inScope: (book: string) => boolean,
  kindOf: (flow: LateFlow) => LateRow['kind'],
): LateRow[] {
  interface Sum {
    readonly key: Pick<LateRow, 'month' | 'kind' | 'line' | 'itemId'>;
    quantity: number;
    fine: bigint;
    readonly masses: Map<bigint, bigint[]>;
  }
  const sums = new Map<string, Sum>();
  for (const flow of flows) {
    if (flow.bucket !== 'in' || flow.lateMonth === null) continue;
    const comes = flow.to.book !== null && inScope(flow.to.book);
    const goes = flow.from.book !== null && inScope(flow.from.book);
    if (comes === goes) continue;
    const { line, sign } = lineOf(flow, comes);
    const key = { month: flow.lateMonth, kind: kindOf(flow), line, itemId: flow.itemId };
    const name = [key.month, key.kind, key.line, key.itemId].join('|');
    let sum = sums.get(name);
    if (!sum) sums.set(name, (sum = { key, quantity: 0, fine: 0n, masses: new Map() }));
    sum.quantity += sign * flow.quantity;
    sum.fine += BigInt(sign) * flow.fine;
    const masses = sum.masses.get(flow.massDenominator) ?? [0n];
    sum.masses.set(flow.massDenominator, [(masses[0] ?? 0n) + BigInt(sign) * flow.massNumerator]);
  }
  return [...sums]
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .flatMap(([, { key, quantity, fine, masses }]) => {
      const { numerators, denominator } = together(masses, 1);
      const grams = Number(roundedQuotient(numerators[0] ?? 0n, denominator * 1000n));
      const valueMinor = Number(roundedQuotient(fine, FINE_PER_MINOR));
      return quantity === 0 && fine === 0n ? [] : [{ ...key, quantity, grams, valueMinor }];
    });
}
