/** What a set of lots is worth at purchase prices. Refusals: none; beyond the bound the answer is null. */
import Fraction from 'fraction.js';
import { roundHalfAwayFromZero } from '../../domain/exact.ts';
import { minorUnits } from '../../domain/purchase-value.ts';
import type { Tx } from '../../platform/db/db.ts';
import { loadFlow, type FlowLot, type StandKind } from './flows.ts';
import type { ScopeValueAnswer } from './shapes-value.ts';
import { getCurrency } from '../identity/index.ts';
import { listWithAncestors } from '../ledger/index.ts';

/** The lots and everything before them; a trace walks as many. */
const MOST_VALUED_LOTS = 20_000;

const KINDS: readonly StandKind[] = ['place', 'transit', 'in-process', 'served', 'waste', 'variance'];

/** What is said wherever a value is shown. */
export const VALUE_ASSUMPTIONS: readonly string[] = [
  'Purchase prices only: no labour, energy, packaging without a price, transport or disposal.',
  'The price of a delivery line belongs to the quantity that was taken in; what went back to the supplier is not counted.',
  'What came out of a batch shares the worth of what went in by mass.',
  'Items that are not kept by lot, such as water, are worth nothing here.',
];

/**
 * @param lotIds the scope, each lot once
 * @returns null when the scope and what went into it are more than MOST_VALUED_LOTS lots
 */
export async function valueOf(tx: Tx, lotIds: readonly string[]): Promise<ScopeValueAnswer | null> {
  if (lotIds.length > MOST_VALUED_LOTS) return null;
  const all = await listWithAncestors(tx, lotIds, MOST_VALUED_LOTS + 1);
  if (all.length > MOST_VALUED_LOTS) return null;
  const flow = await loadFlow(tx, all, new Set(lotIds));
  const stands = lotIds.flatMap((lotId) => flow.lots.get(lotId)?.stands ?? []);
  const fines = KINDS.map((kind) => stands.reduce((sum, stand) => (stand.kind === kind ? sum + stand.fine : sum), 0n));
  const [place = 0, transit = 0, inProcess = 0, served = 0, waste = 0, variance = 0] = minorUnits(fines);
  const unpricedMg = stands.reduce((sum, stand) => sum + stand.unpricedMg, 0n);
  const unpriced = [...flow.lots.values()].filter(isUnpriced);
  return {
    currency: await getCurrency(tx),
    onHandMinor: place,
    inTransitMinor: transit,
    inProcessMinor: inProcess,
    servedMinor: served,
    wastedMinor: waste,
    unexplainedMinor: variance,
    totalMinor: place + transit + inProcess + served + waste + variance,
    unpricedMassG: Number(roundHalfAwayFromZero(new Fraction(unpricedMg, 1000n))),
    unpricedLotCount: unpriced.length,
    unpricedLots: unpriced.slice(0, 50).map(({ lotId, code, itemName, quantity, unit }) => {
      return { lotId, lotCode: code, itemName, quantity, unit };
    }),
    assumptions: [...VALUE_ASSUMPTIONS],
  };
}

function isUnpriced(lot: FlowLot): boolean {
  if (lot.priceMinor !== null || (lot.origin === 'pseudo' && !lot.lotTracked)) return false;
  return lot.origin === 'supplied' || lot.origin === 'opening' || lot.origin === 'pseudo';
}
