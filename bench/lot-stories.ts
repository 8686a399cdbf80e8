/**
 * What became of each lot of a made-up year: its balances in every account, as double entry leaves them. A delivery is used up, a
 * load is packed; packs go to a ward by van and are served there, some are wasted or missing. What is from the last days is partly still
 * there or on the road; of the rest, a little is left that nobody counted. Balances
 * of a lot sum to zero. Those of the ward come a day after those of the kitchen, as scans do.
 */
import { PACKED, PRODUCED, SUPPLIED, type LotGraph } from './lot-graph.ts';

export const WARDS = 40;
export const LOTS_A_DAY = 1_096;

/** Where something is: at the kitchen, at ward n, or on the van of that day to ward n. */
export type Stop =
  | { readonly at: 'kitchen'; readonly account: 'supplier' | 'produced' | 'consumed' | 'waste' | 'store' | 'chiller' }
  | {
      readonly at: 'ward';
      readonly ward: number;
      readonly account: 'receiving' | 'chiller' | 'served' | 'waste' | 'variance';
    }
  | { readonly at: 'van'; readonly ward: number; readonly day: number };

interface Standing {
  readonly stop: Stop;
  readonly quantity: number;
}

export interface Story {
  /** at birth, in the unit of the item */
  readonly quantity: number;
  /** given back to the supplier; 0 for nearly all */
  readonly returned: number;
  readonly kitchen: readonly Standing[];
  readonly later: readonly Standing[];
}

const kitchen = (account: Extract<Stop, { at: 'kitchen' }>['account'], quantity: number): Standing => ({
  stop: { at: 'kitchen', account },
  quantity,
});

/** Of the last ten days a good part is left, of everything before it one in a hundred. */
function isLeft(graph: LotGraph, lot: number, some: (of: number) => number): boolean {
  return lot >= graph.lots - 10 * LOTS_A_DAY ? some(100) < 60 : some(100) < 1;
}

/** `taken`: how many lots were made from it */
export function storyOf(graph: LotGraph, lot: number, taken: number, chance: () => number): Story {
  const some = (of: number): number => Math.floor(chance() * of);
  const kind = graph.kinds[lot] ?? SUPPLIED;
  if (kind === PACKED) return packStory(graph, lot, taken, some);
  const quantity = 20_000 + some(40_000) + taken * 1_000;
  const wasted = some(100) < 15 ? some(2_000) : 0;
  const returned = kind === SUPPLIED && some(100) < 2 ? 500 : 0;
  const left = isLeft(graph, lot, some) ? some(5_000) : 0;
  const used = taken === 0 ? 0 : quantity - wasted - returned - left;
  const source = kind === PRODUCED ? 'produced' : 'supplier';
  const rows = [
    kitchen(source, returned - quantity),
    kitchen(kind === PRODUCED ? 'chiller' : 'store', quantity - used - wasted - returned),
  ];
  if (used > 0) rows.push(kitchen('consumed', used));
  if (wasted > 0) rows.push(kitchen('waste', wasted));
  return { quantity, returned, kitchen: rows, later: [] };
}

function packStory(graph: LotGraph, lot: number, taken: number, some: (of: number) => number): Story {
  const quantity = 20 + some(100) + 4 * taken;
  const fresh = isLeft(graph, lot, some);
  const keptBack = fresh ? some(5) : 0;
  const sent = quantity - keptBack - taken;
  const rows = [kitchen('produced', -quantity), kitchen('chiller', keptBack)];
  if (taken > 0) rows.push(kitchen('consumed', taken));
  const ward = some(WARDS);
  const onTheRoad = lot >= graph.lots - LOTS_A_DAY || some(1000) < 2 ? sent : 0;
  const later: Standing[] = [{ stop: { at: 'van', ward, day: Math.floor(lot / LOTS_A_DAY) }, quantity: onTheRoad }];
  if (onTheRoad === 0) {
    const left = fresh ? some(10) : 0;
    const wasted = some(100) < 30 ? some(6) : 0;
    const missing = some(100) < 4 ? 1 : 0;
    const at = (account: Extract<Stop, { at: 'ward' }>['account'], pieces: number): Standing => ({
      stop: { at: 'ward', ward, account },
      quantity: pieces,
    });
    later.push(at('receiving', 0), at('chiller', left), at('served', sent - left - wasted - missing));
    if (wasted > 0) later.push(at('waste', wasted));
    if (missing > 0) later.push(at('variance', missing));
  }
  return { quantity, returned: 0, kitchen: rows, later };
}
