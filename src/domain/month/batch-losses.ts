/**
 * What was lost inside batches, as the Food Loss and Waste Standard 1.0 (2016) asks: by destination, with parts that are not eaten apart from
 * food. This mass went in as consumed and stands in no stock row. A loss comes to the same whole grams as its batch prints, and what is not
 * eaten is rounded within it. Sums are sums of what is printed.
 *
 * Refusals: none.
 */
import { roundTogether } from '../exact.ts';
import { groupBy } from '../grouping.ts';

const MG_PER_G = 1000n;

export interface BatchLoss {
  readonly siteId: string;
  readonly itemId: string;
  /** trim, cooking-loss, drip-loss, sample, other */
  readonly kind: string;
  /** of the ten; null: not said */
  readonly destination: string | null;
  readonly massMg: number;
  /** of it; null: not said, which counts as food */
  readonly inedibleMassMg: number | null;
  /** the whole loss as its batch prints it */
  readonly printedG: number;
}

export interface BatchLossRow extends Pick<BatchLoss, 'siteId' | 'itemId' | 'kind' | 'destination'> {
  readonly foodG: number;
  readonly inediblePartsG: number;
  readonly batches: number;
}

/** Water that left as steam: no food was lost with it. */
export const leavesAsWater = (kind: string): boolean => kind === 'cooking-loss';

function partsOf({ massMg, inedibleMassMg, printedG }: BatchLoss): { foodG: number; inediblePartsG: number } {
  const inedible = BigInt(inedibleMassMg ?? 0);
  const [food = 0n, parts = 0n] = roundTogether([BigInt(massMg) - inedible, inedible], MG_PER_G, BigInt(printedG));
  return { foodG: Number(food), inediblePartsG: Number(parts) };
}

/** By site, item, kind and destination. @param losses at most one of a kind for each batch */
export function batchLossRows(losses: readonly BatchLoss[]): BatchLossRow[] {
  const keyOf = ({ siteId, itemId, kind, destination }: BatchLoss): string =>
    [siteId, itemId, kind, destination ?? ''].join('|');
  return [...groupBy(losses, keyOf).values()].flatMap((own) => {
    const [first] = own;
    if (!first) return [];
    const { siteId, itemId, kind, destination } = first;
    const parts = own.map(partsOf);
    return {
      siteId,
      itemId,
      kind,
      destination,
      foodG: parts.reduce((sum, one) => sum + one.foodG, 0),
      inediblePartsG: parts.reduce((sum, one) => sum + one.inediblePartsG, 0),
      batches: own.length,
    };
  });
}

export interface LossSum {
  readonly inBatchesFoodG: number;
  readonly inBatchesInediblePartsG: number;
}

/** What stands under a word of the standard. What left as water is in none. */
export function lossSum<R extends Pick<BatchLossRow, 'kind' | 'foodG' | 'inediblePartsG'>>(
  rows: readonly R[],
  belongs: (row: R) => boolean,
): LossSum {
  const own = rows.filter((row) => !leavesAsWater(row.kind) && belongs(row));
  return {
    inBatchesFoodG: own.reduce((sum, row) => sum + row.foodG, 0),
    inBatchesInediblePartsG: own.reduce((sum, row) => sum + row.inediblePartsG, 0),
  };
}
