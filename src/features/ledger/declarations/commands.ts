/** Which way each allergen of a lot came in. Refusals: `not-found`. */
import { allergenGraph, waysIn, type AllergenLot } from '../../../domain/allergen-paths.ts';
import { leftUnsaid, unionAllergens } from '../../../domain/allergens.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { getVisibleLot } from '../commands-read.ts';
import { MOST_WAYS, type getAllergenPaths } from './contract.ts';
import { MOST_LOTS } from './judge.ts';
import { listAllergenLots, listEdgesAmong, type WayLot } from './store.ts';

const ASSUMPTIONS = [
  'Allergens are those of the lots and items as entered; what nobody declared is not found here.',
  'Cleaning of machines is not part of it: what may have been left behind by other food is a finding of its own.',
];

export async function readAllergenPaths(context: Context<typeof getAllergenPaths>): Promise<Reply> {
  const { tx, scope, params } = context;
  const lot = await getVisibleLot(tx, scope, params.lotId);
  const lots = await listAllergenLots(tx, [lot.lotId], MOST_LOTS);
  const edges = await listEdgesAmong(
    tx,
    lots.map((one) => one.lotId),
  );
  const graph = allergenGraph(lots, edges);
  const rows = new Map(lots.map((one) => [one.lotId, one]));
  const stop = ({ lotId, code }: AllergenLot) => ({ lotId, lotCode: code, itemName: rows.get(lotId)?.itemName ?? '' });
  const declared = rows.get(lot.lotId)?.declared ?? [];
  const undeclared = leftUnsaid(declared, lot.allergens);
  const paths = unionAllergens([lot.allergens]).map((allergen) => {
    const ways = waysIn(graph, lot.lotId, allergen);
    return {
      allergen,
      declaredByItem: !undeclared.includes(allergen),
      ways: ways.slice(0, MOST_WAYS).map((way) => ({
        lots: way.map(stop),
        because: because(rows.get(way.at(-1)?.lotId ?? ''), allergen),
      })),
      furtherWays: Math.max(0, ways.length - MOST_WAYS),
    };
  });
  return {
    status: 200,
    body: {
      lotId: lot.lotId,
      lotCode: lot.code,
      itemId: lot.itemId,
      itemName: lot.itemName,
      allergens: unionAllergens([lot.allergens]),
      declaredByItem: unionAllergens([declared]),
      undeclared,
      paths,
      complete: lots.length < MOST_LOTS,
      assumptions: ASSUMPTIONS,
    },
  };
}

function because(lot: WayLot | undefined, allergen: string): 'item' | 'birth' | 'later' {
  if (lot?.declared.includes(allergen)) return 'item';
  return lot?.bornWith.includes(allergen) ? 'birth' : 'later';
}
