/** What a unit left over costs: the mean unit cost of the lots that were served or opened, by how much of each. Refusals: none. */
import Fraction from 'fraction.js';
import type { Tx } from '../../../platform/db/db.ts';
import type { Cut } from '../../ledger/index.ts';
import { findUnitCosts, FINE_PER_MINOR, loadCosts } from '../costs/index.ts';
import type { UnitCost } from './prices.ts';
import { listUsedLots, type Span } from './queries.ts';

const lotsText = (count: number): string => (count === 1 ? '1 lot' : `${count} lots`);

/** Lots whose cost is not wholly known are left out, and that is said; when none is left there is no cost. */
export async function unitCostOf(tx: Tx, cut: Cut, span: Span): Promise<UnitCost> {
  const used = await listUsedLots(tx, span);
  const costs = await findUnitCosts(
    tx,
    await loadCosts(tx, cut),
    used.map((lot) => lot.lotId),
  );
  let fine = 0n;
  let quantity = 0n;
  let known = 0;
  for (const lot of used) {
    const cost = costs.get(lot.lotId);
    if (!cost || cost.uncosted) continue;
    fine += cost.unitFine * BigInt(lot.quantity);
    quantity += BigInt(lot.quantity);
    known += 1;
  }
  if (quantity === 0n) {
    return {
      perUnit: null,
      text: `What it cost is not known of any of the ${lotsText(used.length)} used: give it with the question.`,
    };
  }
  const left = used.length === known ? '' : `; ${lotsText(used.length - known)} without a full price are left out`;
  return {
    perUnit: new Fraction(fine, quantity * FINE_PER_MINOR),
    text: `What a unit cost, averaged over ${lotsText(known)} served in these weeks by how much of each${left}.`,
  };
}
